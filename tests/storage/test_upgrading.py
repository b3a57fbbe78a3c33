"""An older database is copied first and then brought up to date, whole or not at all, whatever happens meanwhile."""

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest
from click.testing import CliRunner
from sqlalchemy import inspect, make_url, text
from sqlalchemy.schema import CreateSchema, DropSchema

from app.cli import main
from app.storage.backup import BackupError, check_backup
from app.storage.engine import make_engine
from app.storage.errors import DatabaseError, FullError
from app.storage.opening import open_session
from app.storage.schema import newest_revision, upgrade
from tests.lengths import TIMES
from tests.migrations.test_migrations import REVISIONS, ROWS

OLD = REVISIONS[-3]  # two steps: the last alone has too few statements to be killed at


@pytest.fixture
def path(tmp_path):
    return tmp_path / "garden.sqlite3"


@pytest.fixture
def url(path):
    """Return the address of a database as the version before left it, with rows in it."""
    url = f"sqlite:///{path}"
    engine = make_engine(url)
    upgrade(engine, OLD)
    with engine.begin() as connection:
        for statement in ROWS["0001_first_tables"]:
            connection.exec_driver_sql(statement)
    engine.dispose()
    return url


def copy_of(path):
    return path.with_name(f"garden-before-{newest_revision()}.sqlite3")


def revision_of(engine):
    with engine.connect() as connection:
        return connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one()


def tables_of(revision, folder):
    """Return the tables of a revision."""
    engine = make_engine(f"sqlite:///{folder / f'like-{revision}.sqlite3'}")
    upgrade(engine, revision)
    names = sorted(inspect(engine).get_table_names())
    engine.dispose()
    return names


def test_an_older_database_is_copied_before_it_is_brought_up_to_date(url, path):
    with open_session(url) as session:
        assert session.execute(text("SELECT name FROM sowing")).scalar_one() == "S001"
    facts = check_backup(copy_of(path))
    assert facts.revision == OLD
    assert facts.counts["sowing"] == 1
    assert copy_of(path).stat().st_mode & 0o077 == 0


def test_a_database_that_is_new_or_up_to_date_is_not_copied(tmp_path):
    url = f"sqlite:///{tmp_path / 'new.sqlite3'}"
    for _ in range(2):
        with open_session(url):
            pass
    assert [found.name for found in tmp_path.glob("*before*")] == []


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError(28, "No space left on device"), "No space left on device"),
        (FullError("there is no room"), "there is no room"),
        (BackupError("The copy holds other rows."), "The copy holds other rows"),
    ],
    ids=["disk", "database", "damaged"],
)
def test_without_a_copy_the_database_stays_as_it_is(url, path, monkeypatch, error, words):
    def fail(*_args):
        raise error

    monkeypatch.setattr("app.storage.opening.copy_database", fail)
    with pytest.raises(DatabaseError, match=f"stays as it is.*{words}"), open_session(url):
        pass
    engine = make_engine(url)
    assert revision_of(engine) == OLD
    engine.dispose()


def test_a_newer_database_is_refused_by_every_command_and_stays_as_it_is(url, path, tmp_path):
    with open_session(url) as session:
        session.execute(text("UPDATE alembic_version SET version_num = '9999_from_the_future'"))
    before = bytes_of(path)
    commands = [
        ["serve", "--port", "1"],
        ["load", str(tmp_path)],
        ["dump", str(tmp_path / "out")],
        ["demo", "--yes"],
        ["ledger"],
        ["trays"],
        ["fit", "--seconds", "1"],
        ["copy", "--to", f"sqlite:///{tmp_path / 'copy.sqlite3'}"],
    ]
    environ = {"DATABASE_URL": url, "TRAYMATES_INSTANCE": str(tmp_path / "instance")}
    for arguments in commands:
        done = CliRunner(env=environ).invoke(main, arguments)
        assert (arguments, done.exit_code) == (arguments, 1)
        assert "9999_from_the_future" in done.output
        assert "Traceback" not in done.output
    assert bytes_of(path) == before


def bytes_of(path):
    """Return the content of a database that nobody has open."""
    return path.read_bytes()


