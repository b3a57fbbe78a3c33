"""What goes out into a folder comes back as it was."""

from collections import Counter
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from sqlalchemy import func, insert, select

from app.core.words import Place
from app.services.folder import DEMO_FOLDER, NotEmptyError, dump_folder, load_demo, load_folder
from app.storage.base import Base
from app.storage.folder import FolderError, FolderInUseError
from app.storage.folder.writing import folder_files
from app.storage.models import Grower, Stay, Tray
from app.storage.queries.house import get_house
from app.storage.queries.version import get_mark
from app.storage.tables import delete_all
from tests.lengths import TIMES
from tests.storage.random_gardens import gardens
from tests.storage.small_folder import DEALT, FILES, write_files

# What a database knows beyond the garden that is in it.
OF_THE_DATABASE = {"account", "data_version", "history", "last_number"}


def rows_of(session):
    """Return all rows of the garden; ids that mean nothing are left out, and a tray goes by its number."""
    found = {}
    for table in Base.metadata.sorted_tables:
        if table.name in {"frost_point", "tray", "cell", "stay"}:
            query = select(*(_number_of_tray(column) for column in table.c if column.name != "id"))
            found[table.name] = sorted(map(tuple, session.connection().execute(query)), key=repr)
        elif table.name not in OF_THE_DATABASE:
            query = select(*map(_number_of_tray, table.c)).order_by(*table.primary_key)
            found[table.name] = [tuple(row) for row in session.connection().execute(query)]
    return found


def _number_of_tray(column):
    tray = Base.metadata.tables["tray"]
    return select(tray.c.number).where(tray.c.id == column).scalar_subquery() if column.name == "tray_id" else column


@given(garden=gardens())
@settings(max_examples=80 * TIMES, deadline=None, suppress_health_check=list(HealthCheck))
def test_load_after_dump_is_the_identity_and_a_second_dump_gives_the_same_bytes(session, tmp_path, garden):
    delete_all(session)
    for name, rows in garden.items():
        if rows:
            session.connection().execute(insert(Base.metadata.tables[name]), rows)
    before = rows_of(session)
    files, _ = folder_files(session)
    for old in tmp_path.iterdir():
        old.unlink()
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
    load_folder(session, tmp_path, replace=True)
    assert rows_of(session) == before
    assert folder_files(session)[0] == files
    session.rollback()


def test_the_demo_garden_goes_out_and_in_again(session, tmp_path):
    load_demo(session)
    get_house(session).holds_demo = False  # what comes in is a garden like any other
    session.flush()
    before = rows_of(session)
    dump_folder(session, tmp_path / "out")
    load_folder(session, tmp_path / "out", replace=True)
    assert rows_of(session) == before
    dump_folder(session, tmp_path / "again")
    assert {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()} == {
        path.name: path.read_bytes() for path in (tmp_path / "again").iterdir()
    }


def test_a_small_folder_is_loaded_as_it_says(session, tmp_path):
    counts = load_folder(session, write_files(tmp_path / "g", FILES))
    assert counts == {
        "growers.csv": 2,
        "containers.csv": 2,
        "crops.csv": 3,
        "shelves.csv": 4,
        "seed_lots.csv": 2,
        "sowings.csv": 3,
    }
    rows = rows_of(session)
    assert rows["grower"] == [(1, "Ana", "1", "ana@example.org", "saturday sunday"), (2, "Ben", "2", None, None)]
    assert [row[1] for row in rows["crop"]] == ["Tomato", "Squash", "Carrot"]
    assert [tuple(row)[1:6] for row in rows["sowing"]] == [
        ("S1", 1, 1, 1, 6),
        ("S2", 2, 2, None, 4),
        ("S3", 2, 3, 2, 50),
    ]


def test_dealt_trays_are_loaded_with_all_their_cells(session, tmp_path):
    told = []
    counts = load_folder(session, write_files(tmp_path / "g", DEALT), tell=lambda *numbers: told.append(numbers))
    assert (counts["trays.csv"], counts["cells.csv"], counts["stays.csv"]) == (3, 5, 6)
    rows = rows_of(session)
    assert rows["tray"] == [
        (101, 1, date(2027, 4, 1), False, True),
        (102, 2, date(2027, 4, 24), False, False),
        (103, 2, date(2027, 4, 29), True, False),
    ]
    assert Counter(row[0] for row in rows["cell"]) == {101: 72, 102: 18, 103: 18}
    assert max(row[1:3] for row in rows["cell"] if row[0] == 101) == (6, 12)
    assert [row for row in rows["cell"] if row[3] is not None] == [
        (101, 1, 1, 1, "sown"),
        (101, 1, 2, 1, "up"),
        (101, 6, 12, 1, "empty"),
        (102, 1, 1, 2, "empty"),
        (103, 3, 6, 1, "potted on"),
    ]
    assert {row[3:] for row in rows["cell"] if row[3] is None} == {(None, "empty")}
    assert rows["stay"][1] == (101, "lamp", 1, 1, 2, date(2027, 4, 8), date(2027, 4, 29), True)
    assert rows["stay"][3] == (102, "window", None, None, None, date(2027, 4, 30), date(2027, 5, 14), False)
    assert told[-1] == (sum(counts.values()) - 5 + 72 + 18 + 18,) * 2


