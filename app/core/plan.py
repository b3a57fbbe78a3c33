"""The one plan of a garden: dates, cells, trays and ledger, made over arrays from the garden's rows."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from enum import IntFlag
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import NO_DAY, Days, as_day, days_of_weeks, season_day
from app.core.cards import CropCard, Garden
from app.core.dates.emergence import Soil, days_to_emerge
from app.core.dates.frost import Frost
from app.core.dates.heat import chance_ripe_by_heat, degree_days, heat_sums
from app.core.dates.timeline import Forecast, Indoors, Timeline, indoor_timeline, outdoor_timeline
from app.core.errors import NoFrostDateError
from app.core.log.learning import Germination
from app.core.log.state import Logged, logged_of
from app.core.plants.germination import germination_of, germination_of_lots
from app.core.plants.season import (
    TENDER,
    SeasonFit,
    days_from_seed,
    days_from_transplant,
    first_day_outside,
    season_end,
    season_fit,
)
from app.core.plants.stand import cells_needed, spare_of
from app.core.space.dealt import settle
from app.core.space.ledger import Ledger, count_trays
from app.core.space.sharing import Stays, Trays
from app.core.space.standing import Lots, stand_in_trays
from app.core.words import HEAT, LAMP, PLACES, WINDOW, CountedFrom, Light, Place

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

NO_PLACE = -1
NO_CONTAINER = -1


class Warned(IntFlag):
    """What is said beside a sowing."""

    NOTHING = 0
    TOO_LONG = 1
    EARLY_PLANT_OUT = 2
    SET_DAY_OUTSIDE_WINDOW = 4
    LAMP_CROP_AT_WINDOW = 8
    BENCH_TOO_COLD = 16
    BENCH_TOO_HOT = 32
    NO_FIGURE_AT_BENCH = 64


@dataclass(frozen=True, kw_only=True)
class Progress:
    """How far sowings are, by the log and by what stands in trays; days are 0 where it has not come to that.

    All of shape (n,). [day number]

    Attributes:
        sown_on: The day it was sown.
        up_on: The day it came up.
        potted_on: The day it was potted on.
        hardened_on: The day its hardening began.
        over_on: The day the last of it left the shelves.
    """

    sown_on: Days
    up_on: Days
    potted_on: Days
    hardened_on: Days
    over_on: Days


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What a garden's rows come to. Arrays over sowings have the order of `garden.sowings`.

    Attributes:
        garden: What it was made from.
        timeline: The dates of each sowing, as they are reckoned with today.
        due: The dates on which each step is due; of steps that are not written down yet they may be over.
        logged: What the log comes to.
        living: Plants that are here by the log; 0 before any came up. Shape (n,). [1]
        progress: How far each sowing is.
        is_too_late: Whether it was not sown in time and takes no room any more. Shape (n,).
        germination: The share of seeds that come up. Shape (n,). [fraction]
        plants: Plants that are given room. Shape (n,). [1]
        cells: Cells to sow; 0 for crops sown outside. Shape (n,). [1]
        seeds: Seeds to sow. Shape (n,). [1]
        pots: Pots kept on potting on; 0 where none. Shape (n,). [1]
        container: Index of the start container, -1 for none. Shape (n,).
        pot_container: Index of the pot-on container, -1 where not potted on. Shape (n,).
        first_place: Index of the place from sowing to emergence, -1 for none. Shape (n,).
        light_place: Index of the place from emergence to hardening, -1 for none. Shape (n,).
        start: First day outside by the frost dates. Shape (n,). [day number]
        warned: `Warned` flags of each sowing. Shape (n,).
        trays: All trays, and the sowings in them.
        stays: Where each group of trays stands.
        ledger: Positions needed and there are.
    """

    garden: Garden
    timeline: Timeline
    due: Timeline
    logged: Logged
    living: Ints
    progress: Progress
    is_too_late: Flags
    germination: Floats
    plants: Ints
    cells: Ints
    seeds: Ints
    pots: Ints
    container: Ints
    pot_container: Ints
    first_place: Ints
    light_place: Ints
    start: Days
    warned: Ints
    trays: Trays
    stays: Stays
    ledger: Ledger

    def fit_of(self, card: CropCard) -> SeasonFit:
        """Return the season's verdict on a crop card, or on one changed to a variety."""
        garden, settings = self.garden, self.garden.settings
        return season_fit(
            card,
            garden.frost,
            risk=settings.risk,
            autumn_risk=settings.autumn_risk,
            autumn=None if garden.station is None else garden.station.autumn,
        )

    @cached_property
    def fits(self) -> tuple[SeasonFit, ...]:
        """The season's verdict on each crop card."""
        return tuple(map(self.fit_of, self.garden.cards))

    @cached_property
    def ripe_by_heat(self) -> tuple[float | None, ...]:
        """The chance that each crop gets its heat sum; None without one, or without a record. [fraction]"""
        return tuple(_ripe_by_heat(self.garden, card) for card in self.garden.cards)

    @cached_property
    def seen_of_lots(self) -> tuple[Germination | None, ...]:
        """What was seen of each seed lot; None where nothing was."""
        return germination_of_lots(self.garden, self.logged)

    @cached_property
    def index_of(self) -> dict[int, int]:
        """The index of each sowing by its row number in the database."""
        return {row: index for index, row in enumerate(self.garden.sowings.ids.tolist())}


