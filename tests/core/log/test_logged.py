"""What the log comes to: the same in any order, nothing lost by corrections, no more than is possible."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from app.core.log.entries import KINDS, Log
from app.core.log.state import logged_of
from app.core.words import LogKind

N_SOWINGS = 4
COLUMNS = ("ids", "sowing", "kind", "day", "count", "seeds", "tray", "supersedes")


def log_of(rows):
    """Return entries given as rows in the order of COLUMNS."""
    table = np.array(rows, dtype=np.int64).reshape(-1, len(COLUMNS))
    return Log(**dict(zip(COLUMNS, table.T, strict=True)))


@st.composite
def rows(draw):
    """Draw entries, of which some correct earlier ones; none is corrected twice."""
    found, free = [], []
    for number in range(1, draw(st.integers(0, 12)) + 1):
        corrects = draw(st.sampled_from([0, *free])) if free else 0
        if corrects:
            free.remove(corrects)
            sowing, kind = found[corrects - 1][1:3]
        else:
            sowing, kind = draw(st.integers(0, N_SOWINGS - 1)), draw(st.integers(0, len(KINDS) - 1))
        day, count = draw(st.integers(100, 160)), draw(st.integers(0, 30))
        found.append((number, sowing, kind, day, count, 2 * count, draw(st.sampled_from([0, 0, 7, 8])), corrects))
        free.append(number)
    return found


def values(logged):
    return {name: getattr(logged, name).tolist() for name in vars(logged) if name in logged.__dataclass_fields__}


@given(drawn=rows(), data=st.data())
def test_entries_come_to_the_same_in_any_order(drawn, data):
    shuffled = data.draw(st.permutations(drawn))
    assert values(logged_of(log_of(drawn), N_SOWINGS)) == values(logged_of(log_of(shuffled), N_SOWINGS))


@given(drawn=rows())
def test_they_come_to_what_counting_entry_by_entry_gives(drawn):
    """The same rules once more in plain Python, entry by entry."""
    corrected = {row[7] for row in drawn}
    holds = [row for row in drawn if row[0] not in corrected and row[4] > 0]
    logged = logged_of(log_of(drawn), N_SOWINGS)
    for sowing in range(N_SOWINGS):
        mine = [row for row in holds if row[1] == sowing]

        def days(*kinds, mine=mine):
            return [row[3] for row in mine if KINDS[row[2]] in kinds] or [0]

        def total(kind, mine=mine):
            return sum(row[4] for row in mine if KINDS[row[2]] is kind)

        assert logged.sown_on[sowing] == min(days(LogKind.SOWN))
        assert logged.up_on[sowing] == min(days(LogKind.UP))
        assert logged.potted_on[sowing] == min(days(LogKind.POTTED_ON))
        assert logged.left_on[sowing] == max(days(LogKind.LOST, LogKind.HANDED_OUT, LogKind.PLANTED_OUT))
        assert logged.sown[sowing] == total(LogKind.SOWN)
        assert logged.lost[sowing] == total(LogKind.LOST)
        assert logged.left[sowing] == max(total(LogKind.HANDED_OUT), total(LogKind.PLANTED_OUT))
        up = {}
        for row in mine:
            if KINDS[row[2]] is LogKind.UP:
                up[row[6]] = max(up.get(row[6], 0), row[4])
        whole = up.pop(0, 0)
        assert logged.up[sowing] == max(whole, sum(up.values()))


@given(drawn=rows())
def test_a_correction_loses_no_entry_and_the_last_of_a_chain_counts(drawn):
    log = log_of(drawn)
    assert len(log) == len(drawn)
    for index, row in enumerate(drawn):
        is_corrected = any(other[7] == row[0] for other in drawn)
        assert bool(log.holds[index]) == (not is_corrected and row[4] > 0)


def test_plants_that_were_lost_before_potting_on_are_not_taken_off_twice():
    sown, up, lost, potted = (KINDS.index(kind) for kind in (LogKind.SOWN, LogKind.UP, LogKind.LOST, LogKind.POTTED_ON))
    log = log_of(
        [
            (1, 0, sown, 100, 12, 24, 0, 0),
            (2, 0, up, 107, 10, 0, 0, 0),
            (3, 0, lost, 110, 2, 0, 0, 0),
            (4, 0, potted, 120, 8, 0, 0, 0),
            (5, 0, lost, 130, 1, 0, 0, 0),
        ]
    )
    assert logged_of(log, 1).living(np.array([1])).tolist() == [7]


def test_nothing_is_left_once_all_were_handed_out_or_all_cells_given_up():
    sown, up, lost, out = (KINDS.index(kind) for kind in (LogKind.SOWN, LogKind.UP, LogKind.LOST, LogKind.HANDED_OUT))
    log = log_of(
        [
            (1, 0, sown, 100, 8, 0, 0, 0),
            (2, 0, up, 107, 6, 0, 0, 0),
            (3, 0, out, 150, 6, 0, 0, 0),
            (4, 1, sown, 100, 8, 0, 0, 0),
            (5, 1, lost, 125, 8, 0, 0, 0),
            (6, 2, sown, 100, 8, 0, 0, 0),
            (7, 2, up, 107, 6, 0, 0, 0),
            (8, 2, out, 150, 5, 0, 0, 0),
        ]
    )
    assert logged_of(log, 3).is_over(np.ones(3, dtype=np.int64)).tolist() == [True, True, False]
