"""Gardens whose places are too small, for levelling: drawn by hypothesis or by a plain draw.

All is invented. Trays are tiny, so that a plant more or less takes another one, and crops are alike, so that their
lots share trays and wait for each other.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from random import Random

import numpy as np
from hypothesis import strategies as st

from app.core.log.entries import HANDED_OUT, HARDENED, LOST, POTTED_ON, SOWN, UP, Log
from app.core.plan import make_plan
from app.core.words import LAMP, PLACES, WINDOW, CellState, Light, Place
from tests.core.deals import Store
from tests.core.gardens import TABLE
from tests.factories import GrowerCard, card, container, garden, shelf, sowing

# A Saturday, which is the hand-out day and the sowing day of these gardens.
PLANT_OUT = date(2027, 6, 12)
LONG_AGO = date(2027, 1, 1).toordinal()
OUTSIDE = dict.fromkeys(("indoor_weeks_min", "indoor_weeks_max", "start_container", "light", "plant_out_weeks"))


@dataclass(frozen=True)
class Size:
    """How large gardens are drawn: the most of each."""

    sowings: tuple[int, int]
    plants: int
    cells: tuple[int, int]
    growers: int
    crops: int
    weeks: int


SMALL = Size(sowings=(2, 6), plants=4, cells=(4, 8), growers=3, crops=3, weeks=2)
MIDDLE = Size(sowings=(10, 30), plants=5, cells=(5, 14), growers=5, crops=4, weeks=2)


class Draw:
    """A draw of whole numbers, and what is made of one; `pick` is given the smallest and the largest."""

    def __init__(self, pick):
        self.pick = pick

    def of(self, *things):
        return things[self.pick(0, len(things) - 1)]

    def once_in(self, n):
        return self.pick(1, n) == n


def draw_garden(draw, size):
    """Return a garden too small for its wishes, of which some trays may be dealt, sown or pinned, some day.

    In its midst something may be written down; the rest has not been sown in time, or waits.
    """
    cards, boxes = draw_cards(draw, size), [container(id=n, cells_per_tray=draw.pick(*size.cells)) for n in (1, 2)]
    rows = [draw_row(draw, size, len(cards)) for _ in range(draw.pick(*size.sowings))]
    growers = tuple(GrowerCard(id=n + 1, name=f"Grower {n}", plot=None) for n in range(size.growers))
    made = garden(
        rows,
        cards=tuple(cards),
        containers=tuple(boxes),
        shelves=draw_shelves(draw),
        growers=growers,
        settings={"survival": draw.of(0.9, 1.0), "spare": draw.of(0.0, 0.1, 0.4)},
    )
    store = Store(too_small(draw, made), rows)
    if draw.once_in(4):
        store.take(*store.deal())
        for tray in store.trays.values():
            what_happens_to(tray, draw)
    return lived(draw, store.made(), draw_today(draw, store.made()))


def lived(draw, made, today):
    """Return a garden on a day, with what may be written down of its sowings by then."""
    plan, rows = make_plan(made), []

    def add(lot, kind, day, count):
        if day <= today:
            rows.append((len(rows) + 1, lot, kind, day, count))

    for lot in np.flatnonzero(plan.cells > 0).tolist():
        on, cells = int(plan.timeline.sow_on[lot]) + draw.of(0, 0, 1, 4), int(plan.cells[lot])
        if on > today or draw.once_in(3):
            continue
        add(lot, SOWN, on, cells)
        up_on, up = on + draw.pick(1, 12), max(1, cells - draw.pick(0, 2))
        if up_on <= today and draw.of(True, False):
            add(lot, UP, up_on, up)
            if plan.timeline.pot_on[lot] and draw.of(True, False):
                add(lot, POTTED_ON, up_on + draw.pick(4, 14), up)
            if draw.once_in(3):
                add(lot, HARDENED, up_on + draw.pick(14, 40), 1)
            if draw.once_in(6):
                add(lot, HANDED_OUT, up_on + draw.pick(14, 50), up)
        elif draw.once_in(6):
            add(lot, LOST, today, cells)
    columns = zip(
        ("ids", "sowing", "kind", "day", "count"), np.array(rows, dtype=np.int64).reshape(-1, 5).T, strict=True
    )
    none = {name: np.zeros(len(rows), dtype=np.int64) for name in ("seeds", "tray", "supersedes")}
    return replace(made, log=Log(**dict(columns), **none), today=today)


def what_happens_to(tray, draw):
    """Sow a dealt tray, pin it, or leave it; pots are only ever pinned."""
    if draw.once_in(4) and not tray.potted:
        tray.cells = {
            cell: (owner, CellState.EMPTY if owner is None else CellState.SOWN)
            for cell, (owner, _) in tray.cells.items()
        }
    elif draw.once_in(4):
        tray.pinned = True


def draw_today(draw, made):
    """Return a day before all sowing in most cases, else one in its midst, rarely one after the season."""
    days = sorted(make_plan(made).timeline.sow_on.tolist())
    return draw.of(*[LONG_AGO] * 6, days[0] + 1, days[-1] - 2, date(2028, 1, 1).toordinal())


def draw_cards(draw, size):
    """Return crop cards, of which some differ little from the first, so that their lots share trays."""
    first = draw_card(draw, 0, size)
    cards = [first]
    for number in range(1, draw.pick(1, size.crops)):
        like = draw.once_in(2) and first.is_started_indoors
        cards.append(draw_alike(draw, first, number) if like else draw_card(draw, number, size))
    return cards


def draw_card(draw, number, size):
    """Return a crop card: window or lamp, heat or not, potted on or not, rarely sown outside."""
    shortest = draw.pick(6, 10) / 2
    is_potted_on = draw.once_in(3)
    has_row = draw.once_in(4)
    made = card(
        id=number + 1,
        name=f"Crop {number}",
        indoor_weeks_min=shortest,
        # Without a whole week the window may hold no sowing day.
        indoor_weeks_max=shortest + draw.of(0.25, 1.0, *range(1, size.weeks + 1)),
        start_container=draw.pick(0, 1),
        pot_on_container=draw.pick(0, 1) if is_potted_on else None,
        pot_on_after_days=draw.pick(5, 12) if is_potted_on else None,
        days_to_maturity=40,
        hardening_days=draw.of(0, 5, 7),
        days_to_emerge=draw.pick(3, 12),
        germ_temp_c=20 if has_row else None,
        emergence=TABLE if has_row else None,
        heat=draw.once_in(2),
        light=draw.of(Light.LAMP, Light.WINDOW, Light.WINDOW, None),
        seeds_per_cell=draw.pick(1, 2),
        plants_per_cell=draw.of(1, 1, 1, 3),
    )
    return replace(made, **OUTSIDE, direct_sow_weeks=0.0, pot_on_container=None) if draw.once_in(12) else made


def draw_alike(draw, first, number):
    """Return a card like another, a little slower or faster."""
    changes = {
        "days_to_emerge": max(2, first.days_to_emerge + draw.pick(-3, 3)),
        "hardening_days": max(0, first.hardening_days + draw.pick(-2, 3)),
        "emergence": None,
    }
    if first.pot_on_after_days is not None:
        changes["pot_on_after_days"] = first.pot_on_after_days + draw.pick(-2, 3)
    return replace(first, id=number + 1, name=f"Crop {number}", **changes)


def draw_row(draw, size, n_cards):
    """Return a sowing; few have a day, a place or fewer plants than wanted by hand."""
    plants = draw.pick(1, size.plants)
    out = PLANT_OUT + timedelta(days=draw.of(0, 0, 0, 7, 7, 3))
    return sowing(
        grower=draw.pick(0, size.growers - 1),
        crop=draw.pick(0, n_cards - 1),
        plants=plants,
        placed=draw.pick(0, plants) if draw.once_in(8) else -1,
        germination=draw.of(0.95, 0.95, 0.6, 1.0),
        priority=draw.pick(1, 3),
        plant_out=out.toordinal(),
        sow_on=(out - timedelta(days=draw.pick(15, 45))).toordinal() if draw.once_in(8) else 0,
        light=draw.of(LAMP, WINDOW) if draw.once_in(6) else -1,
    )


def draw_shelves(draw):
    """Return a shelf of most places, with benches of a stated temperature here and there."""
    bench = (None, None, None, 15, 25)
    return tuple(
        shelf(place, id=number, bench_temp_c=draw.of(*bench))
        for number, place in enumerate(Place, start=1)
        if not draw.once_in(8)
    )


def too_small(draw, made):
    """Return the garden with positions for a part of the trays on the fullest day of each place."""
    needed = make_plan(made).ledger.needed.max(axis=0, initial=0)
    return replace(
        made,
        shelves=tuple(
            replace(shelf, positions=round(needed[PLACES.index(shelf.place)] * draw.of(0.5, 0.6, 0.7, 0.8, 0.9, 1.0)))
            for shelf in made.shelves
        ),
    )


def numbered(number, size=SMALL):
    """Return the garden of a plain draw; the same for a number every time."""
    return draw_garden(Draw(Random(number).randint), size)


def numbered_in_season(number, size=SMALL):
    """Return the same without what is written down, on a day of its season with another log."""
    draw, made = Draw(Random(-1 - number).randint), replace(numbered(number, size), today=0, log=Log())
    times, indoors = make_plan(made).timeline, make_plan(made).light_place >= 0
    if not indoors.any():
        return made
    return lived(draw, made, draw.pick(int(times.sow_on[indoors].min()), int(times.plant_out[indoors].max())))


@st.composite
def drawn(draw):
    """Return a small garden that hypothesis can make smaller where a test fails."""
    return draw_garden(Draw(lambda low, high: draw(st.integers(low, high))), SMALL)


def small_gardens():
    """Return small gardens, two in three by a plain draw: hypothesis by itself keeps to simple ones."""
    numbers = st.integers(0, 999_999)
    return st.one_of(drawn(), numbers.map(numbered), numbers.map(numbered_in_season))
