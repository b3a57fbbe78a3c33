"""Removing what nothing depends on."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.storage.queries.uses import Uses


class InUseError(Exception):
    """Other rows depend on what was to be removed."""

    def __init__(self, uses: "tuple[Uses, ...]") -> None:
        """Keep what depends on it, a group for each noun."""
        super().__init__(", ".join(f"{group.count} {group.noun}" for group in uses))
        self.uses = uses


def used_by(*uses: "Uses") -> "tuple[Uses, ...]":
    """Return the groups that hold anything."""
    return tuple(group for group in uses if group.count)


def require_unused(*uses: "Uses") -> None:
    """Raise InUseError where anything depends on what is to be removed."""
    found = used_by(*uses)
    if found:
        raise InUseError(found)
