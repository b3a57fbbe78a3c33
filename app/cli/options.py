"""Options that several commands have, and what they come to."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Any, TypeVar

import click

from app import clock
from app.core.words import Via
from app.settings import read_settings
from app.storage import Session
from app.storage.history import Actor, set_actor
from app.storage.opening import open_session
from app.storage.queries.days import set_today

Decorated = TypeVar("Decorated", bound=Callable[..., Any])

database_option = click.option(
    "--database",
    metavar="URL",
    help="Where the garden is kept: sqlite:///FILE or postgresql+psycopg://... "
    "By default DATABASE_URL, else an SQLite file in the instance folder.",
)
today_option = click.option(
    "--today",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="The day taken for today, such as 2027-04-10; by default TRAYMATES_TODAY, else the real day.",
)
format_option = click.option(
    "--format",
    "form",
    type=click.Choice(["table", "csv", "json"]),
    default="table",
    show_default=True,
    help="How the table is printed.",
)


def database_url(option: str | None) -> str:
    """Return the address of the database: the option's, else that of the settings; its default folder is made."""
    settings = read_settings()
    if option is None:
        Path(settings.instance).mkdir(parents=True, exist_ok=True)
    return option or settings.database_url


def day_of(option: datetime | None) -> date:
    """Return the day that is taken for today: the option's, else that of the settings, else the real one."""
    return option.date() if option else clock.today(read_settings())


@contextmanager
def garden_session(option: str | None, *, read_only: bool = False, today: date | None = None) -> Iterator[Session]:
    """Give a session on the database that the option or the settings name; it is committed at the end.

    Args:
        option: The address; None for that of the settings.
        read_only: Whether nothing is written.
        today: The day from which it looks at the garden; None where that does not matter.
    """
    with open_session(database_url(option), read_only=read_only) as session:
        set_actor(session, Actor(None, Via.COMMAND))
        set_today(session, today)
        yield session
