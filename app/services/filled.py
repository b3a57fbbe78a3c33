"""Writing down of whole trays that they were sown, or their pots potted into."""

from datetime import date
from typing import TYPE_CHECKING

from app.core.log.rules import LogRuleError, Rule
from app.core.words import CellState, LogKind
from app.services.log import NewEntry, add_entries, take_back
from app.storage.history import note_history
from app.storage.models import Tray
from app.storage.queries.log import list_entries_of_trays
from app.storage.queries.trays import get_cells, get_tray_model
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from collections.abc import Iterable

    from app.storage import Session


class NotYetError(Exception):
    """The day has not come yet."""


def mark_filled(
    session: "Session", numbers: "Iterable[int]", day: date, *, today: date, account_id: int | None = None
) -> None:
    """Write down that trays were sown, or their pots potted into, on a day: from then on they are not dealt anew.

    A tray that was filled in part already keeps its day.

    Args:
        session: Its transaction takes it all.
        numbers: Numbers of the trays.
        day: The day.
        today: The latest day that can be given.
        account_id: Who types it in.

    Raises:
        NotFoundError: There is no such tray.
        NotYetError: The day has not come yet.
        LogRuleError: A sowing's other entries do not go with it.
    """
    hold_writes(session)
    if day > today:
        raise NotYetError
    entries: list[NewEntry] = []
    for number in numbers:
        tray = get_tray_model(session, number)
        empty: dict[int, int] = {}
        for cell in get_cells(session, tray.id):
            if cell.sowing_id is not None and cell.state is CellState.EMPTY:
                empty[cell.sowing_id] = empty.get(cell.sowing_id, 0) + 1
        kind = LogKind.POTTED_ON if tray.potted_on else LogKind.SOWN
        entries.extend(
            NewEntry(sowing_id=sowing, kind=kind, date=day, count=count, tray=number) for sowing, count in empty.items()
        )
    try:
        add_entries(session, entries, today=today, account_id=account_id)
    except LogRuleError as error:
        if error.rule is Rule.NOT_YET:
            raise NotYetError from error
        raise


def unmark_filled(session: "Session", number: int, *, today: date, account_id: int | None = None) -> None:
    """Take back that a tray was sown or potted into, where that was a mistake.

    Raises:
        NotFoundError: There is no such tray.
        LogRuleError: What was written down since would say what cannot be; that is to be taken back first.
    """
    hold_writes(session)
    tray = get_tray_model(session, number)
    kind = LogKind.POTTED_ON if tray.potted_on else LogKind.SOWN
    for entry in list_entries_of_trays(session, [tray.id]):
        if entry.kind is kind and entry.superseded_by is None and entry.number:
            take_back(session, entry.id, today=today, account_id=account_id)
    if _empty_unlogged(session, tray):
        action = "marked as not potted on" if tray.potted_on else "marked as not sown"
        note_history(session, "tray", action, subject=str(number), subject_id=tray.id)
    session.flush()


def _empty_unlogged(session: "Session", tray: Tray) -> bool:
    """Empty the cells that were filled before there was a log of them; say whether there were any."""
    undone = CellState.UP if tray.potted_on else CellState.SOWN
    logged = {entry.sowing_id for entry in list_entries_of_trays(session, [tray.id])}
    left = [cell for cell in get_cells(session, tray.id) if cell.state is undone and cell.sowing_id not in logged]
    for cell in left:
        cell.state = CellState.EMPTY
    return bool(left)