def make_plan(garden: Garden) -> Plan:
    """Return the plan of a garden; equal gardens give equal plans.

    Source:
        docs/method.md, rule by rule.
    """
    places = _places(garden)
    start, is_early = _starts(garden)
    sowings = garden.sowings
    sown, kept_cells = settle(garden.dealt, len(sowings), potted_on=False)
    potted, kept_pots = settle(garden.dealt, len(sowings), potted_on=True)
    logged = logged_of(garden.log, len(sowings))
    living = logged.living(_per_crop(garden, lambda card: card.plants_per_cell)[sowings.crop])
    progress = _progress(garden, logged, sown.day, potted.day)
    forecast, bench_warned = _timeline(garden, places, start, progress)
    timeline = forecast.now
    germination = germination_of(garden, logged)
    indoors = _per_crop(garden, lambda card: card.is_started_indoors)[sowings.crop].astype(bool)
    plants = np.where(sowings.placed >= 0, sowings.placed, sowings.plants)
    is_sown, is_in_pots = indoors & sown.is_settled, indoors & potted.is_settled
    own_cells = np.where(is_sown, np.maximum(sown.cells, logged.sown), logged.sown)
    wanted = np.where(indoors & ~forecast.is_too_late, plants, 0)
    cells, seeds = _stand(garden, wanted, np.where(indoors, own_cells, 0), germination)
    container = _per_crop(garden, lambda card: _or_none(card.start_container))[sowings.crop]
    container = np.where(is_sown, sown.container, container)
    is_potted_on = timeline.pot_on != NO_DAY
    pot_container = _per_crop(garden, lambda card: _or_none(card.pot_on_container))[sowings.crop]
    pot_container = np.where(is_potted_on, np.where(is_in_pots, potted.container, pot_container), NO_CONTAINER)
    spare = spare_of(plants, garden.settings.spare)
    seedlings = np.where(logged.potted > 0, logged.potted, np.where(logged.up > 0, living, cells))
    pots = np.where(is_potted_on, np.where(is_in_pots, potted.cells, np.minimum(seedlings, plants + spare)), 0)
    capacity = np.array([box.cells_per_tray for box in garden.containers], dtype=np.int64)
    trays, stays = stand_in_trays(
        Lots(
            timeline=timeline,
            cells=cells,
            pots=pots,
            container=container,
            pot_container=pot_container,
            first_place=places.first,
            light_place=places.light,
        ),
        capacity,
        (kept_cells, kept_pots),
        has_hardening=any(shelf.place is Place.HARDENING for shelf in garden.shelves),
    )
    per_group = np.bincount(trays.group, minlength=int(stays.group.max(initial=-1)) + 1)
    return Plan(
        garden=garden,
        timeline=timeline,
        due=forecast.due,
        logged=logged,
        living=living,
        progress=progress,
        is_too_late=forecast.is_too_late,
        germination=germination,
        plants=plants,
        cells=cells,
        seeds=seeds,
        pots=pots,
        container=container,
        pot_container=pot_container,
        first_place=places.first,
        light_place=places.light,
        start=start,
        warned=_warnings(garden, timeline, indoors, is_early, places) | bench_warned,
        trays=trays,
        stays=stays,
        ledger=count_trays(stays.place, stays.begin, stays.end, per_group[stays.group], _positions(garden)),
    )


