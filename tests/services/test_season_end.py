"""Carrying a season into the next: what stays, what leaves, and that a break in between leaves the old one whole.

The learning is checked by carrying one season and comparing what is known of the seed before and after; names and
figures are invented.
"""

import signal
import subprocess
import sys
from datetime import date, timedelta

import numpy as np
import pytest
from sqlalchemy import func, select

from app.core.house.retention import Keeping
from app.core.words import LevellingState, LogKind, NumberKind, Tick
from app.services.backups import backup_folder, list_kept, remove_unkept, restore_backup
from app.services.folder import dump_folder, load_folder
from app.services.levelling import start_levelling
from app.services.log import NewEntry, add_entries, tick
from app.services.plan import get_plan
from app.services.season_end import (
    LevellingRunsError,
    NoBackupError,
    OtherSeasonError,
    carry_season,
    find_ending,
)
from app.services.sowings import SowingValues, add_sowing
from app.storage import Session
from app.storage.backup import check_backup
from app.storage.base import Base
from app.storage.models import (
    CareRound,
    Draft,
    Grower,
    History,
    Levelling,
    LogEntry,
    SeedTest,
    Sowing,
    SpareOffer,
    SpareRequest,
)
from app.storage.numbers import last_number
from app.storage.queries.days import set_today
from app.storage.season_end import OF_THE_SEASON
from app.storage.tables import OF_THE_HOUSE, TRANSIENT
from tests import rows
from tests.backups import kept_rows_of, new_database, url_of

NOW = 1_830_000_000.0
TODAY = date(2027, 9, 20)
SOWN = date(2027, 4, 17)
STRIDE = 4


def season(session, *, sowings=2):
    """Add a garden in autumn: what was sown of two lots, came up and was handed out; commit."""
    rows.garden(session, season=2027, wishes_close="02-28")
    box = rows.container(session)
    rows.shelf(session, positions=6)
    crop = rows.crop(session, box=box)
    lots = [rows.seed_lot(session, crop, name, germination=0.8) for name in ("Packet A", "Jar 3")]
    session.add(SeedTest(seed_lot_id=lots[0].id, date=date(2027, 2, 1), tried=20, seeds_per_cell=1, up=17, days=10))
    for number in range(sowings):
        grower = rows.grower(session, f"Grower {number}")
        lot = lots[number % 2]
        sowing = rows.sowing(session, grower, crop, f"S-{number + 1:04}", plants=6 + number, seed_lot_id=lot.id)
        if number == 0:
            sowing.variety, sowing.priority, sowing.brings_seed = "Early", 1, True
        session.flush()
        for kind, days, count in (("sown", 0, 12), ("up", 8, 9 - number), ("handed out", 60, 5)):
            entry = NewEntry(
                sowing_id=sowing.id,
                kind=LogKind(kind),
                date=SOWN + timedelta(days=days),
                count=count,
                seeds=24 if kind == "sown" else None,
            )
            add_entries(session, [entry], today=TODAY, account_id=None)
        tick(session, sowing.id, Tick.HARDEN, SOWN + timedelta(days=50), None)
        session.add(SpareOffer(sowing_id=sowing.id, plants=2, date=TODAY))
        session.add(SpareRequest(grower_id=grower.id, crop_id=crop.id, plants=1, date=TODAY))
        session.add(
            CareRound(date=SOWN + timedelta(days=number), grower_id=grower.id, is_offered=False, is_swapped=False)
        )
    session.commit()


def carry(session, folder, **changes):
    set_today(session, TODAY)
    return carry_season(session, folder, NOW, **{"season": 2027} | changes)


@pytest.fixture
def folder(tmp_path):
    return backup_folder(tmp_path / "instance")


def test_every_table_of_a_garden_stays_or_goes():
    """A table that nobody has thought of would carry a season's rows into the next."""
    stays = {
        "container", "crop", "daily_temperature", "frost_point", "garden", "grower", "seed_lot", "seed_test", "shelf",
    }  # fmt: skip
    others = {table.name for table in (*OF_THE_HOUSE, *TRANSIENT)} | {"data_version"}
    goes = {table.name for table in OF_THE_SEASON}
    assert stays | others | goes == set(Base.metadata.tables)
    assert not (stays | others) & goes