def test_trays_without_a_file_of_cells_have_free_cells(session, tmp_path):
    load_folder(session, write_files(tmp_path / "g", {**DEALT, "cells.csv": None}))
    assert {row[3:] for row in rows_of(session)["cell"]} == {(None, "empty")}
    assert len(rows_of(session)["cell"]) == 72 + 18 + 18


def test_trays_are_written_by_number_cells_by_row_and_column_and_stays_by_day(session, tmp_path):
    header, *lines = DEALT["trays.csv"].splitlines()
    turned = "\n".join([header, *reversed(lines)])
    free = "101,B,1,,\n"  # says nothing, and is not written
    files = {**DEALT, "trays.csv": turned, "cells.csv": DEALT["cells.csv"] + free}
    for name in ("cells.csv", "stays.csv"):
        header, *lines = files[name].splitlines()
        files[name] = "\n".join([header, *reversed(lines)])
    load_folder(session, write_files(tmp_path / "g", files))
    written, counts = folder_files(session)
    assert written["trays.csv"].decode() == DEALT["trays.csv"].replace("24,,", "24,no,no")
    assert written["cells.csv"].decode() == DEALT["cells.csv"].replace("12,S1,", "12,S1,empty")
    assert written["stays.csv"].decode() == "".join(
        line + ("no\n" if line.endswith(",") else "\n") for line in DEALT["stays.csv"].splitlines()
    )
    assert (counts["trays.csv"], counts["cells.csv"], counts["stays.csv"]) == (3, 5, 6)


def test_where_nothing_is_dealt_the_files_have_their_header_alone(session, tmp_path):
    load_folder(session, write_files(tmp_path / "g", FILES))
    written, _ = folder_files(session)
    for name in ("trays.csv", "cells.csv", "stays.csv"):
        assert written[name].decode() == DEALT[name].splitlines()[0] + "\n"
    load_folder(session, write_files(tmp_path / "h", written), replace=True)


def test_trays_dealt_after_a_load_get_new_ids(session, tmp_path):
    load_folder(session, write_files(tmp_path / "g", DEALT))
    highest = session.scalar(select(func.max(Tray.id))), session.scalar(select(func.max(Stay.id)))
    tray = Tray(number=104, container_id=1, sow_on=date(2027, 5, 1), potted_on=False, pinned=False)
    session.add(tray)
    session.flush()  # the next id is free on every engine
    session.add(
        Stay(tray_id=tray.id, place=Place.LAMP, begin_on=date(2027, 5, 1), end_on=date(2027, 5, 2), pinned=False)
    )
    session.flush()
    assert tray.id > highest[0]
    assert session.scalar(select(func.max(Stay.id))) > highest[1]
    load_folder(session, tmp_path / "g", replace=True)
    assert len(rows_of(session)["tray"]) == 3


def test_numbers_are_written_as_short_as_can_be(session, tmp_path):
    load_folder(session, write_files(tmp_path / "g", FILES))
    files, _ = folder_files(session)
    assert b"Plug,72,40,6,12\nPot,18,350.5,,\n" in files["containers.csv"]
    assert b"tray_cm = [54.5, 28]\n" in files["garden.toml"]
    assert b'spring = { p90 = "04-10", p50 = "04-25", p10 = "05-10" }\n' in files["garden.toml"]


def test_a_byte_order_mark_and_windows_line_ends_are_accepted(session, tmp_path):
    spoilt = {name: b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode() for name, text in FILES.items()}
    assert load_folder(session, write_files(tmp_path / "g", spoilt))["sowings.csv"] == 3
    plain = folder_files(session)
    load_folder(session, write_files(tmp_path / "h", FILES), replace=True)
    assert folder_files(session) == plain


def test_quoted_line_breaks_blank_rows_and_empty_columns_at_the_end_are_accepted(session, tmp_path):
    growers = 'grower,plot,contact,days,,\nAna,1,"12 Low Lane\nby the mill",saturday,,\n,,,,,\n\nBen,2,,,,\n'
    load_folder(session, write_files(tmp_path / "g", {**FILES, "growers.csv": growers}))
    assert [row[:4] for row in rows_of(session)["grower"]] == [
        (1, "Ana", "1", "12 Low Lane\nby the mill"),
        (2, "Ben", "2", None),
    ]


