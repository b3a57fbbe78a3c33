"""What an entry may say, against a tray that is played through in plain Python.

The tray knows each cell, seedling, pot and plant, and what can physically happen to them; it knows nothing of the
rules. Somebody writes down what happens in it, as carefully as the pages ask: the first seedlings on the day on which
they are seen, and a new count once more came up than was counted last, before anything else is written down. No such
story may be refused, whatever else is forgotten; and beside any story, what cannot have happened is refused.
"""

from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.log.entries import HANDED_OUT, KINDS, LOST, PLANTED_OUT, POTTED_ON, SOWN, THINNED, UP, Log
from app.core.log.rules import LogRuleError, OfSowing, Rule, check_entry, with_entry
from app.core.log.state import logged_of
from tests.lengths import TIMES

FIRST_DAY = 740_000
ROOM = 12


@dataclass
class Cell:
    """A cell of the tray: how many may still come up, and the seedlings that stand in it."""

    seeds: int
    seedlings: int = 0


@dataclass
class Bench:
    """One sowing on its bench, and the log of it.

    Attributes:
        per_cell: Seeds sown in a cell by the card.
        stay: Plants that a cell is to hold.
        counts: Whether anybody ever counts seedlings.
        forgets: Kinds of entries that nobody writes down.
    """

    per_cell: int
    stay: int
    counts: bool
    forgets: frozenset
    day: int = FIRST_DAY
    cells: list = field(default_factory=list)
    pots: int = 0
    in_hand: int = 0
    was_seen: int = 0
    rows: list = field(default_factory=list)

    @property
    def in_cells(self):
        return sum(cell.seedlings for cell in self.cells)

    @property
    def with_seedlings(self):
        return sum(cell.seedlings > 0 for cell in self.cells)

    def write(self, kind, count, seeds=0):
        if count and (kind in {SOWN, UP} or kind not in self.forgets):
            self.rows.append((kind, self.day, count, seeds, 0))

    def sow(self, n, extra):
        """Fill cells, with more seeds than the card has where they were counted.

        Where a cell is to hold more plants than seeds, a seed is a cluster that gives several.
        """
        n = min(n, ROOM - len(self.cells))
        self.cells += [Cell(max(self.per_cell + extra, self.stay)) for _ in range(n)]
        self.write(SOWN, n, n * (self.per_cell + extra) if extra else 0)

    def come_up(self, n, _):
        """Let seeds come up overnight."""
        self.day += 1
        for cell in self.cells:
            grown = min(n, cell.seeds)
            n, cell.seeds, cell.seedlings = n - grown, cell.seeds - grown, cell.seedlings + grown

    def look(self, *_):
        """Count the cells with a seedling, where anybody counts."""
        if self.counts and self.with_seedlings:
            self.write(UP, self.with_seedlings)
            self.was_seen = self.in_cells

    def count_first(self):
        """Count anew, if more is there than when it was counted last."""
        if self.counts and self.with_seedlings and self.in_cells > self.was_seen:
            self.look()

    def take(self, n):
        """Take seedlings out of cells, and return how many there were."""
        taken = 0
        for cell in self.cells:
            some = min(n - taken, cell.seedlings)
            cell.seedlings -= some
            taken += some
        self.was_seen = min(self.was_seen, self.in_cells)
        return taken

    def is_counted(self):
        return any(kind in {UP, POTTED_ON} for kind, *_ in self.rows)

    def lose(self, n, _):
        """Lose cells while nothing was counted, and plants from then on."""
        if self.is_counted():
            self.count_first()
            from_pots = min(n, self.pots)
            self.pots -= from_pots
            self.write(LOST, from_pots + self.take(n - from_pots))
        elif not self.counts or not self.with_seedlings:
            lost = [cell for cell in self.cells if cell.seeds or cell.seedlings][:n]
            for cell in lost:
                cell.seeds = cell.seedlings = 0
            self.write(LOST, len(lost))

    def thin(self, *_):
        if self.in_cells:
            self.count_first()
            for cell in self.cells:
                cell.seedlings = min(cell.seedlings, self.stay)
            self.was_seen = min(self.was_seen, self.in_cells)
            self.write(THINNED, self.in_cells)

    def pot_on(self, n, _):
        if self.in_cells:
            self.count_first()
            n = self.take(n)
            self.pots += n
            self.write(POTTED_ON, n)

    def hand_out(self, n, of_pots):
        if self.in_cells or self.pots:
            self.count_first()
            n_pots = min(n, self.pots) if of_pots else 0
            self.pots -= n_pots
            n = n_pots + self.take(n - n_pots)
            self.in_hand += n
            self.write(HANDED_OUT, n)

    def plant_out(self, n, _):
        n = min(n, self.in_hand)
        self.in_hand -= n
        self.write(PLANTED_OUT, n)

    def wait(self, n, _):
        self.day += n


