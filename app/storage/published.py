"""The tables that come with the program: days to emergence, legal germination, names of crops and containers."""

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from app.core.dates.emergence import EmergenceRow

SEED_DATA = Path(__file__).resolve().parents[2] / "seed_data"
EMERGENCE_FILE = SEED_DATA / "emergence_days.csv"
GERMINATION_FILE = SEED_DATA / "germination_standards.csv"
NAMES_FILE = SEED_DATA / "names.csv"


@cache
def emergence_rows() -> Mapping[str, EmergenceRow]:
    """Return days to emergence at soil temperatures, by the crop's name in the published table. [d, C]

    Source:
        Harrington and Minges 1954, as printed in Knott's Handbook 1997 (seed_data/SOURCES.md).
    """
    entries: dict[str, list[tuple[float, float | None]]] = {}
    with EMERGENCE_FILE.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            days = {"value": row["days"], "no germination": "0", "not tested": None}[row["status"]]
            entries.setdefault(row["crop"], []).append((float(row["temp_c"]), None if days is None else float(days)))
    return {crop: EmergenceRow(entries=tuple(sorted(pairs))) for crop, pairs in entries.items()}


@cache
def legal_germination() -> Mapping[str, float]:
    """Return the legal minimum germination by kind. [fraction]

    Source:
        7 CFR 201.31 and N.H. Agr 2203.01 (seed_data/SOURCES.md).
    """
    with GERMINATION_FILE.open(encoding="utf-8", newline="") as file:
        return {row["kind"]: float(row["percent"]) / 100 for row in csv.DictReader(file)}


@cache
def names_in(code: str) -> Mapping[str, str]:
    """Return what crops and containers that come with the program are called in a language, by their English names.

    Args:
        code: The language (ISO 639-1); of one that the table has not, there are no names.

    Source:
        From memory, common names (seed_data/SOURCES.md).
    """
    with NAMES_FILE.open(encoding="utf-8", newline="") as file:
        return {row["en"]: row[code] for row in csv.DictReader(file) if code in row}
