"""Garden folders of very many rows: read, checked and loaded, held against the driver's own executemany."""

import random

import pytest
from sqlalchemy import insert, select

from app.core.space.grid import row_letters
from app.services.folder import load_folder
from app.storage import Session
from app.storage.base import Base
from app.storage.engine import make_engine
from app.storage.schema import upgrade
from tests.benchmarks.timing import ratio, report
from tests.lengths import TIMES
from tests.storage.small_folder import DEALT, FILES, write_files

SOWING_COUNT = 10_000 * TIMES
TRAY_COUNT = 125 * TIMES
TRAY_ROWS, TRAY_COLUMNS = 8, 10
CELL_COUNT = TRAY_COUNT * TRAY_ROWS * TRAY_COLUMNS
GROWER_COUNT = 500
ROUNDS = 3
CROPS = ("Tomato", "Squash", "Carrot")


@pytest.fixture(scope="module")
def sowings_folder(tmp_path_factory):
    """Return a folder with many sowings whose optional columns are partly filled."""
    draw = random.Random(7)
    growers = "".join(f"Grower {number},{number},,saturday\n" for number in range(GROWER_COUNT))
    lines = [FILES["sowings.csv"].splitlines()[0]]
    for number in range(SOWING_COUNT):
        crop = draw.choice(CROPS)
        lot = {"Tomato": "L1", "Carrot": "L2"}.get(crop, "") if draw.random() < 0.5 else ""
        own = draw.choice(["", f"2027-05-{draw.randint(10, 31)}"])
        grower, plants, days = f"Grower {draw.randrange(GROWER_COUNT)}", draw.randint(1, 60), draw.choice(["", 75])
        variety, priority, risk = f"Kind {draw.randrange(80)}", draw.choice(["", 1, 2, 3]), draw.choice(["", 0.2])
        lines.append(f"S{number:06},{grower},{crop},{plants},{variety},{days},{lot},{priority},{own},{risk},,,")
    files = {**FILES, "growers.csv": "grower,plot,contact,days\n" + growers, "sowings.csv": "\n".join(lines)}
    return write_files(tmp_path_factory.mktemp("large") / "garden", files)


@pytest.fixture(scope="module")
def cells_folder(tmp_path_factory):
    """Return a folder with many cells of dealt trays, all of which belong to a sowing."""
    draw = random.Random(7)
    trays, cells = ([DEALT[name].splitlines()[0]] for name in ("trays.csv", "cells.csv"))
    for tray in range(1, TRAY_COUNT + 1):
        trays.append(f"{tray},Plug,2027-04-01,,")
        for row in range(1, TRAY_ROWS + 1):
            state = draw.choice(["", "sown", "up", "lost"])
            cells += [
                f"{tray},{row_letters(row)},{column},S{draw.randint(1, 2)},{state}"
                for column in range(1, TRAY_COLUMNS + 1)
            ]
    files = {
        **FILES,
        "containers.csv": FILES["containers.csv"].replace("72,40,6,12", f"80,40,{TRAY_ROWS},{TRAY_COLUMNS}"),
        "trays.csv": "\n".join(trays),
        "cells.csv": "\n".join(cells),
    }
    return write_files(tmp_path_factory.mktemp("cells") / "garden", files)


@pytest.fixture
def empty_databases(tmp_path):
    """Return a function that gives one new, migrated database after the other, made before anything is timed."""
    made = []
    for number in range(2 * (ROUNDS + 1) + 1):
        engine = make_engine(f"sqlite:///{tmp_path / f'{number}.sqlite3'}")
        upgrade(engine)
        made.append(engine)
    unused = list(made)
    yield unused.pop
    for engine in made:
        engine.dispose()


def load(engine, folder):
    with Session(engine) as session:
        load_folder(session, folder)
        session.commit()


def driver_rows(engine, name, others):
    """Return the rows of a table as the driver gives them, and the rows that they refer to."""
    table = Base.metadata.tables[name]
    key = ", ".join(column.name for column in table.primary_key)
    with engine.connect() as connection:
        rows = [tuple(row) for row in connection.exec_driver_sql(f"SELECT * FROM {name} ORDER BY {key}")]
        referred = {
            table: [dict(row) for row in connection.execute(select(table)).mappings()]
            for table in Base.metadata.sorted_tables
            if table.name in others
        }
    assert len(rows[0]) == len(table.c)
    return rows, referred


def times_of_the_driver(folder, empty_databases, name, count, others):
    """Return the time of loading a folder over that of the driver's executemany of its largest table."""
    first = empty_databases()
    load(first, folder)
    rows, referred = driver_rows(first, name, others)
    assert len(rows) == count
    ready = []
    for _ in range(ROUNDS + 1):
        engine = empty_databases()
        with engine.begin() as connection:
            for table, found in referred.items():
                connection.execute(insert(table), found)
        ready.append(engine)
    statement = f"INSERT INTO {name} VALUES ({', '.join('?' * len(rows[0]))})"

    def by_the_driver():
        connection = ready.pop().raw_connection()
        cursor = connection.cursor()
        cursor.execute("BEGIN IMMEDIATE")
        cursor.executemany(statement, rows)
        cursor.execute("COMMIT")
        connection.close()

    return ratio(lambda: load(empty_databases(), folder), by_the_driver, rounds=ROUNDS)


@pytest.mark.soak
def test_a_folder_of_many_sowings_is_loaded_within_three_times_the_drivers_executemany(sowings_folder, empty_databases):
    others = {"grower", "container", "crop", "seed_lot"}
    times = times_of_the_driver(sowings_folder, empty_databases, "sowing", SOWING_COUNT, others)
    report(f"folder of {SOWING_COUNT} sowings, times the driver's executemany", times, 3)
    assert times <= 3


@pytest.mark.soak
def test_a_folder_of_many_cells_is_loaded_within_three_times_the_drivers_executemany(cells_folder, empty_databases):
    others = {"grower", "container", "crop", "seed_lot", "sowing", "tray"}
    times = times_of_the_driver(cells_folder, empty_databases, "cell", CELL_COUNT, others)
    report(f"folder of {CELL_COUNT} cells of trays, times the driver's executemany", times, 3)
    assert times <= 3