STEPS = ("sow", "come_up", "come_up", "look", "lose", "thin", "pot_on", "hand_out", "plant_out", "wait", "wait", "wait")
stories = st.lists(
    st.tuples(st.sampled_from(STEPS), st.sampled_from((1, 2, 3, 5, 9, 40)), st.integers(0, 2)), min_size=1, max_size=25
)


@st.composite
def benches(draw):
    forgets = draw(st.frozensets(st.sampled_from((LOST, THINNED, HANDED_OUT, PLANTED_OUT, POTTED_ON))))
    return Bench(draw(st.integers(1, 3)), draw(st.sampled_from((1, 1, 3))), draw(st.booleans()), forgets)


def checked(bench, rows, n_before=0):
    """Write rows down one by one, as a page does; raise what is refused."""
    log = Log()
    of = OfSowing(seeds_per_cell=bench.per_cell, plants_per_cell=bench.stay)
    for number, (kind, day, count, seeds, tray) in enumerate(rows, start=1):
        log, at = with_entry(
            log, sowing=0, kind=kind, day=day, count=count, seeds=seeds, tray=tray, supersedes=0
        )  # fmt: skip
        log.ids[at] = number
        if number > n_before:
            check_entry(log, at, of, today=bench.day + 100, season_begins=FIRST_DAY - 100)
    return log


def play(bench, story):
    for name, n, extra in story:
        getattr(bench, name)(n, extra)


@settings(max_examples=400 * TIMES, deadline=None)
@given(bench=benches(), story=stories)
def test_what_can_happen_is_never_refused(bench, story):
    play(bench, story)
    checked(bench, bench.rows)


@settings(max_examples=200 * TIMES, deadline=None)
@given(bench=benches(), story=stories, data=st.data())
def test_what_can_happen_can_also_be_taken_back_from_the_end(bench, story, data):
    """The last entry of a story, and any row of it for a correction to the same, go with the rest."""
    play(bench, story)
    log = checked(bench, bench.rows)
    if not len(log):
        return
    at = data.draw(st.integers(0, len(log) - 1))
    kind, day, count, seeds, tray = bench.rows[at]
    again, number = with_entry(
        log, sowing=0, kind=kind, day=day, count=count, seeds=seeds, tray=tray, supersedes=at + 1
    )  # fmt: skip
    of = OfSowing(seeds_per_cell=bench.per_cell, plants_per_cell=bench.stay)
    check_entry(again, number, of, today=bench.day, season_begins=FIRST_DAY)


def cannot_be(bench):
    """Return entries that no bench with the log of this one can have, and the rules that they break."""
    sown = sum(count for kind, _, count, *_ in bench.rows if kind == SOWN)
    per_cell = max(bench.per_cell, bench.stay)
    most = sum(max(seeds, count * per_cell) for kind, _, count, seeds, _ in bench.rows if kind == SOWN)
    day = bench.day
    found = [((UP, day, sown + 1), Rule.MORE_UP_THAN_SOWN)] if sown else []
    for kind in (UP, THINNED, POTTED_ON, LOST, HANDED_OUT, PLANTED_OUT):
        if not sown:
            found.append(((kind, day, 1), Rule.NOT_SOWN))
        else:
            first = min(day for kind, day, *_ in bench.rows if kind == SOWN)
            found.append(((kind, first - 1, 1), Rule.BEFORE_SOWN))
    if sown:
        found += [
            ((THINNED, day, most + 1), Rule.MORE_THINNED),
            ((POTTED_ON, day, most + 1), Rule.MORE_POTTED_THAN_UP),
            ((HANDED_OUT, day, most + 1), Rule.MORE_LEFT),
            ((PLANTED_OUT, day, most + 1), Rule.MORE_LEFT),
            ((LOST, day, most + 1), Rule.MORE_LOST),
        ]
    seen = [day for kind, day, *_ in bench.rows if kind == UP]
    if seen and min(seen) > FIRST_DAY:
        first = min(day for kind, day, *_ in bench.rows if kind == SOWN)
        if first < min(seen):
            kinds = (THINNED, POTTED_ON, HANDED_OUT, PLANTED_OUT)
            found += [((kind, min(seen) - 1, 1), Rule.BEFORE_UP) for kind in kinds]
    return found


@settings(max_examples=200 * TIMES, deadline=None)
@given(bench=benches(), story=stories)
def test_what_cannot_have_happened_is_refused_beside_any_story(bench, story):
    play(bench, story)
    for (kind, day, count), rule in cannot_be(bench):
        with pytest.raises(LogRuleError) as refused:
            checked(bench, [*bench.rows, (kind, day, count, 0, 0)], n_before=len(bench.rows))
        # Where nobody counted before what was done, a first count after it is refused for its day already.
        also = {Rule.BEFORE_UP} if kind == UP else set()
        assert refused.value.rule in {rule} | also, (KINDS[kind], day, count)


