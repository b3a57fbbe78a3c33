"""Adding, changing and removing crop cards."""

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from app.core.plants.card_rules import CardError, card_faults
from app.services.columns import set_columns
from app.services.names import require_free
from app.services.removal import require_unused
from app.storage.models import Crop
from app.storage.queries.containers import get_container
from app.storage.queries.crops import get_crop
from app.storage.queries.uses import list_seed_lots_of_crop, list_sowings_of_crop
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.core.words import CountedFrom, Hardiness, HeatMethod, Light, Transplanting
    from app.storage import Session


@dataclass(frozen=True, kw_only=True)
class CropValues:
    """What is written down on a crop card.

    Attributes:
        name: Name of the crop.
        botanical: Botanical name.
        hardiness: How much frost it bears.
        plant_out_weeks: When plants go out, from the average last frost. [weeks, negative before]
        direct_sow_weeks: When it is sown outside, from the average last frost. [weeks, negative before]
        indoor_weeks_min: Fewest weeks indoors. [weeks]
        indoor_weeks_max: Most weeks indoors. [weeks]
        start_container_id: Container it is sown in; None for a crop sown outside.
        pot_on_container_id: Container it is moved to.
        pot_on_after_days: When it is moved, from emergence. [d]
        transplanting: How it takes being moved.
        days_to_maturity: Days to the first ripe fruit or to harvest. [d]
        counted_from: Where those days begin.
        harvest_days: Picking time wanted after that. [d]
        hardening_days: Days of hardening off. [d]
        days_to_emerge: Days to emergence at `germ_temp_c`; only a crop sown outside may have none. [d]
        germ_temp_c: Temperature of the mix for emergence. [deg C]
        heat: Whether it is put on the heated bench to emerge.
        light: Where it stands for light.
        light_to_germinate: Whether its seed needs light.
        seeds_per_cell: Seeds sown in a cell.
        plants_per_cell: Plants that grow on in a cell.
        sow_depth_mm: Depth of sowing. [mm]
        seeds_per_gram: Seeds in a gram. [1/g]
        seed_storage_years: How long its seed keeps. [years]
        dli_target: Daily light it wants. [mol m-2 d-1]
        heat_sum_cd: Heat sum to maturity. [deg C d]
        heat_base_c: Base of the heat sum. [deg C]
        heat_method: Cut at the base of the heat sum.
        emergence_row: Name of its row in the published table of emergence.
        germination_kind: Name of its kind in the legal table of germination.
        source: Where each figure is from: `figure: source; figure+figure: source`.
    """

    name: str
    botanical: str | None
    hardiness: "Hardiness"
    plant_out_weeks: float | None
    direct_sow_weeks: float | None
    indoor_weeks_min: float | None
    indoor_weeks_max: float | None
    start_container_id: int | None
    pot_on_container_id: int | None
    pot_on_after_days: int | None
    transplanting: "Transplanting | None"
    days_to_maturity: int
    counted_from: "CountedFrom"
    harvest_days: int | None
    hardening_days: int | None
    days_to_emerge: int | None
    germ_temp_c: float | None
    heat: bool
    light: "Light | None"
    light_to_germinate: bool | None
    seeds_per_cell: int
    plants_per_cell: int | None
    sow_depth_mm: float | None
    seeds_per_gram: float | None
    seed_storage_years: float | None
    dli_target: float | None
    heat_sum_cd: float | None
    heat_base_c: float | None
    heat_method: "HeatMethod | None"
    emergence_row: str | None
    germination_kind: str | None
    source: str | None


def add_crop(session: "Session", values: CropValues) -> Crop:
    """Add a crop card.

    Raises:
        NameTakenError: Another crop card has this name.
        CardError: Its figures do not go together.
        NotFoundError: There is no such container.
    """
    hold_writes(session)
    _check(session, values)
    require_free(session, Crop.name, values.name)
    crop = Crop()
    set_columns(crop, values)
    session.add(crop)
    session.flush()
    return crop


def change_crop(session: "Session", crop_id: int, values: CropValues) -> Crop:
    """Change a crop card; errors as `add_crop`, and NotFoundError where there is no such card."""
    hold_writes(session)
    crop = get_crop(session, crop_id)
    _check(session, values)
    require_free(session, Crop.name, values.name, crop)
    set_columns(crop, values)
    session.flush()
    return crop


def remove_crop(session: "Session", crop_id: int) -> str:
    """Remove a crop card and return its name.

    Raises:
        NotFoundError: There is no such crop card.
        InUseError: It has sowings or seed lots.
    """
    hold_writes(session)
    crop = get_crop(session, crop_id)
    require_unused(list_sowings_of_crop(session, crop_id), list_seed_lots_of_crop(session, crop_id))
    session.delete(crop)
    session.flush()
    return crop.name


def _check(session: "Session", values: CropValues) -> None:
    columns = asdict(values)
    columns["start_container"] = values.start_container_id
    columns["pot_on_container"] = values.pot_on_container_id
    faults = card_faults(columns)
    if faults:
        raise CardError(faults)
    for container_id in (values.start_container_id, values.pot_on_container_id):
        if container_id is not None:
            get_container(session, container_id)
