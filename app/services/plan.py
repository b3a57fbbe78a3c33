"""The plan of the garden, made again only when something has changed."""

import threading
from dataclasses import dataclass
from datetime import date

from app.core.plan import Plan, make_plan
from app.storage import Session
from app.storage.queries.days import find_today
from app.storage.queries.plan import get_garden
from app.storage.queries.version import get_mark, has_unmarked_changes


@dataclass(frozen=True)
class _Kept:
    mark: str
    today: date | None
    plan: Plan

    def holds(self, mark: str, today: date | None) -> bool:
        return self.mark == mark and self.today == today


class _Keeper:
    """The plan made last in this process, and the lock that lets one thread at a time make the next."""

    kept: _Kept | None = None
    making = threading.Lock()


def get_plan(session: Session) -> Plan:
    """Return the plan of the garden as this session sees it, from the day that is its today.

    A plan that was made from the same data is handed out again, whichever process changed the data:
    the mark that tells is in the database (app.storage.queries.version).

    Raises:
        NoGardenError: The database holds no garden yet.
    """
    if has_unmarked_changes(session):
        return make_plan(get_garden(session))
    mark, today = get_mark(session), find_today(session)
    kept = _Keeper.kept
    if kept is None or not kept.holds(mark, today):
        with _Keeper.making:
            kept = _Keeper.kept
            if kept is None or not kept.holds(mark, today):
                kept = _Keeper.kept = _Kept(mark, today, make_plan(get_garden(session)))
    return kept.plan
