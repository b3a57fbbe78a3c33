"""Days to emergence against the table of Harrington and Minges (harrington_minges_1954.csv)."""

from fractions import Fraction
from itertools import pairwise
from math import ceil
from statistics import median

import pytest

from app.core.dates.emergence import EmergenceRow, Soil, days_to_emerge
from app.storage.published import emergence_rows
from tests.published.tables import read_rows

NO_GERMINATION, NOT_TESTED = "NG", "-"


def printed_table():
    table = {}
    for row in read_rows("harrington_minges_1954.csv"):
        table.setdefault(row["crop"], []).append((int(row["temp_c"]), row["days"]))
    return table


def days_printed(entries):
    return [(temp, int(days)) for temp, days in entries if days not in (NO_GERMINATION, NOT_TESTED)]


def as_row(entries):
    meaning = {NO_GERMINATION: 0, NOT_TESTED: None}
    return EmergenceRow(
        entries=tuple((temp, meaning[days] if days in meaning else int(days)) for temp, days in entries)
    )


TABLE = printed_table()
EVERY_CROP = pytest.mark.parametrize("crop", sorted(TABLE))


def test_the_table_has_24_crops_at_9_temperatures():
    assert len(TABLE) == 24
    assert {tuple(temp for temp, _ in entries) for entries in TABLE.values()} == {tuple(range(0, 45, 5))}


@EVERY_CROP
def test_the_table_that_comes_with_the_program_is_the_printed_one(crop):
    assert emergence_rows()[crop] == as_row(TABLE[crop])


@EVERY_CROP
def test_every_tabulated_value_comes_back_exactly(crop):
    row = as_row(TABLE[crop])
    for temp, days in days_printed(TABLE[crop]):
        answer = days_to_emerge(row, temp)
        assert (answer.soil, answer.days, answer.whole_days) == (Soil.FIGURE, days, days)


@EVERY_CROP
def test_between_tabulated_values_the_rate_is_a_straight_line(crop):
    row, printed = as_row(TABLE[crop]), days_printed(TABLE[crop])
    for (low, slow), (high, fast) in pairwise(printed):
        for tenths in range(low * 10, high * 10 + 1):
            temp = Fraction(tenths, 10)
            rate = Fraction(1, slow) + (temp - low) / (high - low) * (Fraction(1, fast) - Fraction(1, slow))
            answer = days_to_emerge(row, float(temp))
            assert answer.days == pytest.approx(float(1 / rate), rel=1e-12)
            assert answer.whole_days == ceil(1 / rate)


@EVERY_CROP
def test_the_outermost_values_hold_for_two_and_a_half_degrees_and_no_further(crop):
    row, printed = as_row(TABLE[crop]), days_printed(TABLE[crop])
    for (temp, days), outwards in ((printed[0], -1), (printed[-1], 1)):
        for step in (0.1, 1.0, 2.5):
            assert days_to_emerge(row, temp + outwards * step).days == days
        for step in (2.6, 5.0, 20.0):
            assert days_to_emerge(row, temp + outwards * step).days is None


@EVERY_CROP
def test_past_the_reach_it_says_what_the_table_says_there(crop):
    row, entries = as_row(TABLE[crop]), TABLE[crop]
    printed = days_printed(entries)
    for (temp, _), outwards, word in ((printed[0], -1, Soil.TOO_COLD), (printed[-1], 1, Soil.TOO_HOT)):
        next_entry = dict(entries).get(temp + outwards * 5)
        expected = word if next_entry == NO_GERMINATION else Soil.NO_FIGURE
        assert days_to_emerge(row, temp + outwards * 2.6).soil is expected


@pytest.mark.parametrize(
    ("crop", "temp", "soil"),
    [
        pytest.param("tomato", 7, Soil.TOO_COLD, id="tomato in a cold room"),
        pytest.param("tomato", 38, Soil.TOO_HOT, id="tomato on a hot mat"),
        pytest.param("lettuce", 33, Soil.TOO_HOT, id="lettuce on a mat set for peppers"),
        pytest.param("eggplant", 16, Soil.NO_FIGURE, id="eggplant below what was tried"),
        pytest.param("cabbage", 36, Soil.NO_FIGURE, id="cabbage above what was tried"),
        pytest.param("watermelon", 4, Soil.TOO_COLD, id="watermelon, with untried steps between"),
        pytest.param("onion", -3, Soil.NO_FIGURE, id="onion, colder than the table"),
        pytest.param("okra", 43, Soil.NO_FIGURE, id="okra, hotter than the table"),
    ],
)
def test_known_cases_past_the_figures(crop, temp, soil):
    assert days_to_emerge(as_row(TABLE[crop]), temp).soil is soil


def test_left_out_values_are_missed_less_by_the_rate_than_by_the_days():
    by_rate, by_days = [], []
    for entries in TABLE.values():
        printed = days_printed(entries)
        for left, out, right in zip(printed, printed[1:], printed[2:], strict=False):
            guessed = days_to_emerge(EmergenceRow(entries=(left, right)), out[0]).days
            share = (out[0] - left[0]) / (right[0] - left[0])
            by_rate.append(abs(guessed - out[1]) / out[1])
            by_days.append(abs(left[1] + share * (right[1] - left[1]) - out[1]) / out[1])
    assert len(by_rate) == 87
    # The figures of docs/method.md, section 3: 11 % and 21 %.
    assert median(by_rate) == pytest.approx(0.11, abs=0.005)
    assert median(by_days) == pytest.approx(0.21, abs=0.005)