def _ripe_by_heat(garden: Garden, card: CropCard) -> float | None:
    record, settings, frost = garden.record, garden.settings, garden.frost
    if record is None or card.heat_sum_cd is None or card.heat_base_c is None or card.heat_method is None:
        return None
    heat_cd = degree_days(record.tmin_c, record.tmax_c, base_c=card.heat_base_c, method=card.heat_method)
    _, sums_cd = heat_sums(
        record.day,
        heat_cd,
        first=season_day(first_day_outside(card, frost, settings.risk), frost.season),
        end=season_day(season_end(frost, card.hardiness, settings.autumn_risk), frost.season),
    )
    return chance_ripe_by_heat(sums_cd, card.heat_sum_cd)


@dataclass(frozen=True, kw_only=True)
class _Places:
    """The places of each sowing from sowing and from emergence on, -1 for those sown outside."""

    first: Ints
    light: Ints


def _or_none(index: int | None) -> int:
    return -1 if index is None else index


def _per_crop(garden: Garden, value: Callable[[CropCard], float | None]) -> Ints:
    """Return a whole number of each crop card, 0 where it has none. Shape (n_crops,)."""
    return np.array([int(value(card) or 0) for card in garden.cards], dtype=np.int64)


def _positions(garden: Garden) -> Ints:
    positions = np.zeros(len(PLACES), dtype=np.int64)
    for shelf in garden.shelves:
        positions[PLACES.index(shelf.place)] += shelf.positions
    return positions


def _places(garden: Garden) -> _Places:
    there = {shelf.place for shelf in garden.shelves}
    lamp_or_window = {Light.LAMP: LAMP, Light.WINDOW: WINDOW, None: WINDOW}
    light = np.array(
        [lamp_or_window[card.light] if card.is_started_indoors else NO_PLACE for card in garden.cards], dtype=np.int64
    )
    wants_heat = _per_crop(garden, lambda card: card.heat and card.is_started_indoors and Place.HEAT in there)
    sowings = garden.sowings
    own = np.where(light[sowings.crop] == NO_PLACE, NO_PLACE, sowings.light)
    light_place = np.where(own == NO_PLACE, light[sowings.crop], own)
    first = np.where(wants_heat[sowings.crop] == 1, HEAT, light_place)
    return _Places(first=first, light=light_place)


def _starts(garden: Garden) -> tuple[Days, Flags]:
    """Return the first day outside of each sowing, and whether the grower's own date is earlier."""
    settings, frost, sowings = garden.settings, garden.frost, garden.sowings
    offset = np.array(
        [
            days_of_weeks((card.plant_out_weeks if card.is_started_indoors else card.direct_sow_weeks) or 0)
            for card in garden.cards
        ],
        dtype=np.int64,
    )
    is_tender = _per_crop(garden, lambda card: card.hardiness in TENDER).astype(bool)
    risks, which = np.unique(np.where(sowings.risk == 0, settings.risk, sowings.risk), return_inverse=True)
    safe = np.array([_safe_day(frost, float(risk)) for risk in risks], dtype=np.int64)
    start = as_day(frost.spring_on(0.5)) + offset[sowings.crop]
    start = np.where(is_tender[sowings.crop], np.maximum(start, safe[which]) if len(risks) else start, start)
    return start, (sowings.plant_out != NO_DAY) & (sowings.plant_out < start)


def _safe_day(frost: Frost, risk: float) -> int:
    """Return the day from which a risk is kept; where freezes come too rarely to date, there is nothing to wait for."""
    try:
        return as_day(frost.spring_on(risk))
    except NoFrostDateError:
        return NO_DAY


