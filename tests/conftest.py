"""Databases, gardens and clients that the tests share."""

import os
import secrets
from datetime import date
from pathlib import Path

import pytest
from hypothesis import is_hypothesis_test, settings
from jinja2 import FileSystemBytecodeCache
from sqlalchemy import create_engine, event, make_url
from sqlalchemy.orm import Session

from app import create_app
from app.settings import Settings
from app.storage.engine import make_engine
from app.storage.schema import upgrade
from tests import lengths
from tests.kept_gardens import filled_tables
from tests.sharing import share_addresses, sharing

settings.load_profile("usual")

TODAY = date(2027, 4, 10)
GIVEN_POSTGRES = os.environ.get("TRAYMATES_TEST_POSTGRES")
WORKER = os.environ.get("PYTEST_XDIST_WORKER")  # each of several at work has a PostgreSQL database of its own


def database_of(worker, given):
    """Return the address of a worker's own PostgreSQL database; alone at work it is the given one."""
    if not given or not worker:
        return given
    url = make_url(given)
    return url.set(database=f"{url.database}_{worker}").render_as_string(hide_password=False)


POSTGRES = database_of(WORKER, GIVEN_POSTGRES)
PAGES = Path(__file__).parent / "web"
STRICT = os.environ.get("TRAYMATES_TEST_STRICT") == "1"


def pytest_generate_tests(metafunc):
    """Run what asks for `engine` on SQLite, and on PostgreSQL where one is set."""
    if "engine" in metafunc.fixturenames:
        names = ["sqlite", *(["postgresql"] if POSTGRES else [])]
        metafunc.parametrize("engine", [pytest.param(name, id=name) for name in names], indirect=True)


def pytest_collection_modifyitems(config, items):
    """Have `make soak` run whole what takes long: drawn examples, and pages on PostgreSQL.

    What pages say comes from the same code on either engine; of those that ask for both a tenth stays in `make test`.
    """
    left_out = []
    for item in items:
        if is_hypothesis_test(getattr(item, "obj", None)):
            item.add_marker(pytest.mark.soak)
        if asks_pages_of_postgres(item):
            item.add_marker(pytest.mark.soak)
            if not lengths.is_taken(item.nodeid):
                left_out.append(item)
    if left_out:
        gone = set(left_out)
        items[:] = [item for item in items if item not in gone]
        config.hook.pytest_deselected(items=left_out)


def asks_pages_of_postgres(item):
    """Return whether a test of pages runs on PostgreSQL as one of two engines, and not for its sake."""
    return (
        item.path.is_relative_to(PAGES)
        and getattr(item, "callspec", None) is not None
        and item.callspec.params.get("engine") == "postgresql"
        and not item.get_closest_marker("postgres")
    )


def pytest_sessionstart():
    if STRICT and not POSTGRES:
        raise pytest.UsageError("TRAYMATES_TEST_STRICT is set, but TRAYMATES_TEST_POSTGRES names no database")
    if POSTGRES != GIVEN_POSTGRES:
        engine = create_engine(GIVEN_POSTGRES, isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            name = connection.dialect.identifier_preparer.quote(make_url(POSTGRES).database)
            connection.exec_driver_sql(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
            connection.exec_driver_sql(f"CREATE DATABASE {name}")
        engine.dispose()


@pytest.fixture(scope="session")
def migrated(tmp_path_factory):
    """Return a function that gives the one migrated engine of each kind of database."""
    engines = {}

    def engine_of(name):
        if name not in engines:
            folder = tmp_path_factory.mktemp("database")
            url = f"sqlite:///{folder / 'test.sqlite3'}" if name == "sqlite" else POSTGRES
            engine = make_engine(url)
            if name == "postgresql":
                with engine.begin() as connection:
                    connection.exec_driver_sql("DROP SCHEMA public CASCADE")
                    connection.exec_driver_sql("CREATE SCHEMA public")
            upgrade(engine)
            engines[name] = engine
        return engines[name]

    yield engine_of
    for engine in engines.values():
        engine.dispose()


@pytest.fixture
def engine(request, migrated):
    """Return a migrated database; what a test commits is emptied after it."""
    engine = migrated(request.param)
    commits = []

    def note(connection):
        commits.append(connection)

    event.listen(engine, "commit", note)
    yield engine
    event.remove(engine, "commit", note)
    if commits or "app" in request.fixturenames:  # the application commits through an engine of its own
        with engine.begin() as connection:
            for table in reversed(filled_tables(connection)):
                connection.execute(table.delete())
            # What was kept of the data that is gone must not serve the next test.
            connection.exec_driver_sql(f"UPDATE data_version SET mark = '{secrets.token_hex(16)}'")


@pytest.fixture
def session(engine):
    """Return a session on a migrated database."""
    with Session(engine) as session:
        yield session


@pytest.fixture(scope="session")
def read_templates(tmp_path_factory):
    """Return where templates are kept compiled, so that not every test's application compiles them anew."""
    return FileSystemBytecodeCache(str(tmp_path_factory.mktemp("templates")))


@pytest.fixture(scope="session", autouse=True)
def shared_addresses():
    """Compile the addresses of the program once."""
    with pytest.MonkeyPatch.context() as monkeypatch:
        share_addresses(monkeypatch)
        yield


@pytest.fixture(scope="session")
def served():
    """Return a function that gives the one engine whose connections the applications on a database use."""
    engines = {}

    def engine_of(url):
        if url not in engines:
            engines[url] = make_engine(url)
        return engines[url]

    yield engine_of
    for engine in engines.values():
        engine.dispose()


@pytest.fixture
def app(engine, tmp_path, read_templates, served):
    """Return the application on the migrated database, with the demo's day."""
    url = make_url(engine.url).render_as_string(hide_password=False)
    app = create_app(
        Settings(database_url=url, instance=tmp_path / "instance", today=TODAY, secret_key="for tests only " * 3)
    )
    app.config["TESTING"] = True
    app.jinja_env.bytecode_cache = read_templates
    with sharing(app, served(url)):
        yield app
