"""Bringing a database's schema up to date."""

from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy import Connection, Engine

MIGRATIONS = Path(__file__).resolve().parents[2] / "migrations"


# Migrations run over what the library keeps once for the whole process.
_one_at_a_time = Lock()


class NewerSchemaError(Exception):
    """The database was written by a newer version of the program."""


def _nothing(_revision: str | None) -> None:
    """Do nothing before a schema is changed."""


def _config(engine: "Engine", before: "Callable[[str | None], None]" = _nothing) -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes |= {"engine": engine, "before": before}
    return config


def find_revision(connection: "Connection") -> str | None:
    """Return the revision of a database's schema; None where there is none of this program."""
    return MigrationContext.configure(connection).get_current_revision()


def known_revisions() -> frozenset[str]:
    """Return every revision that this version of the program can bring up to date."""
    return frozenset(script.revision for script in ScriptDirectory(str(MIGRATIONS)).walk_revisions())


def newest_revision() -> str:
    """Return the revision that this version of the program works with."""
    return str(ScriptDirectory(str(MIGRATIONS)).get_current_head())


def upgrade(engine: "Engine", revision: str = "head", *, before: "Callable[[str | None], None]" = _nothing) -> None:
    """Bring the schema up to date, whole or not at all; a database that is up to date is left untouched.

    Args:
        engine: Of the database.
        revision: Up to which one.
        before: Is called with the revision that it has, once nobody else can write; an error keeps it as it is.

    Raises:
        NewerSchemaError: The database holds a revision that this program does not know.
    """
    config = _config(engine, before)
    scripts = ScriptDirectory.from_config(config)
    with engine.connect() as connection:
        present = MigrationContext.configure(connection).get_current_revision()
    if present is not None and present not in {script.revision for script in scripts.walk_revisions()}:
        message = f"The database has schema {present}, which this version does not know: it was used with a newer one."
        raise NewerSchemaError(message)
    if present != scripts.get_current_head() or revision != "head":
        with _one_at_a_time:
            command.upgrade(config, revision)


def downgrade(engine: "Engine", revision: str) -> None:
    """Take the schema back to an earlier revision."""
    with _one_at_a_time:
        command.downgrade(_config(engine), revision)