def test_next_season_keeps_what_a_garden_has_and_nothing_of_the_old_one(engine, folder):
    with Session(engine) as session:
        season(session)
        carried = carry(session, folder)
        session.commit()
        assert (carried.season, carried.drafts, carried.tests) == (2028, 2, 2)
        assert rows.get_garden(session).season == 2028
        assert rows.get_garden(session).wishes_close == "02-28"
        counts = {table.name: session.scalar(select(func.count()).select_from(table)) for table in OF_THE_SEASON}
        assert {name for name, count in counts.items() if count} == {"draft"}
        first, second = session.scalars(select(Draft).order_by(Draft.id))
        assert (first.plants, first.variety, first.priority, first.brings_seed, first.got) == (6, "Early", 1, True, 5)
        assert (second.plants, second.variety, second.priority, second.brings_seed, second.got) == (
            7,
            None,
            None,
            False,
            5,
        )
        assert [grower.name for grower in session.scalars(select(Grower).order_by(Grower.id))] == [
            "Grower 0",
            "Grower 1",
        ]
        old, *tests = session.scalars(select(SeedTest).order_by(SeedTest.id))
        assert (old.tried, old.up, old.days) == (20, 17, 10)
        assert [(one.tried, one.up, one.seeds_per_cell, one.days, one.date) for one in tests] == [
            (12, 9, 2.0, None, SOWN),
            (12, 8, 2.0, None, SOWN),
        ]
        line = session.scalars(select(History).order_by(History.id.desc())).first()
        assert line.action == "carried into the next season"
        assert ["sowings", 2, None] in line.changes


def test_what_is_known_of_seed_is_the_same_after_carrying(engine, folder):
    with Session(engine) as session:
        season(session, sowings=5)
        set_today(session, TODAY)
        before = get_plan(session)
        known = {lot.name: seen for lot, seen in zip(before.garden.lots, before.seen_of_lots, strict=True)}
        assert all(known.values())
        carry(session, folder)
        session.commit()
        after = get_plan(session)
        for lot, seen in zip(after.garden.lots, after.seen_of_lots, strict=True):
            expected = known[lot.name]
            assert np.allclose(
                [seen.mean, seen.low, seen.high, seen.n_seeds],
                [expected.mean, expected.low, expected.high, expected.n_seeds],
                rtol=1e-9,
            )


def test_backup_is_whole_and_stays_whatever_is_kept(engine, folder):
    with Session(engine) as session:
        season(session)
    before = kept_rows_of(engine)
    with Session(engine) as session:
        carried = carry(session, folder)
        session.commit()
    assert carried.backup.name.endswith("-season-2027.sqlite3")
    facts = check_backup(carried.backup, named=carried.backup.name)
    assert facts.counts["sowing"] == 2
    assert list_kept(folder) == []
    assert [kept.path for kept in list_kept(folder, of_seasons=True)] == [carried.backup]
    assert remove_unkept(folder, NOW + 5 * 365 * 86_400, Keeping(days=1, weeks=0, months=0)) == []
    restore_backup(url_of(engine), carried.backup, folder, NOW + 60, replace=True)
    after = kept_rows_of(engine)
    for table in before:
        if table not in {"history", "last_number"}:
            assert after[table] == before[table], table


def test_numbers_on_paper_count_on(engine, folder):
    with Session(engine) as session:
        season(session)
        carry(session, folder)
        assert last_number(session, NumberKind.SOWING) == 2
        crop = session.scalars(select(Draft.crop_id)).first()
        wish = SowingValues(
            **dict.fromkeys(SowingValues.__dataclass_fields__) | {
                "grower_id": session.scalars(select(Grower.id)).first(), "crop_id": crop, "plants": 4,
                "brings_seed": False,
            }
        )  # fmt: skip
        assert add_sowing(session, wish).name == "S-0003"


