"""`traymates fit`: what it prints, what it accepts, and how it is stopped. The search itself is mostly a double."""

import csv
import io
import json
import os
import signal
import time
from datetime import date, timedelta
from pathlib import Path

import pytest
from sqlalchemy import select, text

from app.services import levelling_run
from app.storage.base import Base
from app.storage.engine import make_engine
from app.storage.models import Levelling, LevellingChange
from tests import levelling as double
from tests.cli.test_copy import rows_of
from tests.conftest import POSTGRES
from tests.storage.small_folder import FILES, write_files

ROOT = Path(__file__).parents[2]
DAY = ("--today", "2027-03-01")


@pytest.fixture
def small(run, tmp_path, monkeypatch):
    """Load the small folder; whoever searches sows all a week after the best day and leaves one plant of S1 out."""
    run("load", write_files(tmp_path / "small", FILES))
    monkeypatch.setattr(levelling_run, "level", double.a_week_later)
    monkeypatch.setattr(levelling_run, "BEAT_SECONDS", 0.02)
    return run


def deadlines(run):
    return {row["sowing"]: row for row in json.loads(run("deadlines", "--format", "json").stdout)}


def stored(path, column):
    engine = make_engine(f"sqlite:///{path}")
    with engine.connect() as connection:
        values = list(connection.scalars(select(column)))
    engine.dispose()
    return values


def a_week_after(day):
    return (date.fromisoformat(day) + timedelta(days=7)).isoformat()


def test_json_says_what_is_reached_what_moves_and_who_is_left_out(small):
    before = deadlines(small)
    found = json.loads(small("fit", "--seconds", "5", "--format", "json", *DAY).stdout)
    assert list(found) == ["goals", "gap", "moved", "left_out", "extra_positions"]
    assert found["goals"] == [
        {"name": "share", "value": 0.5, "bound": 0.75, "gap": 0.25},
        {"name": "plants", "value": 24.0, "bound": 24.0, "gap": 0.0},
        {"name": "days", "value": 42.0, "bound": 40.0, "gap": pytest.approx(2 / 42)},
        {"name": "trays", "value": 2.0, "bound": 2.0, "gap": 0.0},
    ]
    assert found["gap"] == 0.25
    assert found["extra_positions"] == {"heat": 0, "lamp": 3, "window": 0, "hardening": 1}
    moved = {row["sowing"]: row for row in found["moved"]}
    assert list(moved) == ["S1", "S2"]
    for name, row in moved.items():
        assert list(row) == ["sowing", "grower", "crop", "from", "to", "from_place", "to_place", "why"]
        assert row["from"] == before[name]["sow_on"]
        assert row["to"] == a_week_after(before[name]["sow_best"])
        assert row["why"]
    assert (moved["S1"]["grower"], moved["S1"]["crop"]) == ("Ana", "Tomato")
    assert (moved["S2"]["from_place"], moved["S2"]["to_place"]) == ("window", "window")
    (left,) = found["left_out"]
    assert list(left) == ["sowing", "grower", "crop", "plants", "placed", "why", "alternative"]
    assert (left["sowing"], left["plants"], left["placed"]) == ("S1", 6, 5)
    assert left["why"]
    assert left["alternative"] is None or set(left["alternative"]) == {"weeks", "sow_on", "plant_out"}


def test_the_three_forms_say_the_same(small):
    found = json.loads(small("fit", "--format", "json", *DAY).stdout)
    rows = list(csv.DictReader(io.StringIO(small("fit", "--format", "csv", *DAY).stdout)))
    tables = [part.splitlines() for part in small("fit", *DAY).stdout.split("\n\n")]
    for what in ("moved", "left_out"):
        own = [row for row in rows if row["what"] == what.replace("_", " ")]
        assert len(own) == len(found[what]) > 0
        for row, from_json in zip(own, found[what], strict=True):
            same = set(from_json) - {"alternative"}
            assert {name: row[name] for name in same} == {name: str(from_json[name]) for name in same}
    heads = [table[0].split() for table in tables]
    assert heads == [
        ["goal", "value", "bound", "gap"],
        list(found["moved"][0]),
        list(found["left_out"][0]),
        ["place", "extra_positions"],
    ]
    assert [len(table) - 1 for table in tables] == [4, len(found["moved"]), len(found["left_out"]), 4]


def test_the_real_search_makes_an_over_full_garden_fit(run, tmp_path):
    """Pots for 120 tomatoes and a tenth more, 18 on a tray, stand on 8 trays; under the lamps there is room for 4."""
    sowings = "sowing,grower,crop,plants\n" + "".join(f"S{number},Ana,Tomato,40\n" for number in (1, 2, 3))
    shelves = FILES["shelves.csv"].replace("Rack,lamp,122,61,3,,,16", "Rack,lamp,122,61,1,4,,16")
    run("load", write_files(tmp_path / "full", FILES | {"sowings.csv": sowings, "shelves.csv": shelves}))

    def most_over():
        return -min(row["free"] for row in json.loads(run("ledger", "--format", "json").stdout))

    assert most_over() == 8 - 4
    found = json.loads(run("fit", "--seconds", "10", "--accept", "--format", "json", *DAY).stdout)
    assert most_over() <= 0
    placed = {row["sowing"]: row["plants"] for row in deadlines(run).values()}
    wanted = dict.fromkeys(placed, 40)
    goals = {goal["name"]: goal for goal in found["goals"]}
    assert goals["share"]["value"] == pytest.approx(sum(placed.values()) / 120)  # one grower has all
    assert goals["plants"]["value"] == 2 * sum(placed.values())  # each of priority 2
    assert {row["sowing"]: row["placed"] for row in found["left_out"]} == {
        name: plants for name, plants in placed.items() if plants < wanted[name]
    }
    assert found["extra_positions"]["lamp"] > 0
    assert found["gap"] == max(goal["gap"] for goal in found["goals"]) < 1e-9


