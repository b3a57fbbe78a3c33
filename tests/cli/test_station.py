"""A station's record from the command line: alone into a garden that is there, and in a folder, out and across."""

import pytest

from app.services.record import record_summary
from app.storage import Session
from app.storage.engine import make_engine
from tests.cli.test_copy import empty
from tests.conftest import POSTGRES
from tests.freezes import STEADY, rows_of
from tests.stations import ghcn_text_of, temperatures, text_of
from tests.storage.small_folder import FILES, spoil, write_files

TEXT = text_of(rows_of(STEADY))
BY_STATION = spoil("garden.toml", 'source = "table"', 'source = "station"') | {"daily_temperatures.csv": TEXT}


@pytest.fixture
def there(run, tmp_path):
    """Load the small garden, and return a function that writes a station's file."""
    run("load", write_files(tmp_path / "small", FILES))

    def write(text, name="weather.csv"):
        (tmp_path / name).write_text(text)
        return tmp_path / name

    return write


@pytest.mark.parametrize("text", [TEXT, ghcn_text_of(rows_of(STEADY))], ids=["our own file", "a weather service's"])
def test_a_record_is_taken_into_the_garden_and_summed_up(run, there, text, surroundings):
    said = run("load", there(text)).stdout.replace("\u00a0", " ").splitlines()
    assert said == [
        "Loaded the station's record.",
        "7 305 days from Mon 1 Jan 2001 to Thu 31 Dec 2020.",
        "20 springs can be used.",
        "20 autumns can be used.",
    ]
    engine = make_engine(f"sqlite:///{surroundings}")
    with Session(engine) as session:
        assert record_summary(session).days == 7305
    engine.dispose()


