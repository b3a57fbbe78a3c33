"""A station's file in both forms: what is read, and every fault with its place and what would be right."""

from datetime import date

import numpy as np
import pytest

from app.storage.folder import Faults, FaultyFolderError, read_station, read_station_path
from app.storage.folder.station_file import MOST_BYTES
from tests.stations import ghcn_text_of, temperatures, text_of

ROWS = temperatures(2019, 2020)


def read(text):
    """Return what a text holds; faults are raised."""
    faults = Faults()
    found = read_station(text if isinstance(text, bytes) else text.encode(), "station.csv", faults)
    faults.raise_if_any()
    return found


def faults_of(text):
    with pytest.raises(FaultyFolderError) as caught:
        read(text)
    return caught.value.faults


def day_of(row):
    return date.fromordinal(int(row))


def changed(rows, index, **values):
    day, low, high = rows[index]
    return [
        *rows[:index],
        (values.get("day", day), values.get("low", low), values.get("high", high)),
        *rows[index + 1 :],
    ]


def test_our_own_file_is_read_as_it_says():
    record = read("date,tmin_c,tmax_c\n2020-02-28,-1.5,4\n2020-02-29,,5\n2020-03-02,2,\n").record
    assert [day_of(day) for day in record.day] == [date(2020, 2, 28), date(2020, 2, 29), date(2020, 3, 2)]
    np.testing.assert_array_equal(record.tmin_c, [-1.5, np.nan, 2])
    np.testing.assert_array_equal(record.tmax_c, [4, 5, np.nan])


def test_the_highest_temperatures_may_be_left_out_and_empty_days_are_missing_ones():
    record = read("date,tmin_c\n2020-02-28,-1.5\n2020-02-29,\n").record
    assert len(record.day) == 1
    assert np.isnan(record.tmax_c).all()


def test_a_weather_service_file_gives_the_same_days_in_tenths():
    own, theirs = read(text_of(ROWS)), read(ghcn_text_of(ROWS))
    for name in ("day", "tmin_c", "tmax_c"):
        np.testing.assert_array_equal(getattr(own.record, name), getattr(theirs.record, name))
    assert theirs.notes == ()


def test_a_flagged_value_is_dropped_even_if_it_could_not_be_one_and_that_is_said():
    day = ROWS[5][0]
    found = read(ghcn_text_of(changed(ROWS, 5, low=99.9), flags={day: "X"}))
    assert np.isnan(found.record.tmin_c[5])
    assert found.record.tmax_c[5] == ROWS[5][2]
    assert found.notes == ("Left out: 1 temperature that failed a check of the weather service.",)


def test_flags_of_measurement_and_source_drop_nothing_and_9999_is_missing():
    text = 'DATE,TMIN,TMIN_ATTRIBUTES\n2020-01-01,-15,"H,,S"\n2020-01-02,-9999,",,S"\n2020-01-03,7,",,"\n'
    assert read(text).record.tmin_c.tolist() == [-1.5, 0.7]


def test_days_out_of_order_are_sorted_and_that_is_said():
    rows = [ROWS[1], ROWS[0], *ROWS[2:]]
    found = read(text_of(rows))
    assert found.record.day.tolist() == [row[0].toordinal() for row in ROWS]
    assert found.record.tmin_c.tolist() == [row[1] for row in ROWS]
    assert found.notes == ("The days did not stand in order (1 step back); they were sorted.",)


def test_a_record_newest_first_is_turned_round():
    np.testing.assert_array_equal(read(text_of(ROWS[::-1])).record.tmin_c, read(text_of(ROWS)).record.tmin_c)


@pytest.mark.parametrize(
    ("rows", "row", "column", "right"),
    [
        (changed(ROWS, 3, day=ROWS[2][0]), 5, "date", "row 4 has this day already"),
        (changed(ROWS, 3, low=30.0), 5, "tmin_c", "the tmax_c of that day is lower"),
        (changed(ROWS, 3, low=-61.0), 5, "tmin_c", "from -60 to 60 °C"),
        (changed(ROWS, 3, high=99.0), 5, "tmax_c", "from -60 to 60 °C"),
        (changed(ROWS, 3, low=-99.9), 5, "tmin_c", "or nothing for a missing day"),
    ],
    ids=["duplicate", "crossed", "too cold", "too hot", "a mark for missing"],
)
def test_a_fault_has_its_row_and_column(rows, row, column, right):
    (fault,) = faults_of(text_of(rows))
    assert (fault.file, fault.row, fault.column) == ("station.csv", row, column)
    assert right in fault.right


@pytest.mark.parametrize(
    ("cells", "column", "right"),
    [
        ("2020-02-30,1,2", "date", "no such day in the calendar"),
        ("28/2/2020,1,2", "date", "year-month-day"),
        ("1620-02-28,1,2", "date", "1700 to 2200"),
        (",1,2", "date", "the cell is empty"),
        ("2020-02-28,cold,2", "tmin_c", "give a number"),
        ('2020-02-28,"1,5",2', "tmin_c", "decimal point: 1.5"),
        ("2020-02-28,1", None, "2 cells under 3 columns"),
    ],
)
def test_a_cell_that_cannot_be_read_is_told(cells, column, right):
    (fault,) = faults_of(f"date,tmin_c,tmax_c\n2020-02-27,1,2\n{cells}\n")
    assert (fault.row, fault.column) == (3, column)
    assert right in fault.right


