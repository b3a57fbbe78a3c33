"""A whole garden in from a folder, and out into one."""

from pathlib import Path

from app.services.demo_account import ensure_demo_account, remove_demo_account
from app.storage import Session
from app.storage.folder import FolderError, FolderInUseError, read_folder, store_folder, write_folder
from app.storage.history import note_history
from app.storage.numbers import forget_numbers
from app.storage.progress import Tell, silent
from app.storage.published import SEED_DATA
from app.storage.queries.house import find_house, get_house
from app.storage.queries.people import find_demo_account, has_coordinator, link_growers, list_linked
from app.storage.queries.version import hold_writes
from app.storage.tables import delete_all, holds_garden

__all__ = [
    "DEMO_FOLDER",
    "FolderError",
    "FolderInUseError",
    "NotEmptyError",
    "dump_folder",
    "has_garden",
    "load_demo",
    "load_folder",
]

DEMO_FOLDER = SEED_DATA / "demo"


class NotEmptyError(Exception):
    """The database holds a garden, which would be lost."""

    def __init__(self) -> None:
        """Say so."""
        super().__init__("The database holds a garden already, and it stays as it is.")


def load_folder(session: Session, folder: Path, *, replace: bool = False, tell: Tell = silent) -> dict[str, int]:
    """Load a garden folder into a database; accounts stay, and are of the growers who have the same names in it.

    Everything is read and checked before anything is written. The account by which the demo garden is looked at goes.

    Args:
        session: Its transaction takes it all.
        folder: The folder.
        replace: Whether a garden that is there goes; numbers on its paper are not given again, unless it is the demo.
        tell: Is called with the rows stored so far and the rows in all.

    Returns:
        The number of rows from each file.

    Raises:
        NotEmptyError: There is a garden, and it is not to be replaced.
        FolderError: The folder cannot be read, or has faults.
    """
    counts = _load(session, folder, replace=replace, tell=tell)
    remove_demo_account(session)
    if find_house(session).holds_demo:
        get_house(session).holds_demo = False
        session.flush()
    return counts


def _load(session: Session, folder: Path, *, replace: bool, tell: Tell) -> dict[str, int]:
    hold_writes(session)
    if not replace and holds_garden(session):
        raise NotEmptyError
    loaded = read_folder(folder)
    linked = list_linked(session)
    delete_all(session)
    if find_demo_account(session) is not None:
        forget_numbers(session)
    counts = store_folder(session, loaded, tell)
    link_growers(session, linked)
    said = [("rows", None, sum(counts.values()))]
    note_history(session, "garden", "loaded from a folder", subject=loaded.settings.garden["name"], changes=said)
    return counts


def load_demo(session: Session, *, replace: bool = False) -> dict[str, int]:
    """Load the demo garden; arguments and errors as `load_folder`.

    Where nobody can sign in as a coordinator, its own account lets in whoever sits at the machine.
    """
    counts = _load(session, DEMO_FOLDER, replace=replace, tell=silent)
    get_house(session).holds_demo = True
    session.flush()
    if not has_coordinator(session):
        ensure_demo_account(session)
    return counts


def dump_folder(session: Session, folder: Path, *, replace: bool = False) -> dict[str, int]:
    """Write the garden into a folder.

    Args:
        session: Where the garden is.
        folder: A folder that is new or empty.
        replace: Whether the files of an earlier garden folder may go.

    Returns:
        The number of rows in each file.

    Raises:
        FolderError: The folder has files in it or cannot be written, or there is no garden.
    """
    return write_folder(session, folder, replace=replace)


def has_garden(session: Session) -> bool:
    """Return whether the database holds anything of a garden."""
    return holds_garden(session)
