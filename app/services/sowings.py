"""Adding, changing and removing sowings."""

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from app.core.calendar import as_date, as_day
from app.core.cards import Sowings
from app.core.limits import PRIORITY_DEFAULT, SOWING_YEARS
from app.core.plan import NO_PLACE, make_plan
from app.core.wish import with_sowing
from app.core.words import PLACES, Place
from app.services.columns import set_columns
from app.services.plan import get_plan
from app.services.removal import require_unused
from app.storage.models import Crop, Sowing
from app.storage.numbers import note_numbers
from app.storage.queries.crops import get_crop
from app.storage.queries.growers import get_grower
from app.storage.queries.seed_lots import get_seed_lot
from app.storage.queries.sowings import get_sowing, next_key
from app.storage.queries.trays import free_cells_of_sowing
from app.storage.queries.uses import list_trays_sown_with
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from app.core.cards import CropCard, Garden, GrowerCard, SeedLotCard
    from app.core.plan import Plan
    from app.core.words import Light
    from app.storage import Session
    from app.storage.queries.uses import Uses


NO_LOT = -1


class PlacedAbovePlantsError(Exception):
    """More plants are granted than are wanted."""


class SeedLotOfOtherCropError(Exception):
    """The seed lot holds seed of another crop."""

    def __init__(self, crop: str) -> None:
        """Name the crop whose seed it holds."""
        super().__init__(f"The seed lot holds {crop}")
        self.crop = crop


class FarFromSeasonError(Exception):
    """A date lies outside the growing year and the years beside it."""

    def __init__(self, column: str, season: int) -> None:
        """Name the column, `plant_out` or `sow_on`, and the growing year."""
        super().__init__(f"{column} is far from the season {season}")
        self.column = column
        self.season = season


class SownOutsideError(Exception):
    """The crop is sown outside: nothing of the shelves can be set for it."""

    def __init__(self, column: str) -> None:
        """Name the column, `sow_on` or `light`."""
        super().__init__(f"{column} is set for a crop that is sown outside")
        self.column = column


class OutsideWindowError(Exception):
    """The day set for sowing lies outside the sowing's window."""

    def __init__(self, first: "date", last: "date") -> None:
        """Keep the window, both days included."""
        super().__init__(f"The window is {first} to {last}")
        self.first = first
        self.last = last


class CropIsSownError(Exception):
    """Cells of the sowing hold the crop that it was of."""

    def __init__(self, trays: "Uses") -> None:
        """Keep the trays in which it is sown."""
        super().__init__(f"It is sown in {trays.count} trays")
        self.trays = trays


@dataclass(frozen=True, kw_only=True)
class SowingValues:
    """What is written down of a sowing; its key is given to it and kept.

    Attributes:
        grower_id: Who wants the plants.
        crop_id: The crop.
        seed_lot_id: The seed that is taken.
        plants: Plants wanted.
        variety: The variety.
        days_to_maturity: Of the variety, counted as on the crop card. [d]
        priority: 1 first to 3 last.
        plant_out: The grower's own date.
        risk: The grower's own spring risk. [fraction]
        sow_on: A day set by the coordinator.
        light: A light place other than the card's.
        placed: Plants granted where not all found room.
        brings_seed: Its grower brings the seed; else the garden does.
    """

    grower_id: int
    crop_id: int
    seed_lot_id: int | None
    plants: int
    variety: str | None
    days_to_maturity: int | None
    priority: int | None
    plant_out: "date | None"
    risk: float | None
    sow_on: "date | None"
    light: "Light | None"
    placed: int | None
    brings_seed: bool = False


def values_of(sowing: Sowing) -> SowingValues:
    """Return what is written down of a sowing."""
    return SowingValues(**{field.name: getattr(sowing, field.name) for field in fields(SowingValues)})


def add_sowing(session: "Session", values: SowingValues, garden: "Garden | None" = None) -> Sowing:
    """Add a sowing under the next free key.

    Args:
        session: Its transaction takes it.
        values: What is written down.
        garden: What the plan is made from, where that is at hand; its sowings do not matter.

    Raises:
        NotFoundError: There is no such grower, crop card or seed lot.
        SeedLotOfOtherCropError: The seed lot holds another crop.
        PlacedAbovePlantsError: More plants are granted than wanted.
        FarFromSeasonError: A date lies in another season.
        SownOutsideError: A day or a light place is set for a crop sown outside.
        OutsideWindowError: The day set for sowing lies outside the window.
    """
    hold_writes(session)
    _check(session, values, garden)
    sowing = Sowing(name=next_key(session))
    set_columns(sowing, values)
    session.add(sowing)
    session.flush()
    return sowing


def change_sowing(session: "Session", sowing_id: int, values: SowingValues) -> Sowing:
    """Change a sowing.

    Raises:
        NotFoundError: There is no such sowing, grower, crop card or seed lot.
        CropIsSownError: It is to be of another crop, but is sown.
        SeedLotOfOtherCropError: As `add_sowing` raises it, and its other errors likewise.
    """
    hold_writes(session)
    sowing = get_sowing(session, sowing_id)
    _check(session, values)
    if values.crop_id != sowing.crop_id and (trays := list_trays_sown_with(session, sowing_id)).count:
        raise CropIsSownError(trays)
    set_columns(sowing, values)
    session.flush()
    return sowing


@dataclass(frozen=True, kw_only=True)
class Preview:
    """A sowing that is not stored yet.

    Attributes:
        sowing: Its index in the plan after it.
        before: The plan as it is.
        after: The plan with it.
    """

    sowing: int
    before: "Plan"
    after: "Plan"


def preview_sowing(session: "Session", values: SowingValues, sowing_id: int | None = None) -> Preview:
    """Return what adding a sowing, or changing one, would do; nothing is stored.

    Args:
        session: Where the garden is.
        values: What would be written down.
        sowing_id: Row number of the sowing that would be changed; None to add one.

    Raises:
        NotFoundError: As `add_sowing` and `change_sowing` raise it, and their other errors likewise.
    """
    _check(session, values)
    before = get_plan(session)
    at = None if sowing_id is None else before.index_of[sowing_id]
    garden, sowing = with_sowing(before.garden, _row_of(before.garden, values), at)
    return Preview(sowing=sowing, before=before, after=make_plan(garden))


def remove_sowing(session: "Session", sowing_id: int) -> str:
    """Remove a sowing and return its name; cells that are kept for it are free again.

    Raises:
        NotFoundError: There is no such sowing.
        InUseError: It is sown in trays, or in pots.
    """
    hold_writes(session)
    sowing = get_sowing(session, sowing_id)
    require_unused(list_trays_sown_with(session, sowing_id))
    note_numbers(session)
    free_cells_of_sowing(session, sowing_id)
    session.delete(sowing)
    session.flush()
    return sowing.name


def _check(session: "Session", values: SowingValues, garden: "Garden | None" = None) -> None:
    get_grower(session, values.grower_id)
    crop = get_crop(session, values.crop_id)
    if values.seed_lot_id is not None:
        lot = get_seed_lot(session, values.seed_lot_id)
        if lot.crop_id != values.crop_id:
            raise SeedLotOfOtherCropError(get_crop(session, lot.crop_id).name)
    if values.placed is not None and values.placed > values.plants:
        raise PlacedAbovePlantsError
    _check_days(garden or get_plan(session).garden, crop, values)


def _check_days(garden: "Garden", crop: Crop, values: SowingValues) -> None:
    for column, day in (("plant_out", values.plant_out), ("sow_on", values.sow_on)):
        if day is not None and abs(day.year - garden.settings.season) > SOWING_YEARS:
            raise FarFromSeasonError(column, garden.settings.season)
    if crop.start_container_id is None:
        for column, given in (("sow_on", values.sow_on), ("light", values.light)):
            if given is not None:
                raise SownOutsideError(column)
    if values.sow_on is not None:
        first, last = find_window(garden, values)
        if not first <= values.sow_on <= last:
            raise OutsideWindowError(first, last)


def find_window(garden: "Garden", values: SowingValues) -> "tuple[date, date]":
    """Return the first and the last day on which a sowing may be sown, as the plan has it.

    Args:
        garden: What the plan is made from; its own sowings do not matter.
        values: The sowing, of a crop that starts in a container.
    """
    timeline = make_plan(garden.only_with(_alone(garden, values))).timeline
    first, last = as_date(int(timeline.sow_from[0])), as_date(int(timeline.sow_by[0]))
    if first is None or last is None:
        raise SownOutsideError("sow_on")
    return first, last


def _row_of(garden: "Garden", values: SowingValues) -> dict[str, Any]:
    """Return what the garden's columns say of this sowing."""
    lot = _index_of(garden.lots, values.seed_lot_id)
    return {
        "name": "",
        "variety": values.variety,
        "grower": _index_of(garden.growers, values.grower_id),
        "crop": _index_of(garden.cards, values.crop_id),
        "plants": values.plants,
        "placed": -1 if values.placed is None else values.placed,
        "days_to_maturity": values.days_to_maturity or 0,
        "germination": 0.0 if lot == NO_LOT else garden.lots[lot].stated or 0.0,
        "priority": values.priority or PRIORITY_DEFAULT,
        "plant_out": as_day(values.plant_out),
        "sow_on": as_day(values.sow_on),
        "risk": values.risk or 0.0,
        "light": NO_PLACE if values.light is None else PLACES.index(Place(values.light)),
        "seed_lot": lot,
        "brings_seed": values.brings_seed,
    }


def _index_of(cards: "Sequence[GrowerCard | CropCard | SeedLotCard]", row_id: int | None) -> int:
    return next((index for index, card in enumerate(cards) if card.id == row_id), NO_LOT)


def _alone(garden: "Garden", values: SowingValues) -> Sowings:
    """Return the columns of a garden that has this sowing alone, without a day set for it."""
    crop = next(index for index, card in enumerate(garden.cards) if card.id == values.crop_id)
    light = NO_PLACE if values.light is None else PLACES.index(Place(values.light))
    whole = {
        "ids": 0,
        "grower": 0,
        "crop": crop,
        "plants": values.plants,
        "placed": -1,
        "days_to_maturity": values.days_to_maturity or 0,
        "priority": values.priority or 0,
        "plant_out": as_day(values.plant_out),
        "sow_on": 0,
        "light": light,
    }
    columns = {name: np.array([value], dtype=np.int64) for name, value in whole.items()}
    return Sowings(
        names=("",),
        varieties=(None,),
        germination=np.zeros(1),
        risk=np.array([values.risk or 0.0]),
        brings_seed=np.array([values.brings_seed]),
        **columns,
    )