def test_nothing_else_of_the_garden_changes(run, there, tmp_path):
    run("dump", tmp_path / "before")
    run("load", there(TEXT))
    run("dump", tmp_path / "after")
    before, after = (
        {path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("before", "after")
    )
    assert after.pop("daily_temperatures.csv").decode() == TEXT
    assert after == before


def test_years_left_out_years_without_a_freeze_and_few_years_are_said(run, there):
    years = [*STEADY[:9], ("missing", "10-01"), (None, "10-01"), ("05-01", "10-01")]
    said = run("load", there(text_of(rows_of(years)))).stdout.replace("\u00a0", " ")
    assert "Left out, with ten or more days missing between midsummer and the freeze: springs 2010." in said
    assert "Without a freeze: springs 2011." in said
    assert "These are few years" in said
    said = run("load", there(text_of(temperatures(2020, 2020)))).stdout
    assert "These are too few years for frost dates: it takes 10. Enter a published table instead" in said


def test_faults_of_a_record_are_told_with_status_1_and_nothing_is_loaded(run, there, tmp_path):
    run("load", there(TEXT))
    result = run("load", there("date,tmin_c\n2020-02-30,1\n2020-03-01,cold\n"), status=1)
    assert result.stdout == ""
    assert result.stderr.splitlines() == [
        'weather.csv, row 2, date: found "2020-02-30"; there is no such day in the calendar.',
        'weather.csv, row 3, tmin_c: found "cold"; give a number from -60 to 60 °C, or nothing for a missing day.',
        "2 faults; nothing was loaded.",
    ]
    run("dump", tmp_path / "out")
    assert (tmp_path / "out" / "daily_temperatures.csv").read_text() == TEXT


def test_a_record_without_a_garden_and_with_replace_is_told(run, tmp_path):
    (tmp_path / "weather.csv").write_text(TEXT)
    assert "no garden yet" in run("load", tmp_path / "weather.csv", status=1).stderr
    assert "--replace is for a folder" in run("load", "--replace", tmp_path / "weather.csv", status=2).stderr


def test_a_garden_that_goes_by_its_station_is_loaded_from_a_folder_and_dated(run, tmp_path):
    said = run("load", write_files(tmp_path / "g", BY_STATION)).stdout
    assert said.endswith("3 sowings, 7,305 daily temperatures.\n")
    # Last freezes from 1 to 20 May, by the normal law: 10.5 + 1.28155 x 5.91608 = 18.08.
    assert "0.1,2027-05-19," in run("frost", "--format", "csv").stdout


@pytest.mark.parametrize(
    ("record", "file", "right"),
    [
        (None, "garden.toml, line 16, [frost] source", "there is no daily_temperatures.csv beside it"),
        ("date,tmin_c\n", "garden.toml, line 16, [frost] source", "has no days below its header"),
        (
            text_of(rows_of(STEADY[:9])),
            "garden.toml, line 16, [frost] source",
            "9 usable years for spring; it takes 10",
        ),
        (text_of(rows_of([(None, None)] * 12)), "garden.toml, line 16, [frost] source", "too rarely for a date"),
        (text_of(temperatures(southern=True)), "daily_temperatures.csv", "Correct the latitude"),
    ],
    ids=["no file", "header alone", "few years", "no freezes", "a southern station"],
)
def test_a_folder_whose_station_gives_no_dates_is_refused(run, tmp_path, record, file, right):
    bad = write_files(tmp_path / "g", {**BY_STATION, "daily_temperatures.csv": record})
    (said, last) = run("load", bad, status=1).stderr.splitlines()
    assert said.startswith(file)
    assert right in said
    assert last == "1 fault; nothing was loaded."


def test_faults_of_the_record_come_with_those_of_the_other_files(run, tmp_path):
    files = {**BY_STATION, "daily_temperatures.csv": TEXT + "2020-12-31,1,2\n"}
    files["growers.csv"] = FILES["growers.csv"] + "Ana,3,,\n"
    said = run("load", write_files(tmp_path / "g", files), status=1).stderr
    assert "growers.csv, row 4, grower" in said
    assert "daily_temperatures.csv, row 7307, date" in said


def test_a_header_alone_is_no_record_for_a_garden_with_a_table(run, tmp_path):
    run("load", write_files(tmp_path / "g", {**FILES, "daily_temperatures.csv": "date,tmin_c\n"}))
    run("dump", tmp_path / "out")
    assert not (tmp_path / "out" / "daily_temperatures.csv").exists()


@pytest.mark.parametrize("keeps_dates", [True, False])
def test_what_goes_out_comes_in_and_goes_out_the_same(run, tmp_path, keeps_dates):
    files = dict(BY_STATION)
    if not keeps_dates:
        lines = files["garden.toml"].splitlines()
        files["garden.toml"] = "\n".join(line for line in lines if not line.startswith(("spring", "autumn")))
    run("load", write_files(tmp_path / "g", files))
    run("dump", tmp_path / "one")
    run("load", "--replace", tmp_path / "one")
    run("dump", tmp_path / "two")
    one, two = ({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("one", "two"))
    assert one == two
    assert one["daily_temperatures.csv"].decode() == TEXT
    assert (b"\nspring = " in one["garden.toml"]) == keeps_dates
    run("dump", "--replace", tmp_path / "two")


def test_a_copy_has_the_record_and_its_dates(run, tmp_path):
    run("load", write_files(tmp_path / "g", BY_STATION))
    target = f"sqlite:///{tmp_path / 'copy.sqlite3'}"
    run("copy", "--to", target)
    assert run("frost", "--database", target).stdout == run("frost").stdout


@pytest.mark.postgres
@pytest.mark.skipif(POSTGRES is None, reason="TRAYMATES_TEST_POSTGRES names no database")
def test_a_record_goes_to_postgresql_and_back(run, tmp_path, migrated):
    engine = migrated("postgresql")
    run("load", write_files(tmp_path / "g", BY_STATION))
    run("dump", tmp_path / "one")
    empty(engine)
    try:
        run("copy", "--to", POSTGRES)
        back = f"sqlite:///{tmp_path / 'back.sqlite3'}"
        run("copy", "--database", POSTGRES, "--to", back)
        run("dump", "--database", back, tmp_path / "two")
    finally:
        empty(engine)
    one, two = ({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("one", "two"))
    assert one == two


def test_a_bar_is_drawn_on_a_terminal_and_nowhere_else(there, start, tmp_path):
    path = there(text_of(temperatures(1921, 2020)))
    process = start("load", path)
    output, errors = process.communicate(timeout=60)
    assert process.returncode == 0
    assert "36\u00a0525 days" in output
    assert errors == ""
    script = "import sys; sys.stderr.isatty = lambda: True; from app.cli import main; main(prog_name='traymates')"
    output, errors = start("load", path, script=script).communicate(timeout=60)
    assert "Storing" in errors
    assert "36\u00a0525 days" in output
