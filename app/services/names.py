"""Names that are somebody's own within their noun."""

from typing import TYPE_CHECKING, Any

from app.storage.queries.rows import find_name_id

if TYPE_CHECKING:
    from app.storage import Session


class NameTakenError(Exception):
    """Another row of the same noun has this name."""

    def __init__(self, name: str) -> None:
        """Name the name."""
        super().__init__(f"The name {name} is taken")
        self.name = name


def require_free(session: "Session", column: Any, name: str, own_id: int | None = None) -> None:  # noqa: ANN401
    """Raise NameTakenError where another row has the name, capital letters or not.

    Args:
        session: Where to look.
        column: The model's column of names.
        name: The name wanted.
        own_id: The row that is being changed; it may keep its name.
    """
    if find_name_id(session, column, name) not in {None, own_id}:
        raise NameTakenError(name)
