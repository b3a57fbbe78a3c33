"""Which stay takes which position: against a search over all ways, and by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.dealing import placing
from app.core.space import assignment
from app.core.space.assignment import assign_positions, largest_overlap, without_clashes
from tests.core.dealing_by_hand import clash, fewest_positions, granted, overlap_by_day

NO_STAYS = np.zeros(0, dtype=np.int64)


def ints(values):
    return np.array(list(values), dtype=np.int64)


def or_none(index):
    return None if index < 0 else index


@st.composite
def stays(draw, *, most=7, most_positions=5, pins=True):
    """Return stretches of days with pins, wishes and owners, and the number of positions."""
    n, n_positions = draw(st.integers(0, most)), draw(st.integers(0, most_positions))
    begin = [draw(st.integers(1, 8)) for _ in range(n)]
    any_position = st.sampled_from((-1, *range(n_positions + 1)))  # one of them there is not
    return {
        "begin": ints(begin),
        "end": ints(first + draw(st.integers(1, 6)) for first in begin),
        "n_positions": n_positions,
        "pinned": ints(draw(any_position) if pins and draw(st.booleans()) else -1 for _ in range(n)),
        "wished": ints(draw(any_position) for _ in range(n)),
        "owner": ints(draw(st.integers(0, 2)) for _ in range(n)),
    }


def spans_of(drawn):
    return list(zip(drawn["begin"].tolist(), drawn["end"].tolist(), strict=True))


def pins_of(drawn):
    return granted(spans_of(drawn), [or_none(pin) for pin in drawn["pinned"].tolist()], drawn["n_positions"])


def check_positions(drawn, position):
    """Hold an assignment to what must never be: two trays on one position, or one that there is not."""
    assert all(-1 <= at < drawn["n_positions"] for at in position)
    spans = spans_of(drawn)
    for one in range(len(spans)):
        for other in range(one):
            assert position[one] < 0 or position[one] != position[other] or not clash(spans[one], spans[other])


@given(stays())
def test_small_assignments_are_the_best_of_all_and_known_to_be(drawn):
    found = assign_positions(**drawn)
    check_positions(drawn, found.position.tolist())
    best = fewest_positions(spans_of(drawn), pins_of(drawn), drawn["n_positions"])
    assert found.score == best
    assert found.is_fewest
    assert found.waiting == (found.position < 0).sum()
    assert found.used == len(set(found.position.tolist()) - {-1})


@given(stays())
def test_pins_hold_in_the_order_of_their_days(drawn):
    found = assign_positions(**drawn).position.tolist()
    assert all(pin is None or at == pin for at, pin in zip(found, pins_of(drawn), strict=True))


@given(stays(most=40, most_positions=40, pins=False))
def test_without_pins_as_many_positions_are_used_as_stays_overlap(drawn):
    found = assign_positions(**drawn)
    check_positions(drawn, found.position.tolist())
    overlap = overlap_by_day(spans_of(drawn))
    assert found.overlap == overlap == largest_overlap(drawn["begin"], drawn["end"])
    if overlap <= drawn["n_positions"]:
        assert (found.waiting, found.used) == (0, overlap)
    else:
        assert found.waiting > 0
        assert found.used == drawn["n_positions"]
    assert found.is_fewest


@given(stays(most=40, most_positions=12))
def test_positions_that_stays_had_never_cost_one(drawn):
    nobody = np.full(len(drawn["begin"]), -1)
    assert assign_positions(**drawn).score == assign_positions(**drawn | {"wished": nobody}).score


@given(stays(most=40, most_positions=12))
def test_whoever_has_a_position_keeps_it_when_asked_again(drawn):
    once = assign_positions(**drawn)
    again = assign_positions(**drawn | {"wished": once.position})
    assert again.position.tolist() == once.position.tolist()


@given(stays(most=12, most_positions=6))
def test_wishes_are_granted_beside_what_is_firm(drawn):
    columns = drawn["begin"], drawn["end"]
    firm = without_clashes(*columns, np.full(len(drawn["begin"]), -1), drawn["pinned"], drawn["n_positions"])
    assert [or_none(at) for at in firm.tolist()] == pins_of(drawn)
    kept = without_clashes(*columns, firm, drawn["wished"], drawn["n_positions"])
    assert (kept[firm >= 0] == firm[firm >= 0]).all()
    check_positions(drawn, kept.tolist())
    spans = spans_of(drawn)
    for stay in np.flatnonzero(kept < 0).tolist():
        there = np.flatnonzero(kept == drawn["wished"][stay]).tolist()
        is_wish = 0 <= drawn["wished"][stay] < drawn["n_positions"]
        assert not is_wish or any(clash(spans[stay], spans[other]) for other in there)


def assign(rows, n_positions):
    """Return where stays stand, from rows of (first day, day after the last, pin, position before, owner)."""
    begin, end, pinned, wished, owner = (ints(column) for column in zip(*rows, strict=True))
    return assign_positions(begin, end, n_positions, pinned=pinned, wished=wished, owner=owner)


def test_trays_of_one_owner_are_neighbours():
    # Two growers with three trays each, by turns in the list; all come on one day.
    found = assign([(1, 9, -1, -1, tray % 2) for tray in range(6)], 8).position
    assert sorted(found[::2].tolist()) == [0, 1, 2]
    assert sorted(found[1::2].tolist()) == [3, 4, 5]


def test_a_later_tray_stands_beside_its_owners_first():
    # Positions 0 to 3 are taken by owner 7; 0 and 3 are free again when owner 9, who is at 4, brings another tray.
    rows = [(1, 5, -1, 0, 7), (1, 20, -1, 1, 7), (1, 20, -1, 2, 7), (1, 5, -1, 3, 7), (1, 20, -1, 4, 9)]
    assert assign([*rows, (6, 20, -1, -1, 9)], 6).position.tolist() == [0, 1, 2, 3, 4, 3]


def test_a_pin_in_the_way_costs_a_position():
    # Two trays after one another need one position; with the second pinned elsewhere they take two.
    rows = [(1, 5, 0, -1, 0), (5, 9, -1, -1, 0)]
    assert assign(rows, 3).score == (0, 1)
    assert assign([rows[0], (5, 9, 1, -1, 0)], 3).score == (0, 2)


def test_the_longest_waits_where_one_must():
    found = assign([(1, 30, -1, -1, 0), (2, 5, -1, -1, 0), (5, 9, -1, -1, 0)], 1)
    assert found.position.tolist() == [-1, 0, 0]


def test_nothing_to_assign_takes_no_position():
    found = assign_positions(NO_STAYS, NO_STAYS, 3, pinned=NO_STAYS, wished=NO_STAYS, owner=NO_STAYS)
    assert (found.score, found.overlap, found.is_fewest) == ((0, 0), 0, True)


def test_a_walk_alone_would_not_always_do(monkeypatch):
    # A stay in the gap between two pins fills it, if a shorter one does not take it first.
    asked = []
    solve = assignment._solve
    monkeypatch.setattr(assignment, "_solve", lambda *columns: asked.append(1) or solve(*columns))
    rows = [(1, 2, 0, -1, 0), (8, 9, 0, -1, 0), (1, 3, 1, -1, 0), (6, 9, 1, -1, 0)]
    found = assign([*rows, (3, 5, -1, -1, 0), (4, 6, -1, -1, 0), (2, 4, -1, -1, 0), (6, 8, -1, -1, 0)], 4)
    assert found.score == (0, 2)
    assert found.is_fewest


@given(st.data())
def test_the_pins_that_cost_are_those_without_which_it_is_better(data):
    drawn = data.draw(stays(most=6, most_positions=4))
    n = len(drawn["begin"])
    found, _, use = placing._place(
        placing._Stays(
            tray=np.arange(n),
            place=np.zeros(n, dtype=np.int64),
            begin=drawn["begin"],
            end=drawn["end"],
            number=100 + np.arange(n),
            wished=drawn["pinned"],
            owner=drawn["owner"],
            is_alone=np.zeros(n, dtype=bool),
            stands=np.zeros(n, dtype=bool),
            is_pinned=drawn["pinned"] >= 0,
        ),
        np.arange(n),
        0,
        drawn["n_positions"],
    )
    spans, pins = spans_of(drawn), pins_of(drawn)
    best = fewest_positions(spans, pins, drawn["n_positions"])
    assert (use.waiting, use.used) == best == ((found < 0).sum(), use.used)
    costly = [
        100 + stay
        for stay, pin in enumerate(pins)
        if pin is not None
        and fewest_positions(spans, [*pins[:stay], None, *pins[stay + 1 :]], drawn["n_positions"]) < best
    ]
    assert list(use.costly_pins) == costly


@pytest.mark.parametrize("n", [39, 41])
def test_nobody_asks_which_of_very_many_pins_costs(n):
    # Each pin alone on a position of its own, on days of its own: with one pin less, one position less.
    begin = 1 + 2 * np.arange(n)
    fields = dict.fromkeys(("is_alone", "stands"), np.zeros(n, dtype=bool))
    fields |= {"tray": np.arange(n), "number": np.arange(n) + 1, "owner": np.zeros(n, dtype=np.int64)}
    fields |= {"begin": begin, "end": begin + 1, "wished": np.arange(n), "is_pinned": np.ones(n, dtype=bool)}
    use = placing._place(placing._Stays(place=np.zeros(n, dtype=np.int64), **fields), np.arange(n), 0, n)[2]
    assert len(use.costly_pins) == (n if n <= placing.MOST_JUDGED_PINS else 0)
