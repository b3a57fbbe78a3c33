"""Deals and changes in any order: what may never be wrong afterwards."""

from copy import deepcopy
from dataclasses import replace
from datetime import date

from hypothesis import given

from app.core.dealing.apart import why_apart
from app.core.dealing.positions import positions_of_places
from app.core.plan import make_plan
from app.core.space.dealt import Dealt
from app.core.words import PLACES, WINDOW, CellState, Light, Place
from tests.core.dealing_by_hand import clash
from tests.core.deals import (
    Store,
    check_dealt,
    check_fewest_positions,
    check_fresh_in_one_piece,
    check_rows,
    check_whole_season,
    filled_cells,
)
from tests.core.histories import BY_HAND, CHANGES, DEALS, remove_sowing, sow, steps, stores
from tests.factories import card, container, garden, shelf, sowing

# A Saturday, which is the sowing day of these gardens.
SOWN = date(2027, 4, 24).toordinal()


def do(store, what, a, b, today):
    """Take one step of a history."""
    if what not in DEALS:
        what(store, a, b)
    else:
        first, _ = store.season(make_plan(store.made()))
        days = {"season": None, "range": (first + 7 * a, first + 7 * (a + b)), "day": (first + 3 * b, first + 3 * b)}
        deal_and_check(store, days[what], today)
    check_rows(store)


def deal_and_check(store, days=None, today=0):
    """Deal, and hold what comes of it to all the rules; return plan and deal."""
    before, sown = deepcopy(store), filled_cells(store)
    plan, found, laid = store.deal(days, today=today)
    mine = store.take(plan, found, laid)
    check_rows(store)
    check_dealt(store, plan, mine, found)
    check_fresh_in_one_piece(store, mine, found)
    assert filled_cells(store) == sown
    check_pinned_stays(before, store, plan, mine)
    check_pinned_trays(before, store, plan, mine)
    for tray in set(before.trays) - set(mine):
        now = store.trays[tray].parts()
        emptied = not now or now != before.trays[tray].parts()
        assert emptied or store.trays[tray] == before.trays[tray]
        stays = [[s.key() for s in at.stays if s.tray == tray] for at in (before, store)]
        assert emptied or stays[0] == stays[1]
    if days is None:
        check_whole_season(store, plan)
    return plan, found


def check_pinned_stays(before, store, plan, mine):
    """A pinned tray keeps its position unless that is gone, or another that goes first stands there.

    First go trays that are not dealt, then sown ones where they stand, then pinned ones by their first day.
    """
    positions = positions_of_places(plan.garden.shelves)
    for pin in before.stays:
        now = next((s for s in store.stays if (s.tray, s.place) == (pin.tray, pin.place)), None)
        if not pin.pinned or now is None or now.position == pin.position:
            assert not pin.pinned or now is None or now.pinned
            continue
        assert not now.pinned
        goes_first = [
            other
            for other in store.stays
            if other is not now
            and other.position == pin.position
            and clash(other.days, now.days)
            and (other.tray not in mine or store.trays[other.tray].is_filled() or other.pinned)
        ]
        assert goes_first or pin.position not in positions[PLACES[pin.place]]


def check_pinned_trays(before, store, plan, mine):
    """Whoever is in a pinned tray stays in it, unless it takes no such tray any more, or does not go with the others.

    It goes when its container changes, when it differs from one that stays in what must be alike, or when what
    does not fill whole trays has no room beside those that stay.
    """
    index_of = {sowing: index for index, sowing in enumerate(store.rows)}
    dealt_anew = [tray for tray in before.trays if tray in mine or not store.trays[tray].parts()]
    for tray_id in dealt_anew:
        tray, now = before.trays[tray_id], store.trays[tray_id]
        for owner in tray.parts() if tray.pinned else ():
            if owner in now.parts():
                continue
            lot = index_of[owner]
            wanted, box = (plan.pots, plan.pot_container) if tray.potted else (plan.cells, plan.container)
            capacity = plan.garden.containers[tray.container].cells_per_tray
            others = [index_of[other] for other in now.parts()]
            room = capacity - sum(n for other, n in now.parts().items() if other in tray.parts())
            assert (
                wanted[lot] == 0
                or box[lot] != tray.container
                or any(why_apart(plan, lot, other, potted_on=tray.potted) for other in others)
                or wanted[lot] % capacity > room
                or (wanted[lot] % capacity == 0 and room < capacity)
                or in_other_pinned(before, store, owner, tray_id)
            )


def in_other_pinned(before, store, sowing, tray_id):
    """Return whether a sowing that needs fewer trays than it was in stays in another pinned one."""
    return any(
        tray.pinned and sowing in tray.parts() and sowing in store.trays[other].parts()
        for other, tray in before.trays.items()
        if other != tray_id and tray.potted == before.trays[tray_id].potted
    )


@given(stores(), steps(DEALS, CHANGES, BY_HAND, least=4, most=14))
def test_after_any_history_of_deals_and_changes_everything_is_right(store, history):
    first = int(store.season(make_plan(store.made()))[0])
    deal_and_check(store)
    for number, (what, a, b) in enumerate(history):
        do(store, what, a, b, first + 4 * number)
    deal_and_check(store, today=first)
    again = deepcopy(store)
    _, found = deal_and_check(store, today=first)
    assert not found.is_changed.any()
    assert not len(found.emptied)
    assert store.picture() == again.picture()


@given(stores(), steps(DEALS, CHANGES, most=6))
def test_with_nothing_sown_or_pinned_trays_and_positions_are_the_fewest(store, history):
    deal_and_check(store)
    for what, a, b in history:
        do(store, what, a, b, 0)
    plan, _ = deal_and_check(store)
    # That these are the fewest is shown in test_plan.py, against a search over all packings.
    assert len(plan.trays.group) == len(make_plan(replace(store.made(), dealt=Dealt())).trays.group)
    check_fewest_positions(store, plan)


