"""Moving one sowing by hand: showing what that would do, and storing it."""

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

from app.core.calendar import as_date
from app.core.dealing.one_move import Columns, Wish, columns_of, with_columns
from app.core.plan import NO_PLACE, make_plan
from app.core.words import PLACES, Light
from app.services.plan import get_plan
from app.services.sowings import SowingValues, change_sowing
from app.storage.queries.sowings import get_sowing
from app.storage.queries.uses import list_trays_sown_with
from app.storage.queries.version import get_mark, hold_writes

if TYPE_CHECKING:
    from app.core.plan import Plan
    from app.storage import Session
    from app.storage.models import Sowing
    from app.storage.queries.uses import Uses


class SownAlreadyError(Exception):
    """The sowing is sown, so that its day, place and plants are what they are."""

    def __init__(self, trays: "Uses") -> None:
        """Keep the trays in which it is sown."""
        super().__init__(f"It is sown in {trays.count} trays")
        self.trays = trays


class StaleMoveError(Exception):
    """Something has changed since the move was shown."""


@dataclass(frozen=True, kw_only=True)
class Move:
    """A move of one sowing that is not stored yet.

    Attributes:
        sowing: Index of the sowing in both plans.
        columns: What would be written.
        before: The plan as it is.
        after: The plan with the sowing moved.
        mark: The mark of the data that it is made from.
    """

    sowing: int
    columns: Columns
    before: "Plan"
    after: "Plan"
    mark: str


def propose_move(session: "Session", sowing_id: int, wish: Wish) -> Move:
    """Return what moving a sowing would do.

    Args:
        session: Where the garden is.
        sowing_id: Row number of the sowing, of a crop that starts in a container.
        wish: What it is to get.
    """
    before = get_plan(session)
    sowing = before.index_of[sowing_id]
    columns = columns_of(before, sowing, wish)
    return Move(
        sowing=sowing,
        columns=columns,
        before=before,
        after=make_plan(with_columns(before.garden, sowing, columns)),
        mark=get_mark(session),
    )


def move_sowing(session: "Session", sowing_id: int, wish: Wish, *, mark: str) -> "Sowing":
    """Store a move as it was shown.

    Args:
        session: Its transaction takes it all.
        sowing_id: Row number of the sowing.
        wish: What it is to get.
        mark: The mark of the move that was shown.

    Raises:
        NotFoundError: There is no such sowing.
        SownAlreadyError: It is sown by now.
        StaleMoveError: The data is not what the move was made from.
        OutsideWindowError: The day lies outside its window, and other errors as `change_sowing` raises them.
    """
    hold_writes(session)
    sowing = get_sowing(session, sowing_id)
    trays = list_trays_sown_with(session, sowing_id)
    if trays.count:
        raise SownAlreadyError(trays)
    if mark != get_mark(session):
        raise StaleMoveError
    plan = get_plan(session)
    columns = columns_of(plan, plan.index_of[sowing_id], wish)
    values = SowingValues(**{field.name: getattr(sowing, field.name) for field in fields(SowingValues)})
    values = replace(
        values,
        sow_on=as_date(columns.sow_on),
        light=None if columns.light == NO_PLACE else Light(PLACES[columns.light].value),
        placed=None if columns.placed < 0 else columns.placed,
    )
    return change_sowing(session, sowing_id, values)
