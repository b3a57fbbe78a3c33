"""`traymates trays`: the trays as they are dealt, or as dealing would have them."""

import csv
import io
import json
from datetime import date

import pytest

from tests.storage.small_folder import DEALT, FILES, write_files

COLUMNS = "tray,container,sow_on,places,position,cells_used,cells,sowings,dealt"


def table(run, *args):
    return list(csv.DictReader(io.StringIO(run("trays", "--format", "csv", *args).stdout)))


def objects(run, *args):
    return json.loads(run("trays", "--format", "json", *args).stdout)


@pytest.fixture
def small(run, tmp_path):
    """The small folder, of which nothing is dealt."""
    run("load", write_files(tmp_path / "small", FILES))
    return run


def test_a_garden_that_is_not_dealt_shows_the_trays_as_they_would_be_and_stores_nothing(small, tmp_path):
    rows = table(small)
    assert ",".join(rows[0]) == COLUMNS
    assert [row["tray"] for row in rows] == [str(number) for number in range(1, len(rows) + 1)]
    assert {row["dealt"] for row in rows} == {"no"}
    small("dump", tmp_path / "out")
    for name in ("trays.csv", "cells.csv", "stays.csv"):
        assert len((tmp_path / "out" / name).read_text().splitlines()) == 1  # the header