KILLED = """
import os, sys
from sqlalchemy import event
from app.storage.engine import make_engine
from app.storage.schema import upgrade
engine = make_engine(sys.argv[1])
left = [int(sys.argv[2])]

@event.listens_for(engine, "before_cursor_execute")
def count(connection, *_):
    left[0] -= 1
    if left[0] < 0:
        os._exit(9)
    if "in parts" in sys.argv and connection.in_transaction():
        driver = connection.connection.driver_connection
        driver.commit()
        driver.execute("BEGIN")

upgrade(engine)
print(int(sys.argv[2]) - left[0])
"""


def upgrade_until(url, statements, *spoilt):
    """Bring a database up to date in a process that kills itself after some statements; return what it printed."""
    command = [sys.executable, "-c", KILLED, url, str(statements), *spoilt]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def half_done(url, tables):
    """Return what is neither the old database nor the new one."""
    engine = make_engine(url)
    with engine.connect() as connection:
        is_whole = connection.exec_driver_sql("PRAGMA integrity_check").scalar_one() == "ok"
        has_rows = connection.exec_driver_sql("SELECT count(*) FROM sowing WHERE name = 'S001'").scalar_one() == 1
    revision, found = revision_of(engine), sorted(inspect(engine).get_table_names())
    engine.dispose()
    wrong = [] if is_whole and has_rows else ["rows are lost"]
    return wrong if found == tables.get(revision) else [*wrong, f"{revision} with {len(found)} tables"]


@pytest.fixture
def tables(tmp_path):
    return {revision: tables_of(revision, tmp_path) for revision in REVISIONS[-3:]}


@pytest.mark.soak
def test_killed_at_any_statement_it_is_the_old_one_or_the_new_one(url, tables):
    step = max(1, 6 // TIMES)
    statements, killed = 3, 0
    while (done := upgrade_until(url, statements)).returncode == 9:
        killed += 1
        assert half_done(url, tables) == []
        statements += step
    assert done.returncode == 0, done.stderr
    assert killed > 2
    assert half_done(url, tables) == []
    engine = make_engine(url)
    assert revision_of(engine) == REVISIONS[-1]
    engine.dispose()


def test_killed_in_an_upgrade_in_parts_it_is_neither_and_that_is_noticed(url, tables):
    done = [upgrade_until(url, statements, "in parts") for statements in (10, 20, 30)]
    assert 9 in {one.returncode for one in done}
    assert half_done(url, tables)


def test_two_processes_that_start_at_once_bring_it_up_to_date_once(engine, tmp_path):
    url, clean_up = own_database(engine, tmp_path)
    try:
        first = make_engine(url)
        upgrade(first, OLD)
        with ThreadPoolExecutor(2) as pool:
            done = list(pool.map(upgrade_until, [url] * 2, [10_000] * 2))
        assert [one.returncode for one in done] == [0, 0], done
        one, other = sorted(int(one.stdout) for one in done)
        idle = int(upgrade_until(url, 10_000).stdout)
        assert (one - idle) * 2 < other - idle  # the second one found nothing to do but to wait
        assert revision_of(first) == REVISIONS[-1]
        first.dispose()
    finally:
        clean_up()


def test_threads_that_bring_databases_up_to_date_at_once_do_not_mix_them_up(tmp_path):
    engines = [make_engine(f"sqlite:///{tmp_path / f'{number}.sqlite3'}") for number in range(4)]
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(upgrade, engines, [*REVISIONS[-2:]] * 2))
    assert [revision_of(made) for made in engines] == [*REVISIONS[-2:]] * 2
    for made in engines:
        made.dispose()


SCHEMA = "upgraded"


def own_database(engine, tmp_path):
    """Return the address of a database of this test's own and what removes it."""
    if engine.dialect.name == "sqlite":
        return f"sqlite:///{tmp_path / 'own.sqlite3'}", lambda: None
    with engine.begin() as connection:
        connection.execute(DropSchema(SCHEMA, cascade=True, if_exists=True))
        connection.execute(CreateSchema(SCHEMA))

    def clean_up():
        with engine.begin() as connection:
            connection.execute(DropSchema(SCHEMA, cascade=True))

    address = make_url(engine.url).update_query_dict({"options": f"-csearch_path={SCHEMA}"})
    return address.render_as_string(hide_password=False), clean_up