def _emergence(garden: Garden) -> tuple[Ints, Ints, Ints]:
    """Return days to emergence, delay and `Warned` flags for each crop in each first place.

    Each of shape (n_crops, 4). [d, d, flags]
    """
    bench: dict[int, float] = {}
    for shelf in garden.shelves:
        if shelf.bench_temp_c is not None:
            place = PLACES.index(shelf.place)
            bench[place] = min(shelf.bench_temp_c, bench.get(place, shelf.bench_temp_c))
    shape = (len(garden.cards), len(PLACES))
    days, delay, warned = (np.zeros(shape, dtype=np.int64) for _ in range(3))
    flag_of = {
        Soil.TOO_COLD: Warned.BENCH_TOO_COLD,
        Soil.TOO_HOT: Warned.BENCH_TOO_HOT,
        Soil.NO_FIGURE: Warned.NO_FIGURE_AT_BENCH,
    }
    for row, card in enumerate(garden.cards):
        usual = None
        if card.emergence is not None and card.germ_temp_c is not None:
            usual = days_to_emerge(card.emergence, card.germ_temp_c).whole_days
        days[row] = card.days_to_emerge if usual is None else usual
        if usual is None or card.emergence is None:
            continue
        for place, temperature_c in bench.items():
            there = days_to_emerge(card.emergence, temperature_c)
            if there.whole_days is None:
                warned[row, place] = flag_of[there.soil]
            else:
                days[row, place] = there.whole_days
                delay[row, place] = there.whole_days - usual
    return days, delay, warned


def _progress(garden: Garden, logged: Logged, filled: Days, potted: Days) -> Progress:
    """Return how far each sowing is; the log goes before the days on which trays were filled."""
    per_cell = _per_crop(garden, lambda card: card.plants_per_cell)[garden.sowings.crop]
    is_indoors = _per_crop(garden, lambda card: card.is_started_indoors)[garden.sowings.crop].astype(bool)
    return Progress(
        sown_on=np.where(logged.sown_on == NO_DAY, filled, logged.sown_on),
        up_on=logged.up_on,
        potted_on=np.where(logged.potted_on == NO_DAY, potted, logged.potted_on),
        hardened_on=logged.hardened_on,
        over_on=np.where(is_indoors & logged.is_over(per_cell), logged.left_on, NO_DAY),
    )


def _timeline(garden: Garden, places: _Places, start: Days, progress: Progress) -> tuple[Forecast, Ints]:
    """Return the dates of all sowings, and what is to be said of their benches.

    What was done already stands as it was, and the dates after it are counted from there.
    """
    sowings, crop = garden.sowings, garden.sowings.crop
    emerge_days, delay, bench_warned = _emergence(garden)
    ends = np.array(
        [as_day(season_end(garden.frost, card.hardiness, garden.settings.autumn_risk)) for card in garden.cards],
        dtype=np.int64,
    )
    indoor_min = _per_crop(garden, lambda card: days_of_weeks(card.indoor_weeks_min or 0))
    indoor_max = _per_crop(garden, lambda card: days_of_weeks(card.indoor_weeks_max or 0))
    hardening = _per_crop(garden, lambda card: card.hardening_days)
    pot_on_after = np.array(
        [
            -1 if c.pot_on_container is None or c.pot_on_after_days is None else c.pot_on_after_days
            for c in garden.cards
        ],
        dtype=np.int64,
    )
    is_thinned = _per_crop(garden, lambda card: card.seeds_per_cell > card.plants_per_cell).astype(bool)
    first = np.maximum(places.first, 0)
    given = Indoors(
        start=start,
        own_plant_out=sowings.plant_out,
        own_sow_on=sowings.sow_on,
        sown_on=progress.sown_on,
        up_on=progress.up_on,
        potted_on=progress.potted_on,
        hardened_on=progress.hardened_on,
        over_on=progress.over_on,
        season_end=ends[crop],
        ripe_days=_ripe_days(garden, CountedFrom.TRANSPLANT),
        indoor_min_days=indoor_min[crop],
        indoor_max_days=indoor_max[crop],
        emerge_days=emerge_days[crop, first],
        delay_days=delay[crop, first],
        hardening_days=hardening[crop],
        pot_on_after_days=pot_on_after[crop],
        is_thinned=is_thinned[crop],
    )
    weekdays = (garden.settings.sowing_weekday, garden.settings.hand_out_weekday)
    is_indoors = places.light != NO_PLACE
    indoors = indoor_timeline(given, *weekdays)
    if garden.today != NO_DAY and garden.today <= indoors.due.plant_out[is_indoors].max(initial=NO_DAY):
        # Once all is planted out the season is looked back on, and days do not pass.
        indoors = indoor_timeline(given, *weekdays, today=garden.today)
    outdoors = outdoor_timeline(start, ends[crop], _ripe_days(garden, CountedFrom.SEED))
    is_indoors = places.light != NO_PLACE

    def with_outdoors(times: Timeline) -> Timeline:
        return Timeline(
            **{
                field.name: np.where(is_indoors, getattr(times, field.name), getattr(outdoors, field.name))
                for field in fields(Timeline)
            }
        )

    now = with_outdoors(indoors.now)
    forecast = Forecast(
        due=now if indoors.due is indoors.now else with_outdoors(indoors.due),
        now=now,
        is_too_late=is_indoors & indoors.is_too_late,
    )
    return forecast, np.where(is_indoors, bench_warned[crop, first], 0)


