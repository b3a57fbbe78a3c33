"""A whole garden from one database into another, of the same engine or not."""

from app.services.folder import NotEmptyError
from app.storage import Session
from app.storage.given_ids import raise_given_ids, read_given_ids
from app.storage.queries.version import hold_writes, renew_mark
from app.storage.tables import copy_tables, is_empty, restart_ids


def copy_garden(source: Session, target: Session) -> dict[str, int]:
    """Copy everything into an empty database, ids included, in one transaction.

    Args:
        source: Where the garden is; its transaction sees one state of it.
        target: Where it goes.

    Returns:
        The number of rows of each table.

    Raises:
        NotEmptyError: The target holds a garden.
    """
    hold_writes(target)
    if not is_empty(target):
        raise NotEmptyError
    counts = copy_tables(source.connection(), target.connection())
    restart_ids(target)
    raise_given_ids(target.connection(), read_given_ids(source.connection()))
    renew_mark(target)
    return counts
