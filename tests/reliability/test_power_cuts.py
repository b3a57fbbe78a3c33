"""The power is cut in the middle of writing: what was confirmed is there, in a database that is whole."""

import re

import pytest

from app.storage.engine import make_engine
from app.storage.schema import upgrade
from tests.lengths import TIMES
from tests.reliability.power import COMMITS, NAME, cuts, own_pragmas, own_statements, record
from tests.reliability.saboteur import expect_red
from tests.reliability.working import faults_of_file

CUTS = 50 * TIMES


def faults_after_cuts(folder, *more_pragmas, seed=1):
    """Return what is wrong after cuts while the program's own statements run under its own settings, and some more."""
    base = folder / "base.sqlite3"
    engine = make_engine(f"sqlite:///{base}")
    upgrade(engine)
    statements = own_statements(engine)
    engine.dispose()
    before = {"": base.read_bytes()}
    entries = record(base, [*own_pragmas(), *more_pragmas], statements)
    assert sum(what == "confirmed" for what, *_ in entries) == COMMITS
    assert any(what == "write" and name == "" for what, name, *_ in entries), "nothing was ever written back"
    faults = []
    for number, (left, confirmed) in enumerate(cuts(before, entries, CUTS, seed)):
        path = folder / f"cut-{number}.sqlite3"
        for end, content in left.items():
            path.with_name(path.name + end).write_bytes(content)
        faults += [f"cut {number}: {fault}" for fault in faults_of_cut(path, confirmed)]
        for file in folder.glob(f"{path.name}*"):
            file.unlink()
    return faults


def faults_of_cut(path, confirmed):
    engine = make_engine(f"sqlite:///{path}")
    try:
        faults = faults_of_file(engine)
        with engine.connect() as connection:
            rows = connection.exec_driver_sql("SELECT name FROM grower").scalars().all()
            told = connection.exec_driver_sql("SELECT count(*) FROM history").scalar_one()
    except Exception as error:  # noqa: BLE001 - however it cannot be opened, it is damaged
        return [f"damaged: {error}"]
    finally:
        engine.dispose()
    there = {int(match[1]) for name in rows if (match := re.fullmatch(f"{NAME}([0-9]+)", name))}
    lost = set(range(confirmed)) - there
    if lost:
        faults.append(f"lost: {len(lost)} of {confirmed}")
    if not there <= set(range(confirmed + 1)):
        faults.append("something is there that was not begun")
    if told != len(rows):
        faults.append(f"half of a transaction: {len(rows)} growers, {told} of them in the history")
    return faults


@pytest.mark.soak
def test_a_power_cut_loses_nothing_that_was_confirmed(tmp_path):
    assert faults_after_cuts(tmp_path) == []
    print(f"\n  {CUTS} power cuts in {COMMITS} transactions: nothing lost, nothing damaged")


def test_less_waiting_for_the_disk_loses_what_was_confirmed(tmp_path):
    found = expect_red(faults_after_cuts, tmp_path, "PRAGMA synchronous = NORMAL", match="lost: ")
    print(f"\n  with NORMAL, of {CUTS} cuts {found.count('lost: ')} lost something")
