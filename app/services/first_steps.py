"""The first hour: looking at the demo garden, leaving it for one's own, and putting the first steps away."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from app.services.accounts import make_first_slip
from app.services.backups import backup_name, engine_of, words_of
from app.services.demo import DEMO_DAY, set_up_demo
from app.services.demo_account import remove_demo_account
from app.services.folder import load_demo
from app.services.garden import get_garden
from app.storage.backup import BackupError, copy_database
from app.storage.errors import DatabaseError
from app.storage.history import leave_actor, note_history
from app.storage.numbers import forget_numbers
from app.storage.queries.house import find_house, get_house
from app.storage.queries.people import find_demo_account
from app.storage.queries.version import hold_writes, renew_mark
from app.storage.restoring import hold_everything
from app.storage.tables import delete_all

if TYPE_CHECKING:
    from app.storage import Session

CLEARED = "cleared"


class NotDemoError(Exception):
    """The garden is not the demo, so it is not cleared."""


class NotKeptError(Exception):
    """The garden could not be kept as a backup, so nothing was cleared; the message says why."""


@dataclass(frozen=True, kw_only=True)
class Cleared:
    """What clearing the demo garden came to.

    Attributes:
        backup: Where it is kept.
        token: Token of a link for the first coordinator, where nobody else can sign in; None else.
    """

    backup: Path
    token: str | None


def look_at_demo(session: "Session", *, today: date) -> None:
    """Load the demo garden into an empty database; on its own day as it stands then, else before anything is dealt.

    Args:
        session: Its transaction takes it all.
        today: The day that is taken for today.

    Raises:
        NotEmptyError: There is a garden.
    """
    hold_writes(session)
    if today == DEMO_DAY:
        set_up_demo(session)
    else:
        load_demo(session)
        forget_numbers(session)


def clear_demo(session: "Session", folder: Path, now: float) -> Cleared:
    """Remove the demo garden, once it is kept as a backup; people and what is set for the house stay.

    Args:
        session: Its transaction takes it all; nothing was written in it yet.
        folder: Where the backups are.
        now: The present moment. [s since 1970]

    Raises:
        NoGardenError: There is no garden.
        NotDemoError: The garden is not the demo.
        NotKeptError: The backup could not be made; nothing was changed.
    """
    hold_writes(session)
    hold_everything(session)
    name = get_garden(session).name
    if not find_house(session).holds_demo:
        raise NotDemoError
    path = folder / backup_name(now)
    try:
        copy_database(engine_of(session), path)
    except (OSError, BackupError, DatabaseError) as error:
        raise NotKeptError(words_of(error)) from error
    delete_all(session)
    forget_numbers(session)
    get_house(session).holds_demo = False
    renew_mark(session)
    note_history(session, "garden", CLEARED, subject=name, changes=[("backup", None, path.name)])
    session.flush()
    account = find_demo_account(session)
    if account is not None:
        leave_actor(session, account.id)
        remove_demo_account(session)
    slip = make_first_slip(session)
    return Cleared(backup=path, token=None if slip is None else slip.token)


def put_steps_away(session: "Session", *, hidden: bool) -> None:
    """Let the first steps not be shown by themselves any more, or again."""
    hold_writes(session)
    get_house(session).steps_hidden = hidden
    renew_mark(session)
    session.flush()
