"""One SQLite library in the process, and nobody but it opens the database's files.

Two libraries in one process, or a plain `open` of a file that is in use, let go the locks that the first one holds:
what others have been told is saved can then be lost (sqlite.org, howtocorrupt.html, 2.2).
"""

import ast
import json
import os
import subprocess
import sys

import pytest

from tests.rules.tree import ROOT, project_files, relative

BANNED = {"sqlite3", "_sqlite3", "apsw", "aiosqlite"}
# A storage layer that a test can cut the power of; it never runs in a process that has the program's library open.
MAY_HAVE_ANOTHER = {"tests/reliability/power.py"}


def imported(path):
    """Return the top packages that a file imports, wherever in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level:
            found.add((node.module or "").split(".")[0])
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", getattr(node.func, "id", "")) in {
            "import_module",
            "__import__",
        }:
            found |= {argument.value.split(".")[0] for argument in node.args if _is_text(argument)}
    return found


def _is_text(node):
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


@pytest.mark.parametrize("folder", ["app", "migrations", "tests"])
def test_no_file_imports_another_library(folder):
    files = [path for path in project_files(".py") if relative(path).startswith(f"{folder}/")]
    assert files
    wrong = [relative(path) for path in files if imported(path) & BANNED and relative(path) not in MAY_HAVE_ANOTHER]
    assert wrong == []


def test_the_rule_finds_each_way_to_import(tmp_path):
    ways = ("import sqlite3", "from sqlite3 import dbapi2", "import os, sqlite3.dbapi2", "__import__('sqlite3')")
    for way in (*ways, "def f():\n    import importlib\n    importlib.import_module('sqlite3')"):
        (tmp_path / "file.py").write_text(way)
        assert imported(tmp_path / "file.py") & BANNED, way
    (tmp_path / "file.py").write_text("from pysqlite3 import dbapi2\nfrom .sqlite3 import x\n'import sqlite3'")
    assert not imported(tmp_path / "file.py") & BANNED


# Runs the program over its pages and commands, and tells which of its own files Python opened, and what it loaded.
WATCHED = """
import json, os, pathlib, sys

folder, opened = pathlib.Path(sys.argv[1]), []
database = str(folder / "garden.sqlite3")

def watch(event, arguments):
    if event in {"open", "os.rename", "os.remove", "os.truncate", "shutil.copyfile", "os.link"}:
        for name in arguments[:2]:
            if isinstance(name, (str, bytes, pathlib.Path)):
                path = os.path.realpath(os.fsdecode(name))
                if path.startswith(database) and not path.endswith(".lock"):
                    opened.append(f"{event} {path}")

sys.addaudithook(watch)
from click.testing import CliRunner
from app import create_app
from app.cli import main
from app.settings import read_settings
from app.storage.engine import wal_bytes
from app.extensions import db

def run(*arguments):
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 0, (arguments, done.output, done.exception)

run("demo")
app = create_app(read_settings())
client = app.test_client()
with app.app_context():
    addresses = [
        rule.rule for rule in app.url_map.iter_rules()
        if "GET" in rule.methods and not rule.arguments and rule.endpoint != "static"
    ]
    for address in addresses:
        client.get(address)
    wal_bytes(db.engine)
    for arguments in (
        ["dump", str(folder / "out")],
        ["load", str(folder / "out"), "--replace"],
        ["ledger"], ["season"], ["frost"], ["deadlines"], ["trays"], ["trays", "--deal"],
        ["copy", "--to", f"sqlite:///{folder / 'copy.sqlite3'}"],
        ["backup", str(folder / "backup.sqlite3")],
    ):
        run(*arguments)
maps = pathlib.Path("/proc/self/maps")
libraries = {line.split()[-1] for line in maps.read_text().splitlines() if "sqlite" in line} if maps.exists() else ()
libraries = sorted(name for name in libraries if not name.startswith(str(folder)))
print(json.dumps({"opened": opened, "modules": sorted(sys.modules), "libraries": libraries, "pages": len(addresses)}))
"""


def run_watched(script, folder):
    """Run a program under watch in a folder; return what it printed last."""
    environ = os.environ | {
        "DATABASE_URL": f"sqlite:///{folder / 'garden.sqlite3'}",
        "TRAYMATES_INSTANCE": str(folder / "instance"),
        "PYTHONWARNINGS": "ignore",
    }
    command = [sys.executable, "-c", script, str(folder)]
    done = subprocess.run(command, env=environ, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout.splitlines()[-1])


@pytest.fixture(scope="module")
def watched(tmp_path_factory):
    return run_watched(WATCHED, tmp_path_factory.mktemp("watched"))


def test_the_running_program_never_opens_the_database_s_files_itself(watched):
    assert watched["pages"] > 10
    assert watched["opened"] == []


def test_the_running_program_has_one_library(watched):
    assert {"pysqlite3", "app.web", "filelock"} <= set(watched["modules"])
    assert not BANNED & {name.split(".")[0] for name in watched["modules"]}
    assert [name for name in watched["libraries"] if "pysqlite3" not in name] == []


def test_the_watch_sees_whoever_opens_it(tmp_path):
    begin, _, _ = WATCHED.partition("app = create_app")
    opening = 'open(database, "rb").close()\nprint(json.dumps(opened))'
    (seen,) = run_watched(begin + opening, tmp_path)
    assert seen.startswith("open ")
