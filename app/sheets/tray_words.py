"""Trays in words: which cells, where a tray stands, what is in a cell."""

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date

from app.core.space.grid import Cell, row_letters, straight_runs
from app.core.words import CellState, Place
from app.language import N_, _, ngettext, nouns, pgettext
from app.sheets.words import day_words
from app.storage.queries.trays import StayRow

PLACE_WORDS = {
    Place.HEAT: N_("heat"),
    Place.LAMP: N_("lamps"),
    Place.WINDOW: N_("window"),
    Place.HARDENING: N_("hardening"),
}
STATE_WORDS = {
    CellState.EMPTY: N_("not sown yet"),
    CellState.SOWN: N_("sown"),
    CellState.UP: N_("up"),
    CellState.POTTED_ON: N_("potted on"),
    CellState.OUT: N_("planted out"),
    CellState.LOST: N_("lost"),
}
_STATE_COUNTS = {
    CellState.EMPTY: nouns("%(num)s not sown yet", "%(num)s not sown yet"),
    CellState.SOWN: nouns("%(num)s sown", "%(num)s sown"),
    CellState.UP: nouns("%(num)s up", "%(num)s up"),
    CellState.POTTED_ON: nouns("%(num)s potted on", "%(num)s potted on"),
    CellState.OUT: nouns("%(num)s planted out", "%(num)s planted out"),
    CellState.LOST: nouns("%(num)s lost", "%(num)s lost"),
}


def place_words(place: Place) -> str:
    """Return the name of a place as it is said of trays."""
    return _(PLACE_WORDS[place])


def state_words(state: CellState) -> str:
    """Return what is in a cell."""
    return _(STATE_WORDS[state])


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
    if shelf is None:
        return _("waits for a position")
    return _("%(shelf)s, level %(level)s, position %(slot)s", shelf=shelf, level=level, slot=slot)


def position_short(shelf: str | None, level: int | None, slot: int | None) -> str:
    """Return the same for narrow columns: Lamp rack, 2·3."""
    return _("waits") if shelf is None else f"{shelf}, {level}·{slot}"


def how_filled_words(*, is_pots: bool) -> str:
    """Return what was done with a tray on the day on which it was filled."""
    return pgettext("a tray", "potted on") if is_pots else pgettext("a tray", "sown")


def leaving_words(place: Place, *, is_potted_next: bool) -> str:
    """Return what becomes of a tray that leaves its last place: potted on, handed out or out to harden."""
    if is_potted_next:
        return how_filled_words(is_pots=True)
    return pgettext("a tray", "handed out") if place is Place.HARDENING else _("out to harden")


def standing_words(stays: Sequence[StayRow], today: date, *, is_potted_next: bool) -> tuple[str, str]:
    """Return where a tray stands on a day, and when it moves next and where to; empty after it has left.

    Args:
        stays: Its stays, by day.
        today: The day.
        is_potted_next: Whether what is in it is potted on out of it.
    """
    if not stays:
        return _("no place is known"), ""
    now = next((stay for stay in stays if stay.begin_on <= today < stay.end_on), None)
    after = next((stay for stay in stays if stay.begin_on > today), None)
    last = stays[-1]
    if now is None and after is None:
        return _("left on %(day)s", day=day_words(last.end_on)), ""
    stands = _("not filled yet") if now is None else stay_words(now)
    if after is not None:
        return stands, _("%(day)s to %(place)s", day=day_words(after.begin_on), place=stay_words(after))
    return stands, f"{day_words(last.end_on)} {leaving_words(last.place, is_potted_next=is_potted_next)}"


def stay_words(stay: StayRow) -> str:
    """Return the place of a stay and its position: lamps: Lamp rack, level 2, position 3."""
    return _(
        "%(place)s: %(position)s",
        place=place_words(stay.place),
        position=position_words(stay.shelf, stay.level, stay.slot),
    )


def contents_words(states: Sequence[CellState], *, is_pots: bool) -> str:
    """Return how many cells there are, and what is in them: 9 sown, 3 lost.

    Args:
        states: What is in each of them.
        is_pots: Whether they are pots.
    """
    counts = Counter(states)
    if set(counts) == {CellState.EMPTY}:
        if is_pots:
            return ngettext("%(num)s pot, not filled yet", "%(num)s pots, not filled yet", len(states))
        return _count_state(CellState.EMPTY, len(states))
    return ", ".join(_count_state(state, counts[state]) for state in CellState if counts[state])


def _count_state(state: CellState, count: int) -> str:
    one, many = _STATE_COUNTS[state]
    return ngettext(one, many, count)