@settings(max_examples=200 * TIMES, deadline=None)
@given(
    per_cell=st.integers(1, 3), sown=st.integers(1, 20), up=st.floats(0.05, 1), gone=st.integers(0, 60),
    by=st.sampled_from(((LOST, Rule.MORE_LOST), (HANDED_OUT, Rule.MORE_LEFT), (PLANTED_OUT, Rule.MORE_LEFT))),
)  # fmt: skip
def test_after_one_count_no_more_goes_than_stood_there(per_cell, sown, up, gone, by):
    """With one count and no other, what goes later stood there when it was counted, or is written into a new count."""
    cells = max(1, round(sown * up))
    kind, rule = by
    bench = Bench(per_cell, 1, counts=True, forgets=frozenset())
    rows = [(SOWN, FIRST_DAY, sown, 0, 0), (UP, FIRST_DAY + 6, cells, 0, 0)]
    rows += [(kind, FIRST_DAY + 20, gone, 0, 0)] if gone else []
    if gone <= cells * per_cell:
        checked(bench, rows)
    else:
        with pytest.raises(LogRuleError) as refused:
            checked(bench, rows)
        assert (refused.value.rule, refused.value.limit) == (rule, cells * per_cell)


def test_what_was_handed_out_can_no_longer_be_potted_on():
    bench = Bench(1, 1, counts=True, forgets=frozenset())
    rows = [(SOWN, 1, 10, 0, 0), (UP, 7, 10, 0, 0), (HANDED_OUT, 10, 4, 0, 0)]
    rows = [(kind, FIRST_DAY + day, *rest) for kind, day, *rest in rows]
    checked(bench, [*rows, (POTTED_ON, FIRST_DAY + 12, 6, 0, 0)])
    with pytest.raises(LogRuleError) as refused:
        checked(bench, [*rows, (POTTED_ON, FIRST_DAY + 12, 7, 0, 0)])
    assert (refused.value.rule, refused.value.limit) == (Rule.MORE_POTTED_THAN_UP, 6)


def test_a_count_is_held_against_what_was_sown_by_its_day():
    bench = Bench(1, 1, counts=True, forgets=frozenset())
    rows = [(SOWN, FIRST_DAY, 5, 0, 0), (SOWN, FIRST_DAY + 20, 5, 0, 0)]
    checked(bench, [*rows, (UP, FIRST_DAY + 26, 10, 0, 0)])
    with pytest.raises(LogRuleError, match=Rule.MORE_UP_THAN_SOWN):
        checked(bench, [*rows, (UP, FIRST_DAY + 8, 6, 0, 0)])


@settings(max_examples=200 * TIMES, deadline=None)
@given(bench=benches(), story=stories)
def test_of_whoever_writes_down_everything_no_plant_is_there_that_is_not(bench, story):
    """One seed a cell, all counted and nothing forgotten: plants by the log are those on the bench, or fewer."""
    bench = replace(bench, per_cell=1, stay=1, counts=True, forgets=frozenset())
    play(bench, [(name, n, 0) for name, n, _ in story if name != "thin"])
    bench.count_first()
    log = checked(bench, bench.rows)
    logged = logged_of(log, 1)
    assert int(logged.living(np.array([1]))[0]) <= bench.in_cells + bench.pots


def test_a_second_flush_lives_after_the_first_was_lost():
    bench = Bench(1, 1, counts=True, forgets=frozenset())
    rows = [(SOWN, 0, 20), (UP, 8, 10), (LOST, 9, 10), (UP, 15, 8)]
    rows = [(kind, FIRST_DAY + day, count, 0, 0) for kind, day, count in rows]
    logged = logged_of(checked(bench, rows), 1)
    assert logged.living(np.array([1])).tolist() == [8]
    assert not logged.is_over(np.array([1]))[0]
    checked(bench, [*rows, (HANDED_OUT, FIRST_DAY + 30, 8, 0, 0)])


def test_plugs_given_away_before_potting_on_are_not_taken_off_the_pots():
    bench = Bench(1, 1, counts=True, forgets=frozenset())
    rows = [(SOWN, 0, 30), (UP, 8, 30), (HANDED_OUT, 20, 20), (POTTED_ON, 22, 10), (PLANTED_OUT, 25, 20)]
    rows = [(kind, FIRST_DAY + day, count, 0, 0) for kind, day, count in rows]
    logged = logged_of(checked(bench, rows), 1)
    assert logged.living(np.array([1])).tolist() == [10]
    assert not logged.is_over(np.array([1]))[0]
