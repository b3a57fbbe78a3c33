"""Bringing a database's schema up to date."""

from pathlib import Path
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

MIGRATIONS = Path(__file__).resolve().parents[2] / "migrations"


class NewerSchemaError(Exception):
    """The database was written by a newer version of the program."""


def _config(engine: "Engine") -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["engine"] = engine
    return config


def find_revision(connection: "Connection") -> str | None:
    """Return the revision of a database's schema; None where there is none of this program."""
    return MigrationContext.configure(connection).get_current_revision()


def known_revisions() -> frozenset[str]:
    """Return every revision that this version of the program can bring up to date."""
    return frozenset(script.revision for script in ScriptDirectory(str(MIGRATIONS)).walk_revisions())


def upgrade(engine: "Engine", revision: str = "head") -> None:
    """Bring the schema up to date; a database that is up to date is left untouched.

    Raises:
        NewerSchemaError: The database holds a revision that this program does not know.
    """
    config = _config(engine)
    scripts = ScriptDirectory.from_config(config)
    with engine.connect() as connection:
        present = MigrationContext.configure(connection).get_current_revision()
    if present is not None and present not in {script.revision for script in scripts.walk_revisions()}:
        message = f"The database has schema {present}, which this version does not know: it was used with a newer one."
        raise NewerSchemaError(message)
    if present != scripts.get_current_head() or revision != "head":
        command.upgrade(config, revision)


def downgrade(engine: "Engine", revision: str) -> None:
    """Take the schema back to an earlier revision."""
    command.downgrade(_config(engine), revision)
