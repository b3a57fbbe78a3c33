"""Frost dates, season fit, deadlines and ledger as they are printed."""

import csv
import io
import json
import re
from datetime import date
from itertools import pairwise
from statistics import NormalDist

import pytest

from tests.storage.small_folder import FILES, write_files

# The invented table of the demo garden, as it stands in seed_data/demo/garden.toml.
SPRING = {0.9: "2027-05-20", 0.5: "2027-06-01", 0.1: "2027-06-13"}
AUTUMN = {0.9: "2027-09-11", 0.5: "2027-08-30", 0.1: "2027-08-18"}


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_frost_gives_the_entered_dates_back_at_their_chances(demo):
    rows = {float(row["risk"]): row for row in rows_of(demo("frost", "--format", "csv").stdout)}
    assert list(rows) == [0.9, 0.5, 0.2, 0.1]
    for risk, spring in SPRING.items():
        autumn = AUTUMN[risk]
        assert (rows[risk]["spring"], rows[risk]["autumn"]) == (spring, autumn)
        assert int(rows[risk]["days"]) == (date.fromisoformat(autumn) - date.fromisoformat(spring)).days
    assert rows[0.5]["days"] == "90"


def test_frost_has_a_row_for_the_risk_the_garden_has_chosen(run, tmp_path):
    toml = FILES["garden.toml"].replace("\nrisk = 0.10", "\nrisk = 0.25")
    run("load", write_files(tmp_path / "g", {**FILES, "garden.toml": toml}))
    assert [row["risk"] for row in json.loads(run("frost", "--format", "json").stdout)] == [0.9, 0.5, 0.25, 0.2, 0.1]


@pytest.mark.parametrize("command", ["frost", "season", "deadlines", "ledger"])
def test_the_three_forms_say_the_same(demo, command):
    from_csv = rows_of(demo(command, "--format", "csv").stdout)
    from_json = json.loads(demo(command, "--format", "json").stdout)
    lines = demo(command).stdout.splitlines()
    assert len(from_csv) == len(from_json) == len(lines) - 1 > 3
    assert list(from_csv[0]) == list(from_json[0]) == re.split(r" +", lines[0].strip())
    for left, right in zip(from_csv, from_json, strict=True):
        assert {key: value or None for key, value in left.items()} == {
            key: None if value is None else f"{value:g}" if isinstance(value, float) else str(value)
            for key, value in right.items()
        }


def test_season_has_a_row_for_every_crop_card_with_verdict_and_days_to_spare(run, tmp_path):
    # By hand from tests/storage/small_folder.py: 25 April and 15 October in half the years, 10 May in 1 of 10.
    run("load", write_files(tmp_path / "g", FILES))
    rows = {row["crop"]: row for row in rows_of(run("season", "--format", "csv").stdout)}
    assert ",".join(rows["Carrot"]) == "crop,verdict,days_outdoors,days_indoors,chance_ripe"
    # 4 Apr + 70 + 14 = 27 Jun; 15 Oct + 14 = 29 Oct.
    assert list(rows["Carrot"].values())[1:4] == ["sow outside", "124", ""]
    # 10 May + 90 - 21 + 14 = 1 Aug; 15 Oct.
    assert list(rows["Squash"].values())[1:4] == ["start indoors", "", "75"]
    # 10 May + 70 + 14 = 2 Aug.
    assert list(rows["Tomato"].values())[1:4] == ["start indoors", "", "74"]
    late = FILES["garden.toml"].replace("10-01", "07-20").replace("10-15", "07-30").replace("10-30", "08-09")
    run("load", write_files(tmp_path / "g", {**FILES, "garden.toml": late}), "--replace")
    tomato = json.loads(run("season", "--format", "json").stdout)[2]
    assert (tomato["verdict"], tomato["days_outdoors"], tomato["days_indoors"]) == ("too long here", None, -3)
    # By 1 August, two days past the average, a freeze has come in Phi(2 / 7.803) of years, 10 days to 10 %.
    assert tomato["chance_ripe"] == pytest.approx(1 - NormalDist().cdf(2 * 1.28155 / 10), abs=1e-4)