def _ripe_days(garden: Garden, basis: CountedFrom) -> Ints:
    """Return days from planting out or sowing to the end of picking. Shape (n,). [d]"""
    convert = days_from_transplant if basis is CountedFrom.TRANSPLANT else days_from_seed
    usual = _per_crop(garden, convert)
    shift = usual - _per_crop(garden, lambda card: card.days_to_maturity)
    harvest = _per_crop(garden, lambda card: card.harvest_days)
    crop, own = garden.sowings.crop, garden.sowings.days_to_maturity
    return np.where(own > 0, own + shift[crop], usual[crop]) + harvest[crop]


def cells_at(garden: Garden, crop: Ints, plants: Ints, germination: Floats) -> Ints:
    """Return the cells to sow for plants at some rates of germination.

    Args:
        garden: Whose settings and crop cards hold.
        crop: Index of the crop card of each case. Shape (n,).
        plants: Plants wanted. Shape (n,). [1]
        germination: Share of seeds that come up. Shape (n,). [fraction]
    """
    return cells_needed(
        plants=plants,
        germination=germination,
        seeds_per_cell=_per_crop(garden, lambda card: card.seeds_per_cell)[crop],
        plants_per_cell=_per_crop(garden, lambda card: card.plants_per_cell)[crop],
        survival=garden.settings.survival,
        confidence=garden.settings.confidence,
    )


def _stand(garden: Garden, plants: Ints, sown_cells: Ints, germination: Floats) -> tuple[Ints, Ints]:
    """Return the cells and seeds of each sowing; what is sown has the cells that it has."""
    crop = garden.sowings.crop
    cells = np.where(sown_cells > 0, sown_cells, cells_at(garden, crop, plants, germination))
    return cells, cells * _per_crop(garden, lambda card: card.seeds_per_cell)[crop]


def _warnings(garden: Garden, timeline: Timeline, indoors: Flags, is_early: Flags, places: _Places) -> Ints:
    sowings = garden.sowings
    needs_lamp = _per_crop(garden, lambda card: card.light is Light.LAMP).astype(bool)[sowings.crop]
    is_set = indoors & (sowings.sow_on != NO_DAY)
    is_outside = is_set & ((timeline.sow_on < timeline.sow_from) | (timeline.sow_on > timeline.sow_by))
    last_day = np.where(indoors, timeline.last_chance, timeline.sow_by)
    flags = np.zeros(len(sowings), dtype=np.int64)
    for flag, holds in (
        (Warned.TOO_LONG, last_day < timeline.sow_from),
        (Warned.EARLY_PLANT_OUT, indoors & is_early),
        (Warned.SET_DAY_OUTSIDE_WINDOW, is_outside),
        (Warned.LAMP_CROP_AT_WINDOW, needs_lamp & (places.light == WINDOW)),
    ):
        flags |= np.where(holds, int(flag), 0)
    return flags
