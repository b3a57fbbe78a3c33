"""What a power cut leaves of a database, made from a record of what was written and what the disk was waited for.

A process of its own, since it has another SQLite library, runs transactions over a storage layer that writes down each
write, truncation and wait. A cut at one moment of that keeps what was waited for; of what was written later each
write is there with chance 1/2, and of those one in five only in part, torn at a sector of 512 bytes (chosen: a disk
keeps what it has not confirmed in any order; that sectors are written whole is common practice). Which names a folder
has is not modelled.

`python -m tests.reliability.power FILE` runs what FILE says, and writes the record beside it.
"""

import importlib
import itertools
import json
import os
import pickle
import random
import subprocess
import sys
from pathlib import Path

SECTOR = 512
COMMITS = 1_000
NAME = "Cut "
RECORD = ".record"


class Heard(list):
    """Stands in for a driver's connection and keeps what it is told to execute."""

    def cursor(self):
        return self

    def execute(self, statement):
        self.append(statement)

    def close(self):
        pass


def own_pragmas():
    """Return the settings that the program gives to each connection to SQLite."""
    from app.storage import engine  # noqa: PLC0415 - the recording process must not load its library

    heard = Heard()
    engine._on_connect(heard, None)
    return list(heard)


def own_statements(engine):
    """Return how the program adds a grower: each statement with its values; the name is to be put in.

    The database keeps the one that is added to find out.
    """
    from sqlalchemy import event  # noqa: PLC0415
    from sqlalchemy.orm import Session  # noqa: PLC0415

    from app.services.growers import GrowerValues, add_grower  # noqa: PLC0415

    heard = []

    def note(_connection, _cursor, statement, values, *_):
        if not statement.startswith(("PRAGMA", "BEGIN")):
            heard.append((statement, list(values)))

    with Session(engine) as session:
        session.connection()
        event.listen(engine, "before_cursor_execute", note)
        add_grower(session, GrowerValues(name=NAME, plot=None, contact=None, days=None))
        session.commit()
        event.remove(engine, "before_cursor_execute", note)
    assert any("INSERT INTO grower" in statement for statement, _ in heard)
    assert any("INSERT INTO history" in statement for statement, _ in heard)
    return heard


def record(database, pragmas, statements):
    """Run transactions on a database that nobody has open, in a process of its own; return the record."""
    told = database.with_name("told.json")
    told.write_text(
        json.dumps({"database": str(database), "pragmas": pragmas, "statements": statements, "commits": COMMITS}),
        encoding="utf-8",
    )
    command = [sys.executable, "-m", "tests.reliability.power", str(told)]
    subprocess.run(command, check=True, cwd=Path(__file__).resolve().parents[2], timeout=300)
    with told.with_name(told.name + RECORD).open("rb") as file:
        return pickle.load(file)  # noqa: S301 - the process just made it


def cuts(before, entries, count, seed):
    """Give what cuts at random moments leave.

    Args:
        before: What the files held at first, by the end of their names.
        entries: The record.
        count: How many cuts.
        seed: Of the draw.

    Yields:
        For each cut the files by the ends of their names, and how many transactions had been confirmed before it.
    """
    draw = random.Random(seed)
    moments = sorted(draw.randrange(1, len(entries)) for _ in range(count))
    synced = {name: bytearray(content) for name, content in before.items()}
    pending = {}
    confirmed = position = 0
    for moment in moments:
        for what, name, *rest in itertools.islice(entries, position, moment):
            if what == "confirmed":
                confirmed += 1
            elif what == "sync":
                for entry in pending.pop(name, []):
                    _apply(synced.setdefault(name, bytearray()), *entry)
            else:
                pending.setdefault(name, []).append((what, *rest))
        position = moment
        left = {name: bytearray(content) for name, content in synced.items()}
        for name, late in pending.items():
            for entry in late:
                if draw.random() < 1 / 2:
                    _apply(left.setdefault(name, bytearray()), *_torn(entry, draw))
        yield left, confirmed


def _torn(entry, draw):
    what, *rest = entry
    if what == "write" and draw.random() < 1 / 5:
        offset, content = rest
        return what, offset, content[: SECTOR * draw.randrange(len(content) // SECTOR + 1)]
    return entry


def _apply(content, what, at, data=b""):
    if what == "truncate":
        del content[at:]
        return
    if len(content) < at:
        content.extend(bytes(at - len(content)))
    content[at : at + len(data)] = data


def main():
    """Be the process that records."""
    apsw = importlib.import_module("apsw")
    told = Path(sys.argv[1])
    request = json.loads(told.read_text(encoding="utf-8"))
    entries = []

    class File(apsw.VFSFile):
        def __init__(self, name, flags):
            super().__init__("", name, flags)
            path = name.filename() if isinstance(name, apsw.URIFilename) else name or ""
            self.end = path.removeprefix(request["database"])

        def xWrite(self, data, offset):  # noqa: N802 - as the library calls it
            entries.append(("write", self.end, offset, bytes(data)))
            super().xWrite(data, offset)

        def xTruncate(self, size):  # noqa: N802
            entries.append(("truncate", self.end, size))
            super().xTruncate(size)

        def xSync(self, flags):  # noqa: N802
            entries.append(("sync", self.end))
            super().xSync(flags)

    class Recording(apsw.VFS):
        def __init__(self):
            super().__init__("recording", "")

        def xOpen(self, name, flags):  # noqa: N802
            return File(name, flags)

    layer = Recording()  # noqa: F841 - it lives as long as its variable
    connection = apsw.Connection(request["database"], vfs="recording")
    for pragma in request["pragmas"]:
        connection.execute(pragma).fetchall()
    for number in range(request["commits"]):
        connection.execute("BEGIN IMMEDIATE")
        for statement, values in request["statements"]:
            named = [f"{NAME}{number}" if value == NAME else value for value in values]
            connection.execute(statement, named).fetchall()
        connection.execute("COMMIT")
        entries.append(("confirmed", ""))
    with told.with_name(told.name + RECORD).open("wb") as file:
        pickle.dump(entries, file)
    os._exit(0)  # closing would write all back: a power cut does not


if __name__ == "__main__":
    main()
