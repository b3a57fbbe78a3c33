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