def test_nothing_changes_unless_it_is_accepted(small, surroundings):
    before = deadlines(small)
    small("fit", *DAY)
    assert deadlines(small) == before
    assert stored(surroundings, Levelling.state) == ["finished"]


def test_accepting_changes_what_was_printed(small, surroundings):
    before = deadlines(small)
    result = small("fit", "--accept", "--format", "json", *DAY)
    assert "2 sowings changed" in result.stderr
    after = deadlines(small)
    for row in json.loads(result.stdout)["moved"]:
        assert after[row["sowing"]]["sow_on"] == row["to"]
    assert [row["plants"] for row in after.values()] == [5, 4, 50]
    assert after["S3"] == before["S3"]
    assert stored(surroundings, Levelling.state) == ["accepted"]


def test_where_nothing_changes_there_is_nothing_to_accept(small, monkeypatch):
    def as_it_is(garden, **rest):
        answer = double.a_week_later(garden, **rest)
        return double.replace(answer, choices=double.choices_of(garden))

    monkeypatch.setattr(levelling_run, "level", as_it_is)
    result = small("fit", "--accept", *DAY)
    assert "Nothing changes" in result.stderr


def test_what_was_changed_meanwhile_is_not_overrun(small, surroundings, monkeypatch):
    def while_somebody_changes(garden, **rest):
        engine = make_engine(f"sqlite:///{surroundings}")
        with engine.begin() as connection:
            connection.execute(text("UPDATE sowing SET plants = 7 WHERE name = 'S1'"))
            connection.execute(text("UPDATE data_version SET mark = 'another'"))
        engine.dispose()
        return double.a_week_later(garden, **rest)

    monkeypatch.setattr(levelling_run, "level", while_somebody_changes)
    result = small("fit", "--accept", *DAY, status=1)
    assert "was changed" in result.stderr
    assert result.stdout == ""
    assert stored(surroundings, LevellingChange.is_accepted) == [False, False]


def test_only_one_runs_at_a_time(small, monkeypatch):
    def while_another_is_started(garden, **rest):
        assert "already" in small("fit", *DAY, status=1).stderr
        return double.a_week_later(garden, **rest)

    monkeypatch.setattr(levelling_run, "level", while_another_is_started)
    small("fit", *DAY)


def test_a_search_that_breaks_off_is_one_sentence(small, monkeypatch):
    monkeypatch.setattr(levelling_run, "level", double.breaks_off)
    assert "broke off" in small("fit", *DAY, status=1).stderr


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_ends_the_search_and_keeps_the_best(small, surroundings, start, tmp_path, number):
    path = os.pathsep.join([str(double.install(tmp_path / "double", "until_stopped")), str(ROOT)])
    process = start("fit", "--format", "json", "--accept", *DAY, env={"PYTHONPATH": path})
    end = time.monotonic() + 20
    while not any(stored(surroundings, Levelling.reached)):
        assert time.monotonic() < end
        assert process.poll() is None, process.stderr.read()
        time.sleep(0.05)
    process.send_signal(number)
    out, said = process.communicate(timeout=20)
    assert process.returncode == 0, said
    assert [row["sowing"] for row in json.loads(out)["moved"]] == ["S1", "S2"]
    assert stored(surroundings, Levelling.state) == ["accepted"]


def test_without_a_garden_the_way_to_one_is_told(run):
    assert "no garden yet" in run("fit", status=1).stderr


@pytest.mark.parametrize("seconds", ["0", "-1", "soon", "1e9"])
def test_a_time_that_is_none_is_wrong_usage(run, seconds):
    run("fit", "--seconds", seconds, status=2)


def test_a_garden_folder_has_no_levellings_and_another_garden_leaves_none(small, surroundings, tmp_path):
    small("fit", "--accept", *DAY)
    small("dump", tmp_path / "out")
    assert not list((tmp_path / "out").glob("*level*"))
    small("load", "--replace", tmp_path / "out")
    assert stored(surroundings, Levelling.id) == stored(surroundings, LevellingChange.sowing_id) == []
    assert deadlines(small)["S1"]["plants"] == 5


@pytest.mark.parametrize(
    "target",
    [
        "sqlite",
        pytest.param(
            "postgresql",
            marks=[
                pytest.mark.postgres,
                pytest.mark.skipif(POSTGRES is None, reason="TRAYMATES_TEST_POSTGRES names no database"),
            ],
        ),
    ],
)
def test_levellings_are_copied_with_everything_else_and_go_on_there(small, surroundings, tmp_path, migrated, target):
    small("fit", *DAY)
    small("fit", "--accept", *DAY)
    url = f"sqlite:///{tmp_path / 'copy.sqlite3'}" if target == "sqlite" else POSTGRES
    if target == "postgresql":
        engine = migrated("postgresql")
    try:
        small("copy", "--to", url)
        rows = rows_of(url)
        assert rows == rows_of(f"sqlite:///{surroundings}")
        assert (len(rows["levelling"]), len(rows["levelling_change"])) == (2, 4)
        small("fit", "--database", url, *DAY)
        assert len(rows_of(url)["levelling"]) == 3
    finally:
        if target == "postgresql":
            with engine.begin() as connection:
                for table in reversed(Base.metadata.sorted_tables):
                    if table.name != "data_version":
                        connection.execute(table.delete())