def test_new_season_leaves_in_a_folder_and_comes_back(engine, folder, tmp_path):
    with Session(engine) as session:
        season(session)
        carry(session, folder)
        session.commit()
        dump_folder(session, tmp_path / "garden")
    other = new_database(tmp_path / "other.sqlite3")
    with Session(other) as session:
        load_folder(session, tmp_path / "garden")
        assert rows.get_garden(session).season == 2028
        assert session.scalar(select(func.count(Sowing.id))) == 0
        assert session.scalar(select(func.count(Grower.id))) == 2
        assert sorted(session.execute(select(Draft.plants, Draft.got, Draft.brings_seed)).all()) == [
            (6, 5, True),
            (7, 5, False),
        ]
        tests = session.execute(select(SeedTest.tried, SeedTest.up, SeedTest.seeds_per_cell, SeedTest.days)).all()
        assert sorted(tests, key=str) == [(12, 8, 2.0, None), (12, 9, 2.0, None), (20, 17, 1.0, 10)]
    other.dispose()


def test_it_waits_for_a_levelling(engine, folder):
    with Session(engine) as session:
        season(session)
        start_levelling(session, seconds=60, today=TODAY)
        session.commit()
        session.execute(Levelling.__table__.update().values(beat_at=NOW, started_at=NOW))
        session.commit()
        assert find_ending(session, NOW).is_levelling
        with pytest.raises(LevellingRunsError):
            carry(session, folder)
        session.rollback()
        assert session.scalars(select(Levelling.state)).one() is LevellingState.RUNNING
        assert session.scalar(select(func.count(Sowing.id))) == 2
    assert list_kept(folder, of_seasons=True) == []


def test_without_a_backup_nothing_is_changed(engine, folder, monkeypatch):
    def no_room(_engine, path):
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr("app.services.season_end.copy_database", no_room)
    with Session(engine) as session:
        season(session)
        before = kept_rows_of(engine)
        with pytest.raises(NoBackupError, match="there is no room left"):
            carry(session, folder)
        session.rollback()
    assert kept_rows_of(engine) == before


def test_second_time_finds_another_season(engine, folder):
    with Session(engine) as session:
        season(session)
        carry(session, folder)
        session.commit()
        with pytest.raises(OtherSeasonError):
            carry(session, folder)


def test_empty_season_is_carried_too(engine, folder):
    with Session(engine) as session:
        rows.garden(session)
        session.commit()
        assert carry(session, folder).drafts == 0


# For each number that it reads it makes a process, which is killed before as many statements have written; it says how
# that one ended. To start the program anew each time would take ten times as long.
PARENT = """
import os, signal, sys, traceback
from datetime import date
from pathlib import Path
from sqlalchemy import event
from sqlalchemy.engine import Engine
from app.services.season_end import carry_season
from app.storage import Session
from app.storage.engine import make_engine
from app.storage.queries.days import set_today

def carry(url, folder, wanted):
    passed, engine = 0, make_engine(url)

    @event.listens_for(Engine, "before_cursor_execute")
    def count(connection, cursor, statement, *rest):
        nonlocal passed
        writes = statement.lstrip().upper().startswith(("INSERT", "UPDATE", "DELETE", "LOCK"))
        if writes and connection.engine is engine:
            if passed == wanted:
                os.kill(os.getpid(), signal.SIGKILL)
            passed += 1

    with Session(engine) as session:
        set_today(session, date(2027, 9, 20))
        carry_season(session, folder, 1_830_000_000.0, season=2027)
        session.commit()

for line in sys.stdin:
    child = os.fork()
    if not child:
        try:
            carry(sys.argv[1], Path(sys.argv[2]), int(line))
            os._exit(0)
        except BaseException:
            traceback.print_exc()
            os._exit(1)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""


def test_killed_anywhere_it_is_the_old_season_or_the_new_one(engine, folder):
    """The process is killed before its n-th statement that writes, for every fourth n until it comes through."""
    with Session(engine) as session:
        season(session)
    before = kept_rows_of(engine)
    call = [sys.executable, "-c", PARENT, url_of(engine), str(folder)]
    with subprocess.Popen(call, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1) as parent:
        for wanted in range(0, 60, STRIDE):
            parent.stdin.write(f"{wanted}\n")
            status = int(parent.stdout.readline())
            if status == 0:
                break
            assert status == -signal.SIGKILL
            assert kept_rows_of(engine) == before, wanted
        parent.stdin.close()
    assert status == 0
    assert wanted > len(OF_THE_SEASON)
    with Session(engine) as session:
        assert rows.get_garden(session).season == 2028
        assert session.scalar(select(func.count(LogEntry.id))) == 0
        assert session.scalar(select(func.count(Draft.id))) == 2
