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
    """Return cells as the blocks that they make, each by its first and last cell: A1–F2, A3."""
    blocks: list[tuple[Cell, Cell]] = []
    for first, last in straight_runs(cells):
        at = next((at for at, block in enumerate(blocks) if _goes_on(block, first, last)), None)
        if at is None:
            blocks.append((first, last))
        else:
            blocks[at] = (blocks[at][0], last)
    return ", ".join(
        cell_words(first) if first == last else f"{cell_words(first)}–{cell_words(last)}" for first, last in blocks
    )


def _goes_on(block: tuple[Cell, Cell], first: Cell, last: Cell) -> bool:
    """Tell whether a run beside or below a block makes it a larger block."""
    top, end = block
    below = (first.column, last.column) == (top.column, end.column) and first.row == end.row + 1
    beside = (first.row, last.row) == (top.row, end.row) and first.column == end.column + 1
    return below or beside


def position_words(shelf: str | None, level: int | None, slot: int | None) -> str:
    """Return where a tray stands: Lamp rack, level 2, position 3; a tray without a position waits."""
    return "waits for a position" if shelf is None else f"{shelf}, level {level}, position {slot}"


def position_short(shelf: str | None, level: int | None, slot: int | None) -> str:
    """Return the same for narrow columns: Lamp rack 2·3."""
    return "waits" if shelf is None else f"{shelf} {level}·{slot}"


def leaving_words(place: Place, *, is_potted_next: bool) -> str:
    """Return what becomes of a tray that leaves its last place: potted on, handed out or out to harden."""
    if is_potted_next:
        return "potted on"
    return "handed out" if place is Place.HARDENING else "out to harden"
