"""Gardens drawn for the properties: both hemispheres, leap years, 53-week years, windows across New Year.

Frost dates are drawn as dates at 10, 50 and 90 % and every risk is one of these, so that a test knows the date
of each risk without the program. Temperatures are those of the table, for the same reason.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from hypothesis import strategies as st

from app.core.cards import Garden
from app.core.dates.emergence import EmergenceRow
from app.core.words import LAMP, WINDOW, CountedFrom, Hardiness, Light, Place
from tests.factories import card, container, garden, shelf, sowing

# Leap years (2024, 2028), a year with 53 weeks (2026), and the growing years after one (2021, 2027).
SEASONS = (2027, 2024, 2021, 2028, 2026)
RISKS = (0.1, 0.5, 0.9)
# Invented: none at 5 and 35 degrees, not tried at 40.
DAYS_AT = {10: 20, 15: 12, 20: 8, 25: 5, 30: 6}
TABLE = EmergenceRow(entries=((5, 0), *DAYS_AT.items(), (35, 0), (40, None)))
TEMPERATURES = (5, 10, 15, 20, 25, 30, 40)


@dataclass(frozen=True)
class Drawn:
    """A garden, and the frost dates it was made from by risk."""

    garden: Garden
    spring: dict
    autumn: dict


def plain(day):
    """Return a day that every year has."""
    return day + timedelta(days=1) if (day.month, day.day) == (2, 29) else day


def rarely(values, else_value=0):
    """Return one of the values in one case of six."""
    return st.integers(0, 5).flatmap(lambda n: st.just(else_value) if n else values)


def month_days(dates):
    return {round(risk * 100): f"{day:%m-%d}" for risk, day in dates.items()}


@st.composite
def frosts(draw, season, *, southern):
    """Return spring and autumn dates by risk, at least a hundred days apart."""
    earliest = date(season - 1, 10, 20) if southern else date(season, 2, 15)
    middle = earliest + timedelta(days=draw(st.integers(0, 90)))
    first = middle + timedelta(days=draw(st.integers(100, 220)))
    spreads = [timedelta(days=draw(st.integers(2, 20))) for _ in range(4)]
    spring = {0.1: plain(middle + spreads[0]), 0.5: plain(middle), 0.9: plain(middle - spreads[1])}
    autumn = {0.1: plain(first - spreads[2]), 0.5: plain(first), 0.9: plain(first + spreads[3])}
    return spring, autumn


@st.composite
def cards(draw, number, n_containers):
    """Return a crop card: started indoors, potted on or not, or sown outside."""
    halves = st.integers(0, 8).map(lambda n: n / 2)
    is_indoors = draw(st.integers(0, 4)) > 0
    is_potted_on = is_indoors and draw(st.booleans())
    shortest = 1.5 + draw(halves)
    has_row = draw(st.booleans())
    return card(
        id=number + 1,
        name=f"Crop {number}",
        hardiness=draw(st.sampled_from(Hardiness)),
        plant_out_weeks=draw(st.integers(-12, 8)) / 2 if is_indoors else None,
        direct_sow_weeks=draw(st.integers(-12, 8)) / 2 if not is_indoors or draw(st.booleans()) else None,
        indoor_weeks_min=shortest if is_indoors else None,
        indoor_weeks_max=shortest + draw(halves) if is_indoors else None,
        start_container=draw(st.integers(0, n_containers - 1)) if is_indoors else None,
        pot_on_container=draw(st.integers(0, n_containers - 1)) if is_potted_on else None,
        pot_on_after_days=draw(st.integers(5, 25)) if is_potted_on else None,
        days_to_maturity=draw(st.integers(30, 110)),
        counted_from=draw(st.sampled_from(CountedFrom)),
        harvest_days=draw(st.sampled_from((0, 14))),
        hardening_days=draw(st.integers(0, 14)),
        days_to_emerge=draw(st.integers(2, 16)),
        germ_temp_c=draw(st.sampled_from(TEMPERATURES)) if has_row else None,
        heat=draw(st.booleans()),
        light=draw(st.sampled_from((Light.LAMP, Light.WINDOW, None))),
        seeds_per_cell=draw(st.integers(1, 3)),
        plants_per_cell=draw(st.sampled_from((1, 1, 3))),
        emergence=TABLE if has_row else None,
        legal_germination=draw(st.sampled_from((None, 0.55, 0.85))),
    )


@st.composite
def alike(draw, base):
    """Return a crop card that differs little from another, so that their lots may share trays."""
    changes = {"days_to_emerge": max(2, base.days_to_emerge + draw(st.integers(-3, 3))), "emergence": None}
    if base.is_started_indoors:
        changes["hardening_days"] = max(0, base.hardening_days + draw(st.integers(-3, 3)))
    if base.pot_on_container is not None:
        changes["pot_on_after_days"] = max(5, base.pot_on_after_days + draw(st.integers(-3, 3)))
    return replace(base, id=base.id + draw(st.integers(1, 1000)), **changes)


@st.composite
def wishes(draw, n_cards, middle):
    """Return one sowing as a row; most have no dates of their own."""
    days = st.integers(-40, 60).map(lambda n: (middle + timedelta(days=n)).toordinal())
    earlier = st.integers(-110, 0).map(lambda n: (middle + timedelta(days=n)).toordinal())
    return sowing(
        crop=draw(st.integers(0, n_cards - 1)),
        plants=draw(st.integers(1, 40)),
        placed=draw(st.sampled_from((-1, -1, -1, -1, 0, 3))),
        germination=draw(st.sampled_from((0.0, 0.4, 0.95))),
        days_to_maturity=draw(st.sampled_from((0, 0, 65))),
        priority=draw(st.integers(1, 3)),
        plant_out=draw(rarely(days)),
        sow_on=draw(rarely(earlier)),
        risk=draw(rarely(st.sampled_from(RISKS), 0.0)),
        light=draw(rarely(st.sampled_from((LAMP, WINDOW)), -1)),
    )


@st.composite
def gardens(draw, most_sowings=9):
    """Return a garden of up to four cards, three containers, shelves of some places and some sowings."""
    season, southern = draw(st.sampled_from(SEASONS)), draw(st.booleans())
    spring, autumn = draw(frosts(season, southern=southern))
    boxes = [container(id=n + 1, cells_per_tray=draw(st.sampled_from((6, 18, 50, 72)))) for n in range(3)]
    crops = [draw(cards(0, len(boxes)))]
    if draw(st.booleans()):
        crops += [draw(alike(crops[0])) for _ in range(3)]
    else:
        crops += [draw(cards(number, len(boxes))) for number in range(1, draw(st.integers(1, 4)))]
    places = [place for place in Place if draw(st.integers(0, 3))]
    bench = st.sampled_from((None, *TEMPERATURES))
    shelves = [shelf(place, bench_temp_c=draw(bench)) for place in places for _ in range(draw(st.integers(1, 2)))]
    n_sowings = draw(st.sampled_from((most_sowings, 4, 1)))
    rows = [draw(wishes(len(crops), spring[0.5])) for _ in range(n_sowings)]
    settings = {
        "sowing_weekday": draw(st.integers(0, 6)),
        "hand_out_weekday": draw(st.integers(0, 6)),
        "risk": draw(st.sampled_from(RISKS)),
        "autumn_risk": draw(st.sampled_from(RISKS)),
    }
    made = garden(
        rows,
        season=season,
        southern=southern,
        spring=month_days(spring),
        autumn=month_days(autumn),
        settings=settings,
        cards=tuple(crops),
        containers=tuple(boxes),
        shelves=tuple(shelves),
    )
    return Drawn(made, spring, autumn)
