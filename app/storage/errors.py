"""Errors of the storage."""


class NotFoundError(LookupError):
    """No row has this id."""

    def __init__(self, noun: str, row_id: int) -> None:
        """Name the noun and the id that was asked for."""
        super().__init__(f"There is no {noun} {row_id}")
        self.noun = noun
        self.row_id = row_id


class ClashError(Exception):
    """The database refuses what would give a number, a cell or a position away twice."""


class DatabaseError(Exception):
    """The database cannot be used; the message says why, without its password. Nothing of the transaction is kept."""


class BusyError(DatabaseError):
    """Others have been writing for so long that the turn did not come; the same may be done again in a moment."""


class CrossedError(BusyError):
    """Two changes stood in each other's way and the database gave this one up; done again, it will go through."""


class FullError(DatabaseError):
    """There is no room for what was to be written."""


class ReadOnlyError(DatabaseError):
    """The file or its folder may not be written to."""


class AwayError(DatabaseError):
    """The database server cannot be reached."""
