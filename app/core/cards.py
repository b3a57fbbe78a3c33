"""What a plan is made from: crop cards, containers, shelves, growers, sowings and settings."""

from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import Days
from app.core.dates.emergence import EmergenceRow
from app.core.dates.frost import Frost
from app.core.dates.record import DailyRecord, Freezes
from app.core.log.entries import Log
from app.core.log.learning import Observed
from app.core.space.dealt import Dealt
from app.core.words import CountedFrom, Hardiness, HeatMethod, Light, Place

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]

# Picking time wanted after the first ripe fruit where the card says nothing; chosen here.
HARVEST_DAYS = 14
# A week outside in shelter before planting out: common practice.
HARDENING_DAYS = 7
# Where neither the seed lot nor the law gives a figure; chosen here, a little under most legal minimums.
GERMINATION = 0.70


@dataclass(frozen=True, kw_only=True)
class CropCard:
    """What is known of one crop, with the usual figures filled in where the card is silent.

    Attributes:
        plant_out_weeks: Weeks after the average last frost, negative before. [weeks]
        direct_sow_weeks: The same for sowing outside; None where it is not sown outside. [weeks]
        indoor_weeks_min: Shortest time indoors. [weeks]
        indoor_weeks_max: Longest time indoors. [weeks]
        start_container: Index of the container it is started in; None for crops sown outside.
        pot_on_container: Index of the container it is potted on into; None for none.
        pot_on_after_days: From emergence. [d]
        days_to_maturity: From `counted_from`. [d]
        harvest_days: Picking time wanted after the first ripe fruit. [d]
        hardening_days: Time outside in shelter before planting out. [d]
        days_to_emerge: At the card's own temperature. [d]
        germ_temp_c: Temperature of the mix for emergence. [C]
        legal_germination: Legal minimum germination of the kind. [fraction]
        seeds_per_gram: Seeds in a gram; None where not known. [1]
        dli_target: Light wanted in a day; None where not known. [mol m-2 d-1]
        heat_sum_cd: Heat sum from planting out, or from sowing outside, to maturity; None where not known. [C d]
        heat_base_c: Base of the heat sum. [C]
        heat_method: How the heat sum is cut at its base.
        sow_depth_mm: How deep it is sown; None where not known. [mm]
        needs_light: Whether its seed comes up in the light only; None where not known.
    """

    id: int
    name: str
    hardiness: Hardiness
    plant_out_weeks: float | None
    direct_sow_weeks: float | None
    indoor_weeks_min: float | None
    indoor_weeks_max: float | None
    start_container: int | None
    pot_on_container: int | None
    pot_on_after_days: int | None
    days_to_maturity: int
    counted_from: CountedFrom
    harvest_days: int
    hardening_days: int
    days_to_emerge: int
    germ_temp_c: float | None
    heat: bool
    light: Light | None
    seeds_per_cell: int
    plants_per_cell: int
    emergence: EmergenceRow | None
    legal_germination: float | None
    seeds_per_gram: float | None
    dli_target: float | None
    heat_sum_cd: float | None
    heat_base_c: float | None
    heat_method: HeatMethod | None
    sow_depth_mm: float | None = None
    needs_light: bool | None = None

    @property
    def is_started_indoors(self) -> bool:
        """Whether the card has a container to start in."""
        return self.start_container is not None


@dataclass(frozen=True, kw_only=True)
class ContainerCard:
    """A container.

    Attributes:
        cells_per_tray: How many stand in a tray position. [1]
        cell_volume_ml: Mix that each takes. [ml]
        rows: Rows of cells in a tray; None where not given. [1]
        columns: Columns of cells, likewise. [1]
    """

    id: int
    name: str
    cells_per_tray: int
    cell_volume_ml: float
    rows: int | None = None
    columns: int | None = None


@dataclass(frozen=True, kw_only=True)
class ShelfCard:
    """A shelf, with None for what is not given.

    Attributes:
        positions: Room for trays on all its levels. [1]
        bench_temp_c: Temperature of the mix on it. [C]
        width_cm: Width of a level. [cm]
        depth_cm: Depth of a level. [cm]
        levels: Levels of that size. [1]
        ppfd: Light of its lamps at leaf height. [umol m-2 s-1]
        hours_per_day: How long lamps or heat are on. [h]
        watts: What lamps or heat of the whole shelf draw. [W]
        pan_depth_mm: Depth of water in its wick pans. [mm]
        has_fan: Whether a fan blows over it.
    """

    id: int
    name: str
    place: Place
    positions: int
    bench_temp_c: float | None
    width_cm: float
    depth_cm: float
    levels: int
    ppfd: float | None
    hours_per_day: float | None
    watts: float | None
    pan_depth_mm: float | None
    has_fan: bool = False