def test_deadlines_have_the_columns_that_are_promised_and_a_row_for_every_sowing(demo):
    rows = rows_of(demo("deadlines", "--format", "csv", "--today", "2027-04-10").stdout)
    assert ",".join(rows[0]) == (
        "sowing,grower,crop,variety,plants,cells,seeds,container,sow_from,sow_best,sow_by,sow_on,last_chance,"
        "emerges,pot_on,harden,plant_out,warning"
    )
    assert [row["sowing"] for row in rows] == [f"S{number:03d}" for number in range(1, 501)]
    indoors = [row for row in rows if row["container"]]
    outside = [row for row in rows if not row["container"]]
    assert indoors
    assert outside
    for row in indoors:
        assert row["sow_from"] <= row["sow_on"] <= row["plant_out"]
        assert int(row["seeds"]) % int(row["cells"]) == 0
    for row in outside:
        assert {row[name] for name in ("cells", "seeds", "emerges", "pot_on", "harden", "plant_out")} == {""}


def test_a_crop_too_long_for_the_season_is_marked(demo):
    said = {row["warning"].partition(":")[0] for row in rows_of(demo("deadlines", "--format", "csv").stdout)}
    assert "too long here" in said


def test_the_ledger_lists_the_four_places_for_every_week_and_free_is_what_is_left(demo):
    rows = rows_of(demo("ledger", "--format", "csv").stdout)
    assert list(rows[0]) == ["week", "place", "positions", "needed", "free"]
    weeks = [row["week"] for row in rows[::4]]
    mondays = [date.fromisocalendar(int(week[:4]), int(week[6:]), 1) for week in weeks]
    assert {(after - before).days for before, after in pairwise(mondays)} == {7}
    assert [row["place"] for row in rows] == ["heat", "lamp", "window", "hardening"] * len(weeks)
    assert all(int(row["positions"]) - int(row["needed"]) == int(row["free"]) for row in rows)
    assert any(int(row["needed"]) for row in rows[:4])
    assert any(int(row["needed"]) for row in rows[-4:])


def test_texts_that_a_spreadsheet_would_run_are_made_harmless(run, tmp_path):
    files = {name: text.replace("Ana", "=1+1") for name, text in FILES.items()}
    run("load", write_files(tmp_path / "g", files))
    assert ",'=1+1," in run("deadlines", "--format", "csv").stdout
    assert json.loads(run("deadlines", "--format", "json").stdout)[0]["grower"] == "=1+1"


@pytest.mark.parametrize("command", ["frost", "season", "deadlines", "ledger", "dump out"])
def test_without_a_garden_the_way_to_one_is_told(run, command, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert "no garden yet" in run(*command.split(), status=1).stderr


@pytest.mark.parametrize("command", ["frost", "season", "deadlines", "ledger"])
def test_a_garden_without_sowings_gives_a_table(run, tmp_path, command):
    header = FILES["sowings.csv"].splitlines()[0] + "\n"
    run("load", write_files(tmp_path / "g", {**FILES, "sowings.csv": header}))
    for form in ("table", "csv", "json"):
        assert run(command, "--format", form).stdout


LATE = FILES | {
    "log.csv": "entry,sowing,kind,date,count\n1,S2,sown,2027-05-08,6\n",
}


def deadlines_on(run, day):
    return {row["sowing"]: row for row in rows_of(run("deadlines", "--format", "csv", "--today", day).stdout)}


def test_what_is_written_down_and_today_move_the_deadlines(run, tmp_path):
    # By hand from tests/storage/small_folder.py: squash comes up 6 days after it is sown.
    run("load", write_files(tmp_path / "g", LATE))
    assert deadlines_on(run, "2027-05-09")["S2"]["sow_on"] == "2027-05-08"
    assert deadlines_on(run, "2027-05-09")["S2"]["emerges"] == "2027-05-14"
    assert deadlines_on(run, "2027-05-20")["S2"]["emerges"] == "2027-05-20"  # due since, and nobody has seen it
    # Tomato S1 was to be sown on 1 April; not sown by then, it waits for the next Saturday.
    assert deadlines_on(run, "2027-04-01")["S1"]["sow_on"] == "2027-04-01"
    assert deadlines_on(run, "2027-04-05")["S1"]["sow_on"] == "2027-04-10"


def test_today_is_by_default_that_of_the_settings(run, tmp_path, monkeypatch):
    run("load", write_files(tmp_path / "g", LATE))
    monkeypatch.setenv("TRAYMATES_TODAY", "2027-04-05")
    plain = run("deadlines", "--format", "csv").stdout
    assert plain == run("deadlines", "--format", "csv", "--today", "2027-04-05").stdout
    assert plain != run("deadlines", "--format", "csv", "--today", "2027-04-01").stdout
    assert run("ledger").stdout == run("ledger", "--today", "2027-04-05").stdout
    assert run("ledger").stdout != run("ledger", "--today", "2027-07-20").stdout
