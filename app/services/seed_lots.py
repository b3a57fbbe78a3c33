"""Adding, changing and removing seed lots."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.core.limits import reads_as_number_or_date
from app.services.columns import set_columns
from app.services.names import require_free
from app.services.removal import InUseError, require_unused
from app.storage.models import SeedLot
from app.storage.queries.crops import get_crop
from app.storage.queries.seed_lots import get_seed_lot
from app.storage.queries.uses import list_sowings_of_seed_lot
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.core.words import Origin
    from app.storage import Session


class NumberAsNameError(Exception):
    """A spreadsheet would take the name for a number or a date and rewrite it."""


class CropOfUsedLotError(InUseError):
    """A seed lot that sowings take would change its crop under them."""


@dataclass(frozen=True, kw_only=True)
class SeedLotValues:
    """What is written down of a seed lot.

    Attributes:
        name: What stands on the packet or jar.
        crop_id: Its crop.
        variety: Its variety.
        germination: Stated or tested germination. [fraction, above 0 to 1]
        origin: Where it came from.
        year: Year of packing or harvest.
    """

    name: str
    crop_id: int
    variety: str | None
    germination: float | None
    origin: "Origin | None"
    year: int | None


def add_seed_lot(session: "Session", values: SeedLotValues) -> SeedLot:
    """Add a seed lot.

    Raises:
        NotFoundError: There is no such crop card.
        NameTakenError: Another seed lot has this name.
        NumberAsNameError: The name reads as a number or a date.
    """
    hold_writes(session)
    get_crop(session, values.crop_id)
    _check_name(session, values.name)
    lot = SeedLot()
    set_columns(lot, values)
    session.add(lot)
    session.flush()
    return lot


def change_seed_lot(session: "Session", seed_lot_id: int, values: SeedLotValues) -> SeedLot:
    """Change a seed lot.

    Raises:
        NotFoundError: There is no such seed lot or crop card.
        NameTakenError: Another seed lot has this name.
        NumberAsNameError: The name reads as a number or a date.
        CropOfUsedLotError: Sowings of the present crop take this seed lot.
    """
    hold_writes(session)
    lot = get_seed_lot(session, seed_lot_id)
    get_crop(session, values.crop_id)
    if values.name != lot.name:
        _check_name(session, values.name, lot)
    if values.crop_id != lot.crop_id:
        uses = list_sowings_of_seed_lot(session, seed_lot_id)
        if uses.count:
            raise CropOfUsedLotError((uses,))
    set_columns(lot, values)
    session.flush()
    return lot


def remove_seed_lot(session: "Session", seed_lot_id: int) -> str:
    """Remove a seed lot and return its name.

    Raises:
        NotFoundError: There is no such seed lot.
        InUseError: Sowings take it.
    """
    hold_writes(session)
    lot = get_seed_lot(session, seed_lot_id)
    require_unused(list_sowings_of_seed_lot(session, seed_lot_id))
    session.delete(lot)
    session.flush()
    return lot.name


def _check_name(session: "Session", name: str, lot: SeedLot | None = None) -> None:
    if reads_as_number_or_date(name):
        raise NumberAsNameError(name)
    require_free(session, SeedLot.name, name, lot)
