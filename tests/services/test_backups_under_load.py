"""Backups taken while people write hold all that was acknowledged before they began, and nothing by halves."""

import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest
from sqlalchemy import select

from app.services.backups import BackupError, back_up, backup_folder, restore_backup
from app.services.folder import dump_folder
from app.storage import Session
from app.storage.models import Grower
from tests import rows
from tests.backups import new_database, url_of
from tests.lengths import TIMES

pytestmark = pytest.mark.soak

ROOT = Path(__file__).resolve().parents[2]
WRITERS, THREADS = 2, 2
BACKUPS = 3 * TIMES

# Adds growers by twos, each pair in one transaction, and notes when it asked for it and when it was told that it is
# kept. The clock counts from the machine's start and is the same in every process.
WRITER = """
import sys, threading, time
from app.storage import Session
from app.storage.engine import make_engine
from app.storage.models import Grower

url, log, writer, threads = sys.argv[1], open(sys.argv[2], "a", buffering=1), sys.argv[3], int(sys.argv[4])
engine = make_engine(url)
stop = threading.Event()

def work(number):
    count = 0
    while not stop.is_set():
        key = f"{writer}.{number}.{count}"
        log.write(f"invoke {key} {time.monotonic()}\\n")
        with Session(engine) as session:
            session.add_all([Grower(name=f"{key} one"), Grower(name=f"{key} two")])
            session.commit()
        log.write(f"ok {key} {time.monotonic()}\\n")
        count += 1
        time.sleep(0.01)

workers = [threading.Thread(target=work, args=(number,)) for number in range(threads)]
for worker in workers:
    worker.start()
print("writing", flush=True)
sys.stdin.read()
stop.set()
for worker in workers:
    worker.join()
engine.dispose()
"""


@dataclass
class Taken:
    """A backup, and when it was begun and done by the machine's clock. [s]"""

    path: Path
    begun: float
    done: float


@pytest.fixture
def writers(engine, tmp_path):
    """Let processes write into a database, and return what each of them notes."""
    with Session(engine) as session:
        rows.garden(session)
        session.commit()
    processes, logs = [], []
    for writer in range(WRITERS):
        logs.append(tmp_path / f"{writer}.log")
        process = subprocess.Popen(
            [sys.executable, "-c", WRITER, url_of(engine), logs[-1], str(writer), str(THREADS)],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        processes.append(process)
    for process in processes:
        assert process.stdout.readline() == "writing\n"

    def stop():
        for process in processes:
            process.stdin.close()
        assert [process.wait(60) for process in processes] == [0] * WRITERS
        lines = [line.split() for log in logs for line in log.read_text().splitlines()]
        return {kind: {key: float(at) for said, key, at in lines if said == kind} for kind in ("invoke", "ok")}

    yield stop
    for process in processes:
        if process.poll() is None:
            process.kill()
        process.wait()
        process.stdin.close()
        process.stdout.close()


def take(engine, path):
    begun = time.monotonic()
    back_up(url_of(engine), path)
    return Taken(path, begun, time.monotonic())


def growers_of(path, tmp_path):
    """Restore a backup into a spare database, write it out as a folder, and return its growers."""
    spare = new_database(tmp_path / f"spare of {path.name}")
    restore_backup(url_of(spare), path, backup_folder(tmp_path / "instance"), 1_800_000_000)
    with Session(spare) as session:
        names = list(session.scalars(select(Grower.name)))
        counts = dump_folder(session, tmp_path / f"folder of {path.name}")
    spare.dispose()
    assert counts["growers.csv"] == len(names) == len(set(names))
    return set(names)


def judge(taken, noted, names):
    """Hold a backup against what was asked for and acknowledged."""
    keys = {name.rsplit(" ", 1)[0] for name in names}
    assert names == {f"{key} {which}" for key in keys for which in ("one", "two")}, "half of a change"
    lost = {key for key, at in noted["ok"].items() if at < taken.begun} - keys
    assert not lost, f"{len(lost)} acknowledged changes are missing"
    assert not {key for key in keys if noted["invoke"][key] > taken.done}, "what was asked for only later"
    return len(keys)


def test_each_holds_what_was_acknowledged_before_it_began(engine, writers, tmp_path):
    backups = []
    for number in range(BACKUPS):
        time.sleep(0.2)
        backups.append(take(engine, tmp_path / f"{number}.sqlite3"))
    noted = writers()
    found = [judge(taken, noted, growers_of(taken.path, tmp_path)) for taken in backups]
    print(f"\n  {engine.dialect.name}: {BACKUPS} backups among {len(noted['ok'])} changes, of which they hold {found}")
    assert found == sorted(found)
    assert found[-1] > found[0]


def test_the_check_turns_red_for_a_copy_of_the_file(engine, writers, tmp_path):
    if engine.dialect.name != "sqlite":
        pytest.skip("only SQLite has a file to be copied")
    # Somebody who reads keeps the log from being carried into the file.
    with engine.connect() as reader:
        driver = reader.connection.driver_connection
        driver.execute("PRAGMA wal_checkpoint(PASSIVE)")
        driver.execute("BEGIN")
        driver.execute("SELECT count(*) FROM grower").fetchone()
        time.sleep(0.5)
        taken = Taken(tmp_path / "copied.sqlite3", time.monotonic(), 0)
        # By another process: this one must not touch the file of its own database.
        command = [
            sys.executable,
            "-c",
            "import shutil, sys; shutil.copy(*sys.argv[1:])",
            engine.url.database,
            taken.path,
        ]
        subprocess.run(command, check=True)
        taken.done = time.monotonic()
        driver.execute("ROLLBACK")
    noted = writers()
    with pytest.raises(BackupError, match="copied by hand"):
        growers_of(taken.path, tmp_path)
    content = taken.path.read_bytes()
    forged = Taken(tmp_path / "forged.sqlite3", taken.begun, taken.done)
    forged.path.write_bytes(content[:18] + b"\x01\x01" + content[20:])
    with pytest.raises((AssertionError, BackupError), match=r"acknowledged changes are missing|damaged|something else"):
        judge(forged, noted, growers_of(forged.path, tmp_path))
