"""Names that are somebody's own within their noun."""

from typing import TYPE_CHECKING, Any

from app.storage.queries.rows import find_name_id

if TYPE_CHECKING:
    from app.storage import Session
    from app.storage.queries.rows import Named


class NameTakenError(Exception):
    """Another row of the same noun has this name."""

    def __init__(self, name: str) -> None:
        """Name the name."""
        super().__init__(f"The name {name} is taken")
        self.name = name


def require_free(session: "Session", column: Any, name: str, row: "Named | None" = None) -> None:  # noqa: ANN401
    """Raise NameTakenError where another row has the name, capital letters or not.

    Args:
        session: Where to look.
        column: The model's column of names.
        name: The name wanted.
        row: The row that is being changed; it may keep the name it has.
    """
    if row is not None and row.name == name:
        return
    found = find_name_id(session, column, name, other_than=None if row is None else row.id)
    if found is not None:
        raise NameTakenError(name)