class GrowerCard(NamedTuple):
    """A grower's name and plot."""

    id: int
    name: str
    plot: str | None


@dataclass(frozen=True, kw_only=True)
class SeedLotCard:
    """A seed lot.

    Attributes:
        crop: Index of its crop card.
        stated: Germination on the packet; None where none is given. [fraction]
        tests: What came up in tests of its seed, and in seasons before.
    """

    id: int
    name: str
    crop: int
    stated: float | None
    tests: tuple[Observed, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Sowings:
    """All sowings as columns of equal length, in the order in which they are shown.

    Attributes:
        ids: Row numbers in the database. Shape (n,).
        names: The sowings' keys.
        varieties: Names of varieties, None where none is given.
        grower: Index into the garden's growers. Shape (n,).
        crop: Index into the garden's crop cards. Shape (n,).
        plants: Plants wanted. Shape (n,). [1]
        placed: Plants granted; -1 where all are. Shape (n,). [1]
        days_to_maturity: Of the variety, counted as the card counts; 0 where the card's holds. Shape (n,). [d]
        germination: Stated for the seed lot; 0 where none is. Shape (n,). [fraction]
        seed_lot: Index into the garden's seed lots; -1 for none. Left out, none has one. Shape (n,).
        brings_seed: Whether its grower brings the seed; else the garden does. Left out, none does. Shape (n,).
        priority: 1 first to 3 last. Shape (n,).
        plant_out: The grower's own date; 0 for none. Shape (n,). [day number]
        sow_on: A day set by the coordinator; 0 for none. Shape (n,). [day number]
        risk: The grower's own spring risk; 0 for none. Shape (n,). [fraction]
        light: Index of a place in place of the card's light; -1 for none. Shape (n,).
    """

    ids: Ints
    names: tuple[str, ...]
    varieties: tuple[str | None, ...]
    grower: Ints
    crop: Ints
    plants: Ints
    placed: Ints
    days_to_maturity: Ints
    germination: Floats
    priority: Ints
    plant_out: Days
    sow_on: Days
    risk: Floats
    light: Ints
    seed_lot: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    brings_seed: Flags = field(default_factory=lambda: np.zeros(0, dtype=bool))

    def __post_init__(self) -> None:
        """Fill in what was left out: no sowing has a seed lot, and no grower brings seed."""
        if len(self.seed_lot) != len(self.ids):
            object.__setattr__(self, "seed_lot", np.full(len(self.ids), -1, dtype=np.int64))
        if len(self.brings_seed) != len(self.ids):
            object.__setattr__(self, "brings_seed", np.zeros(len(self.ids), dtype=bool))

    def __len__(self) -> int:
        """Return the number of sowings."""
        return len(self.ids)


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What the garden has chosen; shares are fractions, weekdays 0 for Monday, south of the equator is negative."""

    name: str
    season: int
    southern: bool
    latitude_deg: float
    sowing_weekday: int
    hand_out_weekday: int
    tray_cm: tuple[float, float]
    risk: float
    autumn_risk: float
    confidence: float
    survival: float
    spare: float


@dataclass(frozen=True, kw_only=True)
class Garden:
    """Everything that a plan is made from.

    Attributes:
        settings: What the garden has chosen.
        frost: When it freezes.
        growers: The growers, by name.
        cards: The crop cards, by name.
        containers: The containers.
        shelves: The shelves.
        sowings: All sowings.
        station: The freezes of the station's record that `frost` is from; None where it is from a table or dates.
        record: The station's record, where a crop has a heat sum; None where there is no record.
        dealt: The trays that have been dealt.
        log: What was written down.
        lots: The seed lots.
        today: The day that is taken for today; 0 where days do not pass. [day number]
    """

    settings: Settings
    frost: Frost
    growers: tuple[GrowerCard, ...]
    cards: tuple[CropCard, ...]
    containers: tuple[ContainerCard, ...]
    shelves: tuple[ShelfCard, ...]
    sowings: Sowings
    station: Freezes | None = None
    record: DailyRecord | None = None
    dealt: Dealt = field(default_factory=Dealt)
    log: Log = field(default_factory=Log)
    lots: tuple[SeedLotCard, ...] = ()
    today: int = 0

    def only_with(self, sowings: Sowings) -> "Garden":
        """Return the garden with other sowings, of which nothing is dealt or written down yet."""
        return replace(self, sowings=sowings, dealt=Dealt(), log=Log(), today=0)
