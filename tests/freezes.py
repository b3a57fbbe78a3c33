"""Records in which every freeze is put by hand, with 12 degrees on all other days."""

from datetime import date, timedelta

from app.core.dates.record import find_freezes
from tests.stations import record_of

MILD_C, FREEZING_C = 12.0, -3.0
FIRST_YEAR = 2001


def rows_of(years):
    """Return (day, tmin, tmax) of whole years that freeze once in spring and once in autumn.

    Args:
        years: Each year's pair of last and first freeze, MM-DD, the first year being 2001; None for no freeze,
            "missing" for a half without any figures.
    """
    rows = []
    for number, (last, first) in enumerate(years):
        year = FIRST_YEAR + number
        freezing = {date.fromisoformat(f"{year}-{day}") for day in (last, first) if day not in {None, "missing"}}
        day = date(year, 1, 1)
        while day.year == year:
            is_missing = (last if day.month < 8 else first) == "missing"
            low = None if is_missing else FREEZING_C if day in freezing else MILD_C
            rows.append((day, low, 20.0))
            day += timedelta(days=1)
    return rows


def freezes_of(years, threshold_c=0.0):
    """Return the freezes of years given as to `rows_of`."""
    return find_freezes(record_of(rows_of(years)), threshold_c, southern=False)


# Twenty years, each a day later than the one before: last freezes from 1 to 20 May, first ones from 1 to 20 October.
STEADY = [(f"05-{day:02d}", f"10-{day:02d}") for day in range(1, 21)]
# One late spring in twenty.
SKEWED = [("05-01", "10-01")] * 19 + [("06-30", "10-02")]