def test_all_faults_are_told_at_once_and_only_the_first_two_hundred_in_words():
    lines = [f"2020-02-{day:02d},x,y" for day in range(1, 29)]
    assert len(faults_of("date,tmin_c,tmax_c\n" + "\n".join(lines))) == 56
    with pytest.raises(FaultyFolderError) as caught:
        read(text_of([(day, high, low) for day, low, high in ROWS]))
    assert (len(caught.value.faults), caught.value.count) == (200, 731)


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("", "the header row is missing"),
        ("date;tmin_c\n2020-01-01;1\n", "not separated by commas"),
        ("date,tmax_c\n2020-01-01,1\n", "this column is missing"),
        ("DATE,TMAX\n2020-01-01,100\n", "this column is missing"),
        ("date,tmin_c,rain\n2020-01-01,1,2\n", "no column of that name"),
    ],
)
def test_a_file_of_another_form_is_told(text, right):
    assert right in faults_of(text)[0].right


def test_two_stations_in_one_file_are_told_by_name():
    later = ghcn_text_of(temperatures(2021, 2021), station="XX000067890").partition("\n")[2]
    (fault,) = faults_of(ghcn_text_of(ROWS) + later)
    assert (fault.row, fault.column, fault.found) == (len(ROWS) + 2, "STATION", "XX000067890")
    assert "2 stations (XX000012345, XX000067890)" in fault.right


def fahrenheit(rows):
    return [(day, round(low * 9 / 5 + 32, 1), round(high * 9 / 5 + 32, 1)) for day, low, high in rows]


def test_fahrenheit_given_as_celsius_is_guessed_in_one_fault():
    (fault,) = faults_of(text_of(fahrenheit(ROWS)))
    assert "these look like degrees Fahrenheit" in fault.right
    assert "give degrees Celsius" in fault.right


def test_one_summer_of_80_degrees_is_guessed_too():
    rows = [(day, 55.0, 80.0) if (day.year, day.month) == (2020, 7) else (day, low, high) for day, low, high in ROWS]
    faults = faults_of(text_of(rows))
    assert [("Fahrenheit" in fault.right, fault.column) for fault in faults] == [(True, "tmin_c")]


def test_nights_alone_give_fahrenheit_away():
    text = "date,tmin_c\n" + "".join(f"{day},{low}\n" for day, low, _ in fahrenheit(ROWS))
    assert "Fahrenheit" in faults_of(text)[0].right


def test_tenths_under_the_name_of_degrees_are_guessed():
    rows = [(day, round(low * 10), round(high * 10)) for day, low, high in ROWS]
    (fault,) = faults_of(text_of(rows))
    assert "these look like tenths of a degree" in fault.right


@pytest.mark.parametrize(
    ("rows", "unit"), [(ROWS, "Celsius"), (fahrenheit(ROWS), "Fahrenheit")], ids=["Celsius", "Fahrenheit"]
)
def test_whole_degrees_in_a_file_of_tenths_are_guessed(rows, unit):
    whole = [(day, round(low) / 10, round(high) / 10) for day, low, high in rows]
    (fault,) = faults_of(ghcn_text_of(whole))
    assert f"these look like whole degrees {unit}" in fault.right


def test_degrees_with_decimals_in_a_file_of_tenths_are_guessed():
    lines = "".join(f"{day},{low:.1f},{high:.1f}\n" for day, low, high in ROWS)
    (fault,) = faults_of("DATE,TMIN,TMAX\n" + lines)
    assert "have decimals and look like whole degrees" in fault.right


def test_a_wrong_unit_does_not_hide_wrong_dates():
    faults = faults_of(text_of(changed(fahrenheit(ROWS), 3, day=ROWS[2][0])))
    assert sorted(fault.column for fault in faults) == ["date", "tmin_c"]


def test_a_cool_record_of_tenths_and_a_hot_one_of_degrees_are_taken_as_they_are():
    cool, hot = temperatures(2019, 2020, warm=4.0, swing=12.0), temperatures(2019, 2020, warm=36.0, swing=12.0)
    assert len(read(ghcn_text_of(cool)).record.day) == len(cool)
    assert len(read(text_of(hot)).record.day) == len(hot)


def test_a_file_of_300_megabytes_is_refused_by_its_size_without_being_read(tmp_path, monkeypatch):
    path = tmp_path / "station.csv"
    with path.open("wb") as file:
        file.truncate(300 * 1024 * 1024)
    monkeypatch.setattr("pathlib.Path.read_bytes", lambda _self: pytest.fail("it was read"))
    faults = Faults()
    assert read_station_path(path, faults) is None
    with pytest.raises(FaultyFolderError, match=r"station\.csv: the file has 300 MB; .* at most 32 MB are read"):
        faults.raise_if_any()
    assert MOST_BYTES == 32 * 1024 * 1024


def test_a_byte_that_is_no_utf_8_is_told(tmp_path):
    (fault,) = faults_of(text_of(ROWS).encode() + b"2021-01-01,1,\xe9\n")[:1]
    assert "is not UTF-8" in fault.right
