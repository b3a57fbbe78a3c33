"""Frost dates at a risk against the tables of weather services (frost_dates_by_risk.csv)."""

from datetime import date

import pytest

from app.core.dates.frost import frost_dates, frost_table
from tests.published.tables import read_rows

COMMON_YEAR = 2027
ROWS = read_rows("frost_dates_by_risk.csv")
ENTERED = {10: "p10", 50: "p50", 90: "p90"}
# How far a normal law with two spreads may miss a printed date, beside the entered ones.
MOST_DAYS, MOST_DAYS_AT_REDWATER = 5, 8


def frost_of(row):
    """Return the frost of a row's station; the other half of the year is not looked at."""
    table = {risk: row[column] for risk, column in ENTERED.items()}
    other = {"spring": {90: "05-01", 50: "05-10", 10: "05-20"}, "autumn": {10: "09-01", 50: "09-10", 90: "09-20"}}
    return frost_table(**other | {row["side"]: table}, season=COMMON_YEAR, southern=False)


def dated(row):
    frost, risk = frost_of(row), int(row["risk_pct"]) / 100
    return frost.spring_on(risk) if row["side"] == "spring" else frost.autumn_on(risk)


def printed(text):
    return date.fromisoformat(f"{COMMON_YEAR}-{text}")


def test_the_table_covers_both_halves_at_five_stations():
    assert len(ROWS) == 168
    assert {row["side"] for row in ROWS} == {"spring", "autumn"}
    assert len({row["station"] for row in ROWS}) == 5


def test_every_date_is_the_one_of_the_rule():
    wrong = [(row, dated(row)) for row in ROWS if dated(row) != printed(row["date_by_rule"])]
    assert wrong == []


def test_every_entered_date_comes_back_exactly():
    entered = [row for row in ROWS if int(row["risk_pct"]) in ENTERED]
    assert len(entered) == 42
    assert [row for row in entered if dated(row) != printed(row[ENTERED[int(row["risk_pct"])]])] == []


def test_the_dates_that_the_services_print_are_met_within_days():
    misses = [(row, abs((dated(row) - printed(row["published_date"])).days)) for row in ROWS if row["published_date"]]
    assert len(misses) > 80
    for row, miss in misses:
        assert miss <= (MOST_DAYS_AT_REDWATER if row["station"].startswith("REDWATER") else MOST_DAYS), row


def test_a_table_of_more_than_three_risks_comes_back_at_every_one():
    # Lebanon NH, 32 F: U.S. Climate Normals 1991-2020.
    rows = [row for row in ROWS if "LEBANON" in row["station"] and row["threshold"] == "32" and row["published_date"]]
    sides = {
        side: {int(row["risk_pct"]): row["published_date"] for row in rows if row["side"] == side}
        for side in ("spring", "autumn")
    }
    frost = frost_table(**sides, season=COMMON_YEAR, southern=False)
    assert len(sides["spring"]) == len(sides["autumn"]) == 7
    assert {risk: frost.spring_on(risk / 100) for risk in sides["spring"]} == {
        risk: printed(text) for risk, text in sides["spring"].items()
    }
    assert {risk: frost.autumn_on(risk / 100) for risk in sides["autumn"]} == {
        risk: printed(text) for risk, text in sides["autumn"].items()
    }


def test_a_short_season_gets_its_skewed_dates_back_and_no_safe_month_at_a_small_risk():
    # Redwater AB. One spread for both sides would put its 10 % autumn date on 8 August (docs/method.md, section 2).
    autumn = {10: "07-24", 50: "08-30", 90: "09-06"}
    frost = frost_table({90: "05-18", 50: "06-13", 10: "07-05"}, autumn, season=COMMON_YEAR, southern=False)
    assert frost.autumn_on(0.10) == date(2027, 7, 24)
    assert not frost.has_no_safe_month(0.10)
    assert frost.has_no_safe_month(0.01)


@pytest.mark.parametrize(
    ("risk", "spring", "autumn"),
    [(0.50, date(2027, 5, 10), date(2027, 9, 26)), (0.10, date(2027, 5, 25), date(2027, 9, 11))],
)
def test_a_bare_pair_stands_for_the_average_dates_with_a_spread_of_eleven_days(risk, spring, autumn):
    # By hand: 130 + 1.28155 x 11 = 144.097, up to 145; 269 - 14.097 = 254.903, down to 254. The spread is from memory.
    frost = frost_dates("05-10", "09-26", season=COMMON_YEAR, southern=False)
    assert (frost.spring_on(risk), frost.autumn_on(risk)) == (spring, autumn)
