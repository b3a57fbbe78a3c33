"""Commands on a disk that is full and in a folder that may not be written to: words, status 1, and no damage."""

import os
import subprocess
import sys

import pytest
from click.testing import CliRunner

from app.cli import main
from app.services.folder import DEMO_FOLDER
from app.storage.engine import make_engine
from app.storage.models import Grower
from app.storage.opening import session_on
from tests.powerless import open_folder, powerless

# No file may grow beyond a size, which fails as a full disk does (getrlimit(2), RLIMIT_FSIZE).
BOUNDED = """
import resource, sys
from app.cli import main
size = int(sys.argv.pop(1))
resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
main(prog_name="traymates")
"""


def run_bounded(size, *arguments, database):
    pytest.importorskip("resource", reason="this system has no such bound")
    command = [sys.executable, "-c", BOUNDED, str(size), *arguments]
    environ = os.environ | {"DATABASE_URL": database}
    return subprocess.run(command, env=environ, capture_output=True, text=True, check=False)


def run(*arguments, database):
    return CliRunner(env={"DATABASE_URL": database}).invoke(main, arguments)


def state(url):
    """Return whether the database is whole, and its growers."""
    engine = make_engine(url)
    try:
        with session_on(engine, read_only=True) as session:
            is_whole = session.connection().exec_driver_sql("PRAGMA integrity_check").scalar_one()
            return is_whole, [row.name for row in session.query(Grower).order_by(Grower.name)]
    finally:
        engine.dispose()


@pytest.fixture
def garden(tmp_path):
    url = f"sqlite:///{tmp_path / 'garden.sqlite3'}"
    assert run("load", str(DEMO_FOLDER), database=url).exit_code == 0
    return url


@pytest.mark.parametrize(
    ("command", "size"),
    [(["load", str(DEMO_FOLDER), "--replace"], 20_000), (["demo", "--yes"], 150_000), (["trays", "--deal"], 1_000)],
    ids=["load", "demo", "trays"],
)
def test_without_room_a_command_changes_nothing_and_says_so(garden, command, size):
    before = state(garden)
    done = run_bounded(size, *command, database=garden)
    assert done.returncode == 1, done.stderr
    assert "no room left" in done.stderr
    assert "Traceback" not in done.stderr
    assert state(garden) == before
    assert run(*command, database=garden).exit_code == 0


@pytest.mark.parametrize("command", [["ledger"], ["load", str(DEMO_FOLDER), "--replace"]], ids=["ledger", "load"])
def test_where_nothing_may_be_written_a_command_says_so(command):
    with open_folder() as folder:
        url = f"sqlite:///{folder / 'garden.sqlite3'}"
        assert run("demo", database=url).exit_code == 0
        assert run(*command, database=url).exit_code == 0  # what it needs is read by now
        before = state(url)
        with powerless(folder):
            done = run(*command, database=url)
        assert done.exit_code == 1
        assert "may not be written to" in done.output
        assert "Traceback" not in done.output
        assert state(url) == before
