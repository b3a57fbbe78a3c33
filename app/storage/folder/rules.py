"""What must hold between the cells of a row, and between the rows of different files."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from app.core.dates.frost import usable_frost
from app.core.dates.record import DailyRecord, find_freezes, require_hemisphere
from app.core.limits import SOWING_YEARS
from app.core.plants.card_rules import card_faults
from app.core.words import FrostSource
from app.storage.folder.columns import WRONG, Values
from app.storage.folder.faults import Faults

# Index of the row, column, and what would be right.
Finding = tuple[int, str, str]
Rule = Callable[[dict[str, list[Any]]], Iterator[Finding]]

# Cells that a default would fill, but that a crop with a start container must say itself.
_INDOORS = {
    "heat": "give one of: yes, no",
    "seeds_per_cell": "give the seeds sown in each cell",
}


def given(*values: object) -> bool:
    """Return whether all values are known and filled in."""
    return all(value is not None and value is not WRONG for value in values)


def _card_is_sound(columns: dict[str, list[Any]]) -> Iterator[Finding]:
    for index, cells in enumerate(zip(*columns.values(), strict=True)):
        for fault in card_faults(dict(zip(columns, cells, strict=True))):
            yield index, fault.column, fault.message


def _tray_is_full(columns: dict[str, list[Any]]) -> Iterator[Finding]:
    names = ("cells_per_tray", "rows", "columns")
    for index, (cells, rows, across) in enumerate(zip(*(columns[name] for name in names), strict=True)):
        if rows is None and across is not None:
            yield index, "rows", "give the rows too, or no columns"
        if rows is not None and across is None:
            yield index, "columns", "give the columns too, or no rows"
        if given(cells, rows, across) and rows * across != cells:
            yield index, "cells_per_tray", f"rows x columns are {rows} x {across} = {rows * across}; make them agree"


def _placed_within_plants(columns: dict[str, list[Any]]) -> Iterator[Finding]:
    for index, (plants, placed) in enumerate(zip(columns["plants"], columns["placed"], strict=True)):
        if placed is not None and given(plants, placed) and placed > plants:
            yield index, "placed", f"give at most the {plants} plants wanted"


_RULES: dict[str, tuple[Rule, ...]] = {
    "containers.csv": (_tray_is_full,),
    "crops.csv": (_card_is_sound,),
    "sowings.csv": (_placed_within_plants,),
}


def check_rows(values: Values, file: str, faults: Faults) -> None:
    """Report the rows of a file whose cells do not fit each other."""
    for rule in _RULES.get(file, ()):
        for index, column, right in rule(values.columns):
            report(values, faults, index, column, right)


def check_indoor_crops(crops: Values, faults: Faults) -> None:
    """Report what a crop with a start container lacks; where a default would stand in, the cell itself is asked."""
    for index, start in enumerate(crops.columns["start_container"]):
        if start is None or start is WRONG:
            continue
        for column, right in _INDOORS.items():
            cells = crops.sheet.columns.get(column)
            if cells is not None and not cells[index].strip():
                report(crops, faults, index, column, f"a crop with a start container needs it; {right}")


def check_sowings(sowings: Values, seed_lots: Values | None, season: int | None, faults: Faults) -> None:
    """Report seed of another crop, and dates that are out of place.

    Args:
        sowings: The sowings.
        seed_lots: The seed lots they refer to, if those can be known.
        season: The growing year, if it can be known.
        faults: Takes the faults.
    """
    if seed_lots is not None:
        _check_seed(sowings, seed_lots, faults)
    if season is not None:
        check_days(sowings, ("plant_out", "sow_on"), season, SOWING_YEARS, faults)


def _check_seed(sowings: Values, seed_lots: Values, faults: Faults) -> None:
    lot_crops = seed_lots.columns["crop"]
    for index, (crop, lot) in enumerate(zip(sowings.columns["crop"], sowings.columns["seed_lot"], strict=True)):
        if lot is None or not given(crop, lot) or lot_crops[lot - 1] in {crop, WRONG}:
            continue
        holds, wanted = seed_lots.sheet.columns["crop"][lot - 1], sowings.sheet.columns["crop"][index]
        report(sowings, faults, index, "seed_lot", f"this seed is {holds}, the sowing is {wanted}")


def check_days(values: Values, columns: tuple[str, ...], season: int, years: int, faults: Faults) -> None:
    """Report dates that are more than some years away from the growing year."""
    right = f"give a date from {season - years} to {season + years}: the garden's season is {season}"
    for column in columns:
        days = values.columns[column]
        far = {day for day in set(days) if given(day) and abs(day.year - season) > years}
        if far:
            for index, day in enumerate(days):
                if day in far:
                    report(values, faults, index, column, right)


def check_record(record: DailyRecord, garden: Mapping[str, Any]) -> None:
    """Raise CoreError where a garden cannot have a record, or not go by it as it is set to.

    Args:
        record: The record.
        garden: Columns of the garden's row, to their values; what is missing is not judged.

    Raises:
        OtherHemisphereError: It is of the other half of the Earth.
        TooFewYearsError: The garden goes by its record, which has too few years.
        NoFrostDateError: The garden goes by its record, in which freezes are too rare.
    """
    if "latitude" not in garden:
        return
    southern = garden["latitude"] < 0
    require_hemisphere(record, southern=southern)
    wanted = ("season", "risk", "autumn_risk", "frost_law", "threshold_c")
    if garden.get("frost_source") is FrostSource.STATION and all(name in garden for name in wanted):
        season, risk, autumn_risk, law, threshold_c = (garden[name] for name in wanted)
        freezes = find_freezes(record, threshold_c, southern=southern)
        usable_frost(freezes, law, season=season, risk=risk, autumn_risk=autumn_risk)


def report(values: Values, faults: Faults, index: int, column: str, right: str) -> None:
    """Report a cell, unless its row has too many or too few."""
    if index not in values.sheet.broken:
        faults.add(values.fault(index, column, right))
