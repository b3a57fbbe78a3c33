"""Day length, the sun's energy and the light of lamps, against worked examples and tables in print."""

import pytest

from app.core.needs.light import (
    daily_light,
    day_length,
    hours_for_light,
    sun_declination,
    sun_distance_factor,
    sun_energy,
    sunset_angle,
)
from tests.published.tables import read_rows

ROWS = read_rows("fao56_days.csv")
LAMPS = read_rows("light_of_lamps.csv")
FOUND = {
    "dr": lambda _latitude, day: sun_distance_factor(day),
    "declination": lambda _latitude, day: sun_declination(day),
    "ws": sunset_angle,
    "Ra": sun_energy,
    "N": day_length,
}
# Refraction and the width of the sun lengthen a day by 0.15 to 0.35 h at these latitudes; near the equinox the
# equation's declination is a little off as well.
ALMANAC_LONGER_H = (0.1, 0.4)


def found(row):
    return FOUND[row["quantity"]](float(row["latitude_deg"]), int(row["day_of_year"]))


def name_of(row):
    return f"{row['quantity']} at {row['latitude_deg']} on day {row['day_of_year']}"


@pytest.mark.parametrize("row", [row for row in ROWS if row["source"].startswith("FAO-56")], ids=name_of)
def test_a_worked_example_of_fao_56_comes_out_to_its_printed_digits(row):
    decimals = len(row["value"].partition(".")[2])
    assert found(row) == pytest.approx(float(row["value"]), abs=0.5 * 10**-decimals)


def test_there_are_seven_figures_in_print():
    assert sum(row["source"].startswith("FAO-56") for row in ROWS) == 7


def test_the_computed_figures_of_every_month_and_latitude_come_out():
    rows = [row for row in ROWS if row["source"].startswith("computed")]
    assert len(rows) > 100
    assert {row["quantity"] for row in rows} == {"N", "Ra"}
    wrong = [name_of(row) for row in rows if abs(found(row) - float(row["value"])) > float(row["tolerance"])]
    assert wrong == []


def test_an_almanac_gives_days_a_little_longer():
    rows = [row for row in ROWS if row["quantity"] == "sunrise_to_sunset"]
    assert {row["source"].split()[0] for row in rows} == {"pvlib", "astral"}
    for row in rows:
        longer = float(row["value"]) - day_length(float(row["latitude_deg"]), int(row["day_of_year"]))
        assert ALMANAC_LONGER_H[0] < longer < ALMANAC_LONGER_H[1], name_of(row)


# Table 2.6 of FAO-56, 40 degrees north, the 15th of each month, from memory.
@pytest.mark.parametrize(
    ("day", "energy"),
    list(
        zip(
            (15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349),
            (15.0, 20.4, 27.2, 34.7, 39.7, 41.9, 40.8, 36.7, 30.0, 22.5, 16.3, 13.6),
            strict=True,
        )
    ),
)
def test_the_sun_of_each_month_is_that_of_the_table(day, energy):
    assert sun_energy(40, day) == pytest.approx(energy, abs=0.1)


@pytest.mark.parametrize("row", LAMPS, ids=lambda row: f"{row['ppfd']} for {row['hours']} h")
def test_the_light_of_lamps_and_the_hours_it_takes_are_the_published_ones(row):
    ppfd, hours, dli = float(row["ppfd"]), float(row["hours"]), float(row["dli"])
    half = 0.5 * 10 ** -len(row["dli"].partition(".")[2])
    assert daily_light(ppfd, hours) == pytest.approx(dli, abs=half)
    assert hours_for_light(dli, ppfd) == pytest.approx(hours, abs=0.01)


def test_a_target_without_light_takes_for_ever_and_no_target_takes_nothing():
    # By the definition: no light adds up to nothing, however long it burns.
    assert hours_for_light(12, 0) == float("inf")
    assert hours_for_light(0, 0) == hours_for_light(0, 200) == 0
    assert daily_light(0, 24) == 0


def test_the_example_of_the_method_page():
    # docs/method.md, section 11, computed apart from the program.
    assert daily_light(200, 16) == pytest.approx(11.52)
    assert hours_for_light(12, 200) == pytest.approx(16.7, abs=0.05)
