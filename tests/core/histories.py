"""Histories: gardens of which nothing is dealt, and what people do to them between one deal and the next."""

from dataclasses import replace

from hypothesis import strategies as st

from app.core.dealing.positions import positions_of_places
from app.core.plan import make_plan
from app.core.words import PLACES, CellState, Light
from tests.core.dealing_by_hand import clash
from tests.core.deals import Store, filled_cells
from tests.core.gardens import gardens, wishes
from tests.factories import GrowerCard

COLUMNS = ("crop", "plants", "placed", "days_to_maturity", "priority", "plant_out", "sow_on", "light")
CELLS_PER_TRAY = (6, 18, 50, 72)
OUTSIDE = {"start_container": None, "pot_on_container": None, "pot_on_after_days": None, "direct_sow_weeks": 1.0}
INSIDE = {"plant_out_weeks": 1.0, "indoor_weeks_min": 3.0, "indoor_weeks_max": 5.0}


@st.composite
def stores(draw):
    """Return a garden of which nothing is dealt, with three growers and some places that may be over-full."""
    drawn = draw(gardens(most_sowings=8))
    made = drawn.garden
    rows = [
        {name: getattr(made.sowings, name)[n].item() for name in (*COLUMNS, "germination", "risk")}
        | {"grower": draw(st.integers(0, 2)), "variety": None}
        for n in range(len(made.sowings))
    ]
    growers = tuple(GrowerCard(id=n + 1, name=f"Grower {n}", plot=None) for n in range(3))
    shelves = tuple(
        replace(shelf, id=n + 1, name=f"Shelf {n}", positions=draw(st.integers(1, 8)))
        for n, shelf in enumerate(made.shelves)
    )
    store = Store(replace(made, growers=growers, shelves=shelves), rows)
    store.more = [draw(wishes(len(made.cards), drawn.spring[0.5])) for _ in range(2)]
    return store


def of(things, number):
    """Return one of some things, or None of nothing."""
    things = list(things)
    return things[number % len(things)] if things else None


def add_sowing(store, a, b):
    store.rows[max(store.rows) + 1] = {**of(store.more, a), "grower": b % 3}


def remove_sowing(store, a, _):
    """Remove a sowing that is not sown; the cells that were kept for it are free."""
    sown = {sowing for sowing, _, _ in filled_cells(store).values()}
    number = of((row for row in store.rows if row not in sown), a)
    if number is not None and len(store.rows) > 1:
        del store.rows[number]
        for tray in store.trays.values():
            tray.cells |= {cell: (None, CellState.EMPTY) for cell, (owner, _) in tray.cells.items() if owner == number}


def change_plants(store, a, b):
    store.rows[of(store.rows, a)]["plants"] = 1 + 5 * b


def change_date(store, a, b):
    """Plant a sowing out up to three weeks sooner or later."""
    index = a % len(store.rows)
    day = int(make_plan(store.made()).timeline.plant_out[index])
    if day:
        store.rows[of(store.rows, a)]["plant_out"] = day + 4 * (b - 5)


def change_card(store, a, b):
    """Change a crop card: from or to sowing outside, other containers, another place, slower or faster."""
    cards = list(store.garden.cards)
    card, box = of(cards, a), b % len(store.garden.containers)
    if b == 0 or not card.is_started_indoors:
        changes = OUTSIDE if card.is_started_indoors else INSIDE | {"start_container": box}
    else:
        changes = (
            {"start_container": box},
            {"pot_on_container": box, "pot_on_after_days": 10},
            {"pot_on_container": None, "pot_on_after_days": None},
            {"light": (Light.LAMP, Light.WINDOW)[a % 2]},
            {"heat": not card.heat},
            {"days_to_emerge": 2 + a},
        )[b % 6]
    cards[a % len(cards)] = replace(card, **changes)
    store.garden = replace(store.garden, cards=tuple(cards))


def change_container(store, a, b):
    boxes = list(store.garden.containers)
    boxes[a % len(boxes)] = replace(of(boxes, a), cells_per_tray=of(CELLS_PER_TRAY, b))
    store.garden = replace(store.garden, containers=tuple(boxes))


def change_shelf(store, a, b):
    shelves = list(store.garden.shelves)
    if shelves:
        shelves[a % len(shelves)] = replace(of(shelves, a), positions=b)
        store.garden = replace(store.garden, shelves=tuple(shelves))


def sow(store, a, b):
    """Mark a tray as sown, a day sooner or later than planned or as planned."""
    tray = store.trays.get(of(store.trays, a))
    if tray is not None and tray.parts():
        full = CellState.UP if tray.potted else CellState.SOWN
        tray.filled += b % 3 - 1
        tray.cells = {cell: (owner, state if owner is None else full) for cell, (owner, state) in tray.cells.items()}


def pin_tray(store, a, _):
    tray = store.trays.get(of(store.trays, a))
    if tray is not None:
        tray.pinned = not tray.pinned


def pin_stay(store, a, _):
    stay = of((stay for stay in store.stays if stay.position is not None), a)
    if stay is not None:
        stay.pinned = not stay.pinned


def move(store, a, b):
    """Move a tray to a position that is free, or where it waits give it one; it is pinned there."""
    stay = of(store.stays, a)
    if stay is not None:
        place = positions_of_places(store.garden.shelves)[PLACES[stay.place]]
        taken = {other.position for other in store.stays if clash(other.days, stay.days)}
        free = of((position for position in place if position not in taken), b)
        if free is not None:
            stay.position, stay.pinned = free, True


CHANGES = (add_sowing, remove_sowing, change_plants, change_date, change_card, change_container, change_shelf)
BY_HAND = (sow, pin_tray, pin_stay, move)
DEALS = ("season", "range", "day")


def steps(*kinds, least=0, most):
    """Return some steps: a deal's name or what is done, and two numbers that choose to what."""
    number = st.integers(0, 11)
    one = st.one_of(*(st.tuples(st.sampled_from(kind), number, number) for kind in kinds))
    return st.lists(one, min_size=least, max_size=most)