def test_dealing_stores_what_was_shown_and_a_second_time_changes_nothing(small, tmp_path):
    shown = table(small)
    dealt = table(small, "--deal")
    assert dealt == [row | {"dealt": "yes"} for row in shown]
    assert table(small) == dealt
    small("dump", tmp_path / "one")
    small("trays", "--deal")
    small("dump", tmp_path / "two")
    one, two = ({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("one", "two"))
    assert one == two
    assert "trays.csv" in one


def test_days_can_be_dealt_one_after_the_other(demo, tmp_path):
    demo("dump", tmp_path / "whole")
    files = {path.name: path.read_text() for path in (tmp_path / "whole").iterdir()}
    bare = {
        name: text for name, text in files.items() if name not in {"trays.csv", "cells.csv", "stays.csv", "log.csv"}
    }
    demo("load", "--replace", write_files(tmp_path / "bare", bare))
    season = table(demo, "--today", "2027-02-01")
    first = table(demo, "--deal", "--from", "2027-02-20", "--to", "2027-02-27", "--today", "2027-02-01")
    assert first == [row | {"dealt": "yes"} for row in season if row["sow_on"] <= "2027-02-27"]
    after = table(demo, "--today", "2027-02-01")
    assert [row["dealt"] for row in after] == ["yes"] * len(first) + ["no"] * (len(season) - len(first))
    # The same trays and as few without a position; which of several equal positions a tray gets may differ.
    same = [name for name in COLUMNS.split(",") if name not in {"position", "dealt"}]
    assert [[row[name] for name in same] for row in after] == [[row[name] for name in same] for row in season]
    positions = [[at for row in rows for at in row["position"].split("; ")] for rows in (season, after)]
    assert positions[0].count("waits") == positions[1].count("waits")
    assert len(set(positions[0])) == len(set(positions[1]))


def test_the_demo_is_dealt_and_agrees_with_its_deadlines(demo):
    rows = objects(demo, "--today", "2027-04-10")
    deadlines = {row["sowing"]: row for row in json.loads(demo("deadlines", "--format", "json").stdout)}
    cells = {}
    for row in rows:
        assert row["dealt"] == "yes"
        assert row["cells_used"] == sum(part["cells"] for part in row["sowings"]) <= row["cells"]
        for part in row["sowings"]:
            wanted = deadlines[part["sowing"]]
            if row["container"] == wanted["container"] and row["sow_on"] == wanted["sow_on"]:
                cells[part["sowing"]] = cells.get(part["sowing"], 0) + part["cells"]
    assert cells == {name: row["cells"] for name, row in deadlines.items() if row["cells"]}


def test_no_position_of_the_demo_has_two_trays_on_one_day(demo):
    taken = set()
    for row in objects(demo, "--today", "2027-04-10"):
        assert len(row["places"]) == len(row["position"]) > 0
        for place, position in zip(row["places"], row["position"], strict=True):
            first, end = (date.fromisoformat(place[name]).toordinal() for name in ("from", "to"))
            days = {(position, day) for day in range(first, end)} if position else set()
            assert not days & taken
            taken |= days


def test_as_many_stay_without_a_position_as_a_count_by_day_demands(demo):
    """On the fullest day as many lamp trays wait as there are more than positions: an own count over the days."""
    stays = [
        (place, position)
        for row in objects(demo)
        for place, position in zip(row["places"], row["position"], strict=True)
        if place["place"] == "lamp"
    ]
    counts = {}
    for place, position in stays:
        first, end = (date.fromisoformat(place[name]).toordinal() for name in ("from", "to"))
        for day in range(first, end):
            all_there, placed = counts.get(day, (0, 0))
            counts[day] = all_there + 1, placed + (position is not None)
    positions = 44  # of four lamp shelves: 16, 16, 8 and 4
    assert max(all_there for all_there, _ in counts.values()) == 67
    assert max(placed for _, placed in counts.values()) == positions


def test_the_three_forms_say_the_same(demo):
    from_csv, from_json = table(demo), objects(demo)
    lines = demo("trays").stdout.splitlines()
    assert len(lines) - 1 == len(from_csv) == len(from_json) > 100
    assert list(from_csv[0]) == list(from_json[0]) == lines[0].split()
    for text, row in zip(from_csv, from_json, strict=True):
        places = "; ".join(f"{place['place']} {place['from']} to {place['to']}" for place in row["places"])
        assert text == {
            "tray": str(row["tray"]),
            "container": row["container"],
            "sow_on": row["sow_on"],
            "places": places,
            "position": "; ".join(position or "waits" for position in row["position"]),
            "cells_used": str(row["cells_used"]),
            "cells": str(row["cells"]),
            "sowings": "; ".join(f"{part['sowing']} {part['cells']}" for part in row["sowings"]),
            "dealt": row["dealt"],
        }


def test_a_tray_that_a_deal_would_change_is_not_called_dealt(demo, tmp_path):
    demo("dump", tmp_path / "out")
    sowings = (tmp_path / "out" / "sowings.csv").read_text().splitlines()
    at = next(number for number, line in enumerate(sowings) if line.startswith("S060,"))  # one of 10 April, tray 39
    (tmp_path / "out" / "sowings.csv").write_text("\n".join(sowings[:at] + sowings[at + 1 :]) + "\n")
    cells = (tmp_path / "out" / "cells.csv").read_text().splitlines()
    (tmp_path / "out" / "cells.csv").write_text("\n".join(line for line in cells if ",S060," not in line) + "\n")
    demo("load", "--replace", tmp_path / "out")
    assert {row["dealt"] for row in table(demo, "--today", "2027-04-10")} == {"yes"}
    sowings[at] = sowings[at].replace("S060", "S999")
    (tmp_path / "out" / "sowings.csv").write_text("\n".join(sowings) + "\n")
    demo("load", "--replace", tmp_path / "out")
    changed = [row for row in table(demo, "--today", "2027-04-10") if row["dealt"] == "no"]
    assert changed
    assert any("S999" in row["sowings"] for row in changed)
    assert {row["dealt"] for row in table(demo, "--deal", "--today", "2027-04-10")} == {"yes"}


def test_a_tray_without_sowings_has_a_row(run, tmp_path):
    files = DEALT | {"cells.csv": "\n".join(DEALT["cells.csv"].splitlines()[:1]) + "\n"}
    run("load", write_files(tmp_path / "g", files))
    numbers = [line.split(",")[0] for line in DEALT["trays.csv"].splitlines()[1:]]
    empty = [row for row in table(run) if row["tray"] in numbers]
    assert [row["tray"] for row in empty] == sorted(numbers, key=int)
    assert {(row["cells_used"], row["sowings"], row["places"]) for row in empty} == {("0", "", "")}


def test_a_shelf_named_like_a_formula_is_harmless_in_a_spreadsheet(run, tmp_path):
    files = {name: text.replace("Rack", "=1+1") for name, text in FILES.items()}
    assert files != FILES
    run("load", write_files(tmp_path / "g", files))
    assert any(row["position"].startswith("'=1+1") for row in table(run))


def test_days_the_wrong_way_round_are_wrong_usage(small):
    said = small("trays", "--from", "2027-05-02", "--to", "2027-05-01", status=2).stderr
    assert "lies before" in said
    assert small("trays", "--from", "May", status=2).stderr


def test_without_a_garden_the_way_to_one_is_told(run):
    assert "no garden yet" in run("trays", status=1).stderr
    assert "no garden yet" in run("trays", "--deal", status=1).stderr


def test_a_garden_without_sowings_gives_a_head(run, tmp_path):
    header = FILES["sowings.csv"].splitlines()[0] + "\n"
    run("load", write_files(tmp_path / "g", {**FILES, "sowings.csv": header}))
    assert run("trays", "--format", "csv").stdout == COLUMNS + "\n"
    assert json.loads(run("trays", "--deal", "--format", "json").stdout) == []
