"""Trays in words: which cells, where a tray stands, what is in a cell."""

from collections.abc import Iterable

from app.core.grid import Cell, row_letters, straight_runs
from app.core.words import CellState, Place

PLACE_WORDS = {
    Place.HEAT: "heat",
    Place.LAMP: "lamps",
    Place.WINDOW: "window",
    Place.HARDENING: "hardening",
}
STATE_WORDS = {
    CellState.EMPTY: "not sown yet",
    CellState.SOWN: "sown",
    CellState.UP: "up",
    CellState.POTTED_ON: "potted on",
    CellState.OUT: "planted out",
    CellState.LOST: "lost",
}


def cell_words(cell: Cell) -> str:
    """Return the name of a cell: B7."""
    return f"{row_letters(cell.row)}{cell.column}"


def cells_words(cells: Iterable[Cell]) -> str:
    """Return cells as their straight runs: A1–F1, A2–C2."""
    runs = straight_runs(cells)
    return ", ".join(
        cell_words(first) if first == last else f"{cell_words(first)}–{cell_words(last)}" for first, last in runs
    )


def position_words(shelf: str | None, level: int | None, slot: int | None) -> str:
    """Return where a tray stands: Lamp rack, level 2, position 3; a tray without a position waits."""
    return "waits for a position" if shelf is None else f"{shelf}, level {level}, position {slot}"


def position_short(shelf: str | None, level: int | None, slot: int | None) -> str:
    """Return the same for narrow columns: Lamp rack 2·3."""
    return "waits" if shelf is None else f"{shelf} {level}·{slot}"