def test_crop_cards_and_containers_come_from_the_program_where_a_folder_has_none(session, tmp_path):
    files = {**FILES, "crops.csv": None, "containers.csv": None, "seed_lots.csv": None}
    files["sowings.csv"] = "sowing,grower,crop,plants\nS1,Ana,Tomato,6\n"
    counts = load_folder(session, write_files(tmp_path / "g", files))
    assert counts["crops.csv"] >= 45
    assert (counts.get("seed_lots.csv"), counts["sowings.csv"]) == (None, 1)


def test_a_crop_sown_outside_needs_none_of_the_indoor_figures(session, tmp_path):
    crops = FILES["crops.csv"].replace("70,seed,,,,,,,-3", "70,seed,9,15,no,,1,,-3")
    load_folder(session, write_files(tmp_path / "g", FILES))
    row = next(row for row in rows_of(session)["crop"] if row[1] == "Carrot")
    load_folder(session, write_files(tmp_path / "h", {**FILES, "crops.csv": crops}), replace=True)
    filled = next(row for row in rows_of(session)["crop"] if row[1] == "Carrot")
    assert sum(left != right for left, right in zip(row, filled, strict=True)) == 2  # days to emerge, temperature


def test_a_pair_of_dates_is_taken_as_the_dates_of_50_percent(session, tmp_path):
    toml = FILES["garden.toml"].replace('"table"', '"dates"')
    lines = [line for line in toml.splitlines() if not line.startswith(("spring", "autumn"))]
    lines.insert(lines.index("[frost]") + 1, 'spring = "05-10"\nautumn = "09-26"')
    load_folder(session, write_files(tmp_path / "g", {**FILES, "garden.toml": "\n".join(lines)}))
    assert [row[1:] for row in rows_of(session)["frost_point"]] == [(50, "09-26"), (50, "05-10")]
    assert b'spring = "05-10"\nautumn = "09-26"\n' in folder_files(session)[0]["garden.toml"]


def test_what_is_left_out_of_the_settings_has_its_usual_value(session, tmp_path):
    toml = (
        '[garden]\nname = "G"\nseason = 2027\n[site]\nlatitude = 1\n[frost]\n'
        'spring = { p50 = "05-01", p10 = "05-15" }\nautumn = { p10 = "09-01", p50 = "09-15" }\n'
    )
    load_folder(session, write_files(tmp_path / "g", {**FILES, "garden.toml": toml}))
    assert rows_of(session)["garden"] == [
        (1, "G", 2027, "metric", "en", "saturday", "saturday", None, 54.5, 28.0, 1.0, 0.0, 0.0,
         "table", "normal", 0.0, None, 0.1, 0.5, 0.9, 0.9, 0.1)
    ]  # fmt: skip


def test_a_garden_that_is_there_is_only_replaced_when_asked(session, tmp_path):
    folder = write_files(tmp_path / "g", FILES)
    load_folder(session, folder)
    with pytest.raises(NotEmptyError):
        load_folder(session, folder)
    assert load_folder(session, folder, replace=True)["growers.csv"] == 2
    session.add(Grower(name="New"))
    session.flush()  # the next id is free on every engine, and was never given
    *loaded, added = [row[0] for row in rows_of(session)["grower"]]
    assert loaded == [1, 2]
    assert added > 2


def test_loading_gives_the_data_a_new_mark(session, tmp_path):
    before = get_mark(session)
    load_folder(session, write_files(tmp_path / "g", FILES))
    assert get_mark(session) != before


def test_dump_writes_over_nothing_that_is_not_its_own(session, tmp_path):
    load_folder(session, DEMO_FOLDER)
    out = tmp_path / "out"
    out.mkdir()
    dump_folder(session, out)
    with pytest.raises(FolderInUseError, match="--replace"):
        dump_folder(session, out)
    (out / "growers.csv").write_text("spoilt")
    dump_folder(session, out, replace=True)
    assert (out / "growers.csv").read_text() != "spoilt"
    (out / "notes.txt").write_text("mine")
    with pytest.raises(FolderInUseError, match=r"notes\.txt"):
        dump_folder(session, out, replace=True)
    assert (out / "notes.txt").read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_dump_leaves_nothing_half_done_when_writing_fails(session, tmp_path, monkeypatch):
    load_folder(session, DEMO_FOLDER)
    out = tmp_path / "out"
    dump_folder(session, out)
    before = {path.name: path.read_bytes() for path in out.iterdir()}

    def full(_number):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("app.storage.folder.writing.os.fsync", full)
    with pytest.raises(FolderError, match="No space left"):
        dump_folder(session, out, replace=True)
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_there_must_be_a_garden_to_dump(session, tmp_path):
    with pytest.raises(FolderError, match="no garden"):
        dump_folder(session, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []
