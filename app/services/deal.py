"""Dealing trays: showing what a deal would change, and storing it."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.core.calendar import as_date
from app.core.dealing.cells import Cells, lay_out
from app.core.dealing.deal import Deal, One, deal, filled_on
from app.core.space.dealt import NOT_DEALT
from app.core.words import NumberKind
from app.services.plan import get_plan
from app.storage.dealing import DealStore
from app.storage.errors import ClashError
from app.storage.history import note_history
from app.storage.numbers import last_number
from app.storage.queries.dealt import get_dealt_cells, get_dealt_stays
from app.storage.queries.version import get_mark, hold_writes

if TYPE_CHECKING:
    from datetime import date

    from app.core.dealing.placing import DealtStays
    from app.core.plan import Plan
    from app.storage import Session


class StaleDealError(Exception):
    """Something has changed since the deal was shown."""


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """A deal that is not stored yet.

    Attributes:
        plan: The plan that it is made from.
        stays: Where the dealt trays stand.
        deal: What would be stored.
        before: The cells of its trays that were dealt before.
        cells: All cells of its new and changed trays.
        mark: The mark of the data that it is made from.
    """

    plan: "Plan"
    stays: "DealtStays"
    deal: Deal
    before: Cells
    cells: Cells
    mark: str


def propose_deal(session: "Session", *, first: "date", last: "date", today: "date") -> Proposal:
    """Return what dealing the trays that are filled on the days from `first` to `last` would store.

    Args:
        session: Where the garden is.
        first: First day.
        last: Last day.
        today: Sown trays keep the positions on which they stand today.

    Raises:
        NoGardenError: The database holds no garden yet.
    """
    return _propose(session, first, last, today)


def _propose(session: "Session", first: "date", last: "date", today: "date", one: One | None = None) -> Proposal:
    plan = get_plan(session)
    stays = get_dealt_stays(session, plan.garden)
    days = (day.toordinal() for day in (first, last, today))
    given = last_number(session, NumberKind.TRAY)
    dealt = deal(plan, stays, **dict(zip(("first", "last", "today"), days, strict=True)), one=one, given=given)
    stored = dealt.stored[dealt.is_changed]
    before = get_dealt_cells(session, plan.garden, stored[stored != NOT_DEALT])
    return Proposal(
        plan=plan,
        stays=stays,
        deal=dealt,
        before=before,
        cells=lay_out(plan, dealt, before),
        mark=get_mark(session),
    )


def accept_deal(session: "Session", *, first: "date", last: "date", today: "date", mark: str | None = None) -> Proposal:
    """Store a deal, all of it or nothing, and return it.

    Args:
        session: Its transaction takes it all.
        first: First day.
        last: Last day.
        today: Sown trays keep the positions on which they stand today.
        mark: The mark of the proposal that was shown; None to store whatever is right now.

    Raises:
        NoGardenError: The database holds no garden yet.
        StaleDealError: The data is not what the proposal was made from; the transaction is to be rolled back.
    """
    hold_writes(session)
    if mark is not None and mark != get_mark(session):
        raise StaleDealError
    proposal = propose_deal(session, first=first, last=last, today=today)
    _store(session, proposal)
    said = (("first_day", first), ("last_day", last), ("trays", int(proposal.deal.is_changed.sum())))
    note_history(session, "trays", "dealt", changes=[(name, None, value) for name, value in said])
    return proposal


def store_one(session: "Session", one: One, mark: str, *, today: "date") -> None:
    """Store a single tray of the plan.

    Args:
        session: Its transaction takes it all.
        one: The tray, and the number that it is to have.
        mark: The mark of the data in which the plan had this tray.
        today: The day that is taken for today.

    Raises:
        StaleDealError: The data has changed since, or no tray that could be dealt has this index.
    """
    hold_writes(session)
    trays = get_plan(session).trays
    if mark != get_mark(session) or not 0 <= one.tray < len(trays.group) or trays.stored[one.tray] != NOT_DEALT:
        raise StaleDealError
    _store(session, _propose(session, today, today, today, one))
    note_history(session, "tray", "started", subject=str(one.number), changes=[("day", None, today)])


def _store(session: "Session", proposal: Proposal) -> None:
    try:
        DealStore(session, proposal.plan.garden, proposal.stays).store(proposal.deal, proposal.cells)
    except ClashError as error:
        raise StaleDealError from error


def season_days(plan: "Plan") -> "tuple[date, date] | None":
    """Return the first and the last day on which the plan fills a tray or a dealt one was filled; None for none."""
    days = [*filled_on(plan).tolist(), *plan.garden.dealt.filled.tolist()]
    if not days:
        return None
    first, last = as_date(min(days)), as_date(max(days))
    return None if first is None or last is None else (first, last)
