"""Reads the published tables that stand beside the tests; their first lines name source, page and unit."""

import csv
import json
from pathlib import Path

FOLDER = Path(__file__).parent
NAMES = sorted(path.name for path in FOLDER.iterdir() if path.suffix in {".csv", ".json"})


def read_rows(name):
    """Return the rows of a table under its commented first lines."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def read_instances(name):
    """Return the instances of a JSON file."""
    return json.loads((FOLDER / name).read_text(encoding="utf-8"))["instances"]


def read_heads(name):
    """Return which of source, page and unit a file names before its figures."""
    text = (FOLDER / name).read_text(encoding="utf-8")
    if name.endswith(".json"):
        return {key for key, value in json.loads(text).items() if isinstance(value, str) and value}
    return {line[2:].partition(":")[0] for line in text.splitlines() if line.startswith("# ")}
