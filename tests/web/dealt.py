"""A small garden whose trays are dealt, for tests of the pages that show them.

By the dates of tests/web/seasons.py its tomatoes are sown on heat on Saturday 1 May 2027, are up and go under lamps on
Friday 7 May, go out to harden on Saturday 12 June and to the growers on Saturday 19 June. By scipy's binomial law (as
in tests/web/test_week.py) 40 plants take 53 cells, so that each grower's tomatoes take a tray of 72 of their own.
"""

from datetime import date
from types import SimpleNamespace

from app.core.words import Place
from app.services.deal import accept_deal, season_days
from app.services.plan import get_plan
from tests import rows
from tests.conftest import TODAY

SOWN, UP, HARDENS, GONE = date(2027, 5, 1), date(2027, 5, 7), date(2027, 6, 12), date(2027, 6, 19)
GROWERS = ("Ada Brandt", "Ines Moreau", "Tomas Keel")


def tomatoes(session, *, plants=40, lamps=4, dealt=True):
    """Add three growers' tomatoes, and deal them unless told otherwise."""
    rows.garden(session)
    box = rows.container(session)
    made = SimpleNamespace(
        heat=rows.shelf(session, "Heat bench", place=Place.HEAT, levels=1, positions=4).id,
        lamps=rows.shelf(session, "Lamp rack", positions=lamps, ppfd=200.0, hours_per_day=16.0).id,
        frame=rows.shelf(session, "Cold frame", place=Place.HARDENING, levels=1, positions=4).id,
    )
    crop = rows.crop(session, box=box, heat=True)
    made.crop, made.sowings = crop.id, []
    for name in GROWERS:
        grower = rows.grower(session, name)
        made.sowings.append(rows.sowing(session, grower, crop, f"S-{name[0]}", plants=plants).id)
    session.commit()
    if dealt:
        deal(session)
    return made


def deal(session, today=TODAY):
    """Deal the season and commit."""
    first, last = season_days(get_plan(session))
    accept_deal(session, first=first, last=last, today=today)
    session.commit()
