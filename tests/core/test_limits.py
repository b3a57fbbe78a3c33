import math

import pytest

from app.core.limits import PLANTS, Bounds, reads_as_number_or_date


def test_bounds_hold_both_ends():
    assert all(count in PLANTS for count in (1, 10_000))
    assert not any(count in PLANTS for count in (0, 10_001, "7", None))
    assert not Bounds(0, 1).__contains__(math.nan)


# Excel's own reading of such cells as numbers and dates is common knowledge: 22.5 is 22 May in some countries.
@pytest.mark.parametrize("name", ["2026", "22.5", "2026-04", "1/2", "73928e03", "12E5", "+4", "- 3", "10:30"])
def test_names_that_a_spreadsheet_rewrites_are_known(name):
    assert reads_as_number_or_date(name)


@pytest.mark.parametrize("name", ["S-0042", "TOM-A", "Packet 7", "jar 12", "e5", "2026 beans"])
def test_names_with_letters_stay_as_they_are(name):
    assert not reads_as_number_or_date(name)
