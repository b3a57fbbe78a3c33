"""The look at what the program needs, once it is installed."""

import time
from pathlib import Path

import click

from app import install
from app.cli.errors import Failure
from app.cli.options import database_option
from app.install import Finding, right, wrong
from app.services.soundness import DatabaseError, look_at_database
from app.settings import read_settings
from app.sheets.words import day_year


@click.command()
@database_option
def check(database: str | None) -> None:
    """Look whether this computer has what the program needs, and whether its database can be used.

    Nothing is changed, and no database is made. Exit status 1 where something is missing.
    """
    settings = read_settings()
    findings = [
        install.look_at_python(),
        install.look_at_bits(),
        install.look_at_room(settings.instance, install.ROOM_TO_RUN),
        install.look_at_folder(settings.instance),
        install.look_at_disk(settings.instance),
        install.look_at_port(settings.port),
        install.look_at_clock(time.time()),
        *look_at(database or settings.database_url),
    ]
    click.echo(install.shown(findings))
    missing = [finding.name for finding in findings if not finding.is_right]
    if missing:
        raise Failure(f"Not in order: {', '.join(missing)}.")


def look_at(url: str) -> list[Finding]:
    """Return how the database is, and whether its newest entry says that the clock has gone back."""
    if url.startswith("sqlite:///") and not Path(url.removeprefix("sqlite:///")).exists():
        return [right("Database", "not made yet; the first start makes it")]
    try:
        found = look_at_database(url)
    except DatabaseError as error:
        return [wrong("Database", str(error))]
    if found.is_newer:
        return [wrong("Database", f"{found.kind}, written by a newer version of the program. Install that one.")]
    words = f"{found.kind}, " + ("brought up to date at the next start" if found.is_older else "up to date")
    if found.newest is None:
        return [right("Database", words)]
    late = f"{day_year(found.newest.date())}, {found.newest:%H:%M}"
    return [
        right("Database", words),
        wrong("Entries", f"the newest is of {late}, which is still to come: set the clock."),
    ]
