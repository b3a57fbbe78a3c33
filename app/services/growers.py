"""Adding, changing and removing growers."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.services.columns import set_columns
from app.services.names import require_free
from app.services.removal import require_unused
from app.storage.models import Grower
from app.storage.queries.growers import get_grower
from app.storage.queries.uses import list_sowings_of_grower
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.storage import Session


@dataclass(frozen=True, kw_only=True)
class GrowerValues:
    """What is written down of a grower.

    Attributes:
        name: Their name.
        plot: Their plot, in the garden's own way of numbering.
        contact: How to reach them.
        days: The weekdays they can come, separated by spaces, Monday first.
    """

    name: str
    plot: str | None
    contact: str | None
    days: str | None


def add_grower(session: "Session", values: GrowerValues) -> Grower:
    """Add a grower.

    Raises:
        NameTakenError: Another grower has this name.
    """
    hold_writes(session)
    require_free(session, Grower.name, values.name)
    grower = Grower()
    set_columns(grower, values)
    session.add(grower)
    session.flush()
    return grower


def change_grower(session: "Session", grower_id: int, values: GrowerValues) -> Grower:
    """Change a grower.

    Raises:
        NotFoundError: There is no such grower.
        NameTakenError: Another grower has this name.
    """
    hold_writes(session)
    grower = get_grower(session, grower_id)
    require_free(session, Grower.name, values.name, grower)
    set_columns(grower, values)
    session.flush()
    return grower


def remove_grower(session: "Session", grower_id: int) -> str:
    """Remove a grower and return its name.

    Raises:
        NotFoundError: There is no such grower.
        InUseError: The grower has sowings.
    """
    hold_writes(session)
    grower = get_grower(session, grower_id)
    require_unused(list_sowings_of_grower(session, grower_id))
    session.delete(grower)
    session.flush()
    return grower.name