def test_a_tray_whose_sowings_are_removed_gives_its_position_up():
    rows = [sowing(plants=40), sowing(plants=40, crop=1)]
    store = Store(garden(rows, cards=(card(), card(id=2, name="Cabbage", light=Light.WINDOW))), rows)
    deal_and_check(store)
    (gone,) = {stay.tray for stay in store.stays if stay.place == WINDOW}
    remove_sowing(store, 1, 0)
    assert gone in {stay.tray for stay in store.stays}
    deal_and_check(store)
    assert gone not in {stay.tray for stay in store.stays}
    assert gone in store.trays


def test_cells_kept_for_what_is_sown_in_another_tray_stay_though_the_container_is_now_smaller():
    rows = [sowing(plants=20), sowing(plants=2)]
    store = Store(garden(rows, containers=(container(cells_per_tray=18),)), rows)
    deal_and_check(store)
    whole, shared = sorted(store.trays, key=lambda tray: len(store.trays[tray].parts()))
    assert store.trays[shared].parts().keys() == {1, 2}
    sow(store, whole - 1, 1)
    store.garden = replace(store.garden, containers=(container(cells_per_tray=6),))
    kept = {cell for cell, (owner, _) in store.trays[shared].cells.items() if owner == 1}
    assert len(kept) > 6
    deal_and_check(store)
    assert {cell for cell, (owner, _) in store.trays[shared].cells.items() if owner == 1} == kept
    assert store.trays[shared].parts().keys() == {1}


def two_days(**changes):
    """Return a store of two like sowings of a lamp crop, a fortnight apart, of which the season is dealt."""
    rows = [
        sowing(plants=20, sow_on=SOWN, plant_out=SOWN + 42),
        sowing(plants=20, sow_on=SOWN + 14, plant_out=SOWN + 56),
    ]
    cards = (card(heat=False),)
    store = Store(garden(rows, cards=cards, **changes), rows)
    deal_and_check(store)
    return store


def test_what_goes_to_a_day_that_is_dealt_leaves_the_tray_of_a_day_that_is_not():
    rows = [sowing(plants=10, sow_on=SOWN), sowing(plants=10, sow_on=SOWN)]
    store = Store(garden(rows), rows)
    deal_and_check(store)
    (tray,) = store.trays
    assert store.trays[tray].parts().keys() == {1, 2}
    store.rows[2]["sow_on"] += 7
    deal_and_check(store, (SOWN + 7, SOWN + 7))
    assert [row.parts().keys() for row in store.trays.values()] == [{1}, {2}]


def test_a_tray_that_is_not_dealt_goes_before_a_pin():
    # Both stand one after the other on one position; then the first, pinned there, is to stay two weeks longer.
    store = two_days(shelves=(shelf(Place.LAMP, positions=2),))
    earlier, later = sorted(store.stays, key=lambda stay: stay.begin)
    earlier.pinned, later.position = True, earlier.position
    store.rows[2] |= {"sow_on": SOWN + 42, "plant_out": SOWN + 84}
    deal_and_check(store)
    earlier, later = sorted(store.stays, key=lambda stay: stay.begin)
    assert earlier.position == later.position
    assert earlier.pinned
    store.rows[1]["plant_out"] += 14
    deal_and_check(store, (SOWN, SOWN))
    now, other = sorted(store.stays, key=lambda stay: stay.begin)
    assert other == later
    assert now.position != earlier.position
    assert not now.pinned


def test_what_is_sown_stays_in_its_cells_when_its_crop_is_sown_outside_from_now_on():
    store = two_days()
    sow(store, 0, 1)
    before = filled_cells(store)
    outside = {"start_container": None, "direct_sow_weeks": 1.0}
    store.garden = replace(store.garden, cards=(replace(store.garden.cards[0], **outside),))
    deal_and_check(store)
    assert filled_cells(store) == before != {}
    assert [bool(tray.parts()) for tray in store.trays.values()] == [True, False]


def test_it_stays_too_beside_others_and_takes_room_from_them():
    rows = [sowing(plants=10, sow_on=SOWN), sowing(plants=10, crop=1, sow_on=SOWN), sowing(plants=1, sow_on=SOWN + 7)]
    store = Store(garden(rows, cards=(card(), card(id=2, name="Pepper"))), rows)
    deal_and_check(store)
    assert store.trays[1].parts().keys() == {1, 2}
    for cell, (owner, _) in store.trays[1].cells.items():
        store.trays[1].cells[cell] = (owner, CellState.SOWN if owner == 2 else CellState.EMPTY)
    before = filled_cells(store)
    outside = replace(store.garden.cards[1], start_container=None, direct_sow_weeks=1.0)
    store.garden = replace(store.garden, cards=(store.garden.cards[0], outside))
    for plants in (10, 50, 5):
        store.rows[1]["plants"] = plants
        deal_and_check(store)
        assert filled_cells(store) == before
        _, found = deal_and_check(store)
        assert not found.is_changed.any()
    assert store.trays[1].parts().keys() == {2}


@given(stores())
def test_dealing_day_by_day_comes_to_as_few_trays_and_positions(store):
    season = deepcopy(store)
    deal_and_check(season)
    first, last = store.season(make_plan(store.made()))
    for day in range(first, last + 1) if first else ():
        deal_and_check(store, (day, day))
    deal_and_check(store)
    assert sorted((t.filled, t.container, sorted(t.parts().items())) for t in store.trays.values()) == sorted(
        (t.filled, t.container, sorted(t.parts().items())) for t in season.trays.values()
    )
    check_fewest_positions(store, make_plan(store.made()))
