"""The demo garden as it stands on its own day: trays dealt, and sown as far as the season has come."""

from datetime import date

from app.services.deal import accept_deal, season_days
from app.services.filled import mark_filled
from app.services.folder import load_demo
from app.services.plan import get_plan
from app.storage import Session
from app.storage.numbers import forget_numbers
from app.storage.queries.trays import list_trays_filled

# The day on which `make demo` shows it, whatever day it is.
DEMO_DAY = date(2027, 4, 10)


def set_up_demo(session: Session, *, replace: bool = False) -> dict[str, int]:
    """Load the demo garden, deal its season, and mark as sown or filled what its own day has behind it.

    Args:
        session: Its transaction takes it all.
        replace: Whether a garden that is there goes.

    Returns:
        The number of rows from each file.

    Raises:
        NotEmptyError: There is a garden, and it is not to be replaced.
    """
    counts = load_demo(session, replace=replace)
    forget_numbers(session)  # the demo is the same every time
    days = season_days(get_plan(session))
    if days is None:  # never: the demo garden sows
        return counts
    first, last = days
    accept_deal(session, first=first, last=last, today=first)
    numbers_of: dict[date, list[int]] = {}
    for tray in list_trays_filled(session, first, DEMO_DAY):
        if tray.sow_on < DEMO_DAY:
            numbers_of.setdefault(tray.sow_on, []).append(tray.number)
    for day, numbers in sorted(numbers_of.items()):
        mark_filled(session, numbers, day, today=DEMO_DAY)
    return counts
