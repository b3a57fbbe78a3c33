"""Supplies in words and as files: one list to order from, the seeds, every week, lamps and benches, pans."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import iso_week, monday_of
from app.core.needs.shelf_use import ShelfUse, days_to_next_fill, pan_litres, stretches_of, use_of_shelves
from app.core.needs.supplies import ML_IN_LITRE, Peak, Supplies, in_weeks, supplies_of
from app.core.plan import Plan
from app.core.words import Place, Units
from app.language import N_, _, ngettext, nouns
from app.sheets.fixed_words import say
from app.sheets.names import as_said, name_words
from app.sheets.tables import Cell, Table
from app.sheets.units import ordered_volume_words, seed_weight_words, volume_words, water_words
from app.sheets.words import count_words, decimal_sign, figure_words, number_words, week_words, weeks_words
from app.storage.queries.supplies import SownLot

Floats = NDArray[np.float64]

DASH = "–"
NOT_GIVEN = N_("not given")
DECIMALS = 3  # of litres, kWh and grams in files
ORDER_COLUMNS = ("kind", "item", "variety", "seed_lot", "order", "unit", "grams", "fullest_week", "season")
WEEK_COLUMNS = ("week", "seeds", "trays_filled", "stakes", "mix_litres", "trays_covered", "power_kwh", "pan_litres")


@dataclass(frozen=True, kw_only=True)
class Season:
    """All that a season takes.

    Attributes:
        plan: The garden's plan.
        supplies: What is filled, covered and sown.
        first_week: Running number of the first week of `shelves`.
        shelves: The use of every shelf.
        lots: The seed lot of each sowing that has one, by the id of the sowing.
        brought: The ids of sowings whose growers bring the seed, so that the garden need not buy it.
    """

    plan: Plan
    supplies: Supplies
    first_week: int
    shelves: tuple[ShelfUse, ...]
    lots: dict[int, SownLot]
    brought: frozenset[int] = frozenset()


class OrderLine(NamedTuple):
    """One thing to have.

    Attributes:
        what: What it is.
        order: How much of it serves.
        most: When the most of it is in use, or wanted in one week.
        season: What the whole season takes.
    """

    what: str
    order: str
    most: str
    season: str


class SeedLine(NamedTuple):
    """Seed of a crop: all of it, or of one variety and lot.

    Attributes:
        variety: Name of the variety, empty where none is given.
        lot: Name of the seed lot, empty where there is none.
        lot_id: Its row number; None where there is none.
        sowings: Sowings that take it. [1]
        seeds: Seeds. [1]
        weight: The same by weight, empty where the card does not tell.
        is_brought: Growers bring it; the garden's total leaves it out.
    """

    variety: str
    lot: str
    lot_id: int | None
    sowings: int
    seeds: int
    weight: str
    is_brought: bool = False


class SeedCrop(NamedTuple):
    """The seed of a crop.

    Attributes:
        crop_id: Row number of its card.
        name: Its name.
        is_outside: It is sown outside.
        total: All its seed that is the garden's to have.
        lines: All its seed by variety and lot, last what growers bring.
    """

    crop_id: int
    name: str
    is_outside: bool
    total: SeedLine
    lines: tuple[SeedLine, ...]


class WeekLine(NamedTuple):
    """What one week takes; a dash where it takes nothing."""

    monday: date
    seeds: str
    trays: str
    stakes: str
    mix: str
    covered: str
    kwh: str
    water: str


class PowerLine(NamedTuple):
    """Lamps or heat of a shelf, and each stretch of weeks with trays on it; what is not given is said so."""

    shelf_id: int
    name: str
    place: str
    watts: str
    hours: str
    weeks: tuple[str, ...]
    days: int
    kwh: str


class PanLine(NamedTuple):
    """The pans of a shelf: what they hold, how long it lasts, each stretch of weeks with trays, and the fills."""

    shelf_id: int
    name: str
    holds: str
    lasts: str
    weeks: tuple[str, ...]
    fills: int
    water: str


@dataclass(frozen=True, kw_only=True)
class SuppliesPage:
    """What a season takes, in words.

    Attributes:
        facts: The line of facts under the heading.
        order: What to have, seeds aside.
        seeds: The seed of each crop.
        has_weights: Whether some card tells the weight of its seed.
        weeks: What each week takes.
        power: Lamps and benches.
        kwh: What all of them draw.
        unknown: How many in use cannot be counted, since a figure is not given. [1]
        pans: Wick pans.
    """

    facts: tuple[tuple[str, str], ...]
    order: tuple[OrderLine, ...]
    seeds: tuple[SeedCrop, ...]
    has_weights: bool
    weeks: tuple[WeekLine, ...]
    power: tuple[PowerLine, ...]
    kwh: str
    unknown: int
    pans: tuple[PanLine, ...]


def season_of(plan: Plan, lots: dict[int, SownLot], brought: frozenset[int] = frozenset()) -> Season:
    """Return what a plan's season takes.

    Args:
        plan: The plan.
        lots: The seed lots of sowings by the sowings' ids.
        brought: The ids of sowings whose growers bring the seed.
    """
    first_week, shelves = use_of_shelves(plan)
    supplies = supplies_of(plan)
    return Season(plan=plan, supplies=supplies, first_week=first_week, shelves=shelves, lots=lots, brought=brought)


def make_supplies_page(season: Season, units: Units) -> SuppliesPage:
    """Return the supplies of a season in words."""
    power = tuple(_power(season))
    seeds = tuple(as_said(_seeds(season, units), lambda crop: crop.name))
    kwh = kwh_words(_kwh_by_week(season).sum())
    supplies = season.supplies
    return SuppliesPage(
        facts=(
            (_("Seeds"), number_words(int(supplies.seeds.sum()))),
            *_seeds_brought(seeds),
            (_("Potting mix"), ordered_volume_words(_ml(supplies.mix_litres.sum()), units)),
            (_("Covers"), number_words(supplies.covers.count)),
            (_("Labels and stakes"), number_words(int(supplies.trays.sum() + supplies.stakes.sum()))),
            (_("Power"), kwh),
        ),
        order=tuple(_order(season, units)),
        seeds=seeds,
        has_weights=any(crop.total.weight for crop in seeds),
        weeks=tuple(_weeks(season, units)),
        power=power,
        kwh=kwh,
        unknown=sum(line.kwh == _(NOT_GIVEN) and line.days > 0 for line in power),
        pans=tuple(_pans(season, units)),
    )


def kwh_words(kwh: float) -> str:
    """Return energy to a tenth, as `53.8 kWh`."""
    return f"{number_words(round(float(kwh), 1)).removesuffix(f'{decimal_sign()}0')}\u00a0kWh"


def _ml(litres: float) -> float:
    return float(litres) * ML_IN_LITRE


def _order(season: Season, units: Units) -> Iterator[OrderLine]:
    supplies, boxes = season.supplies, season.plan.garden.containers
    for use in supplies.containers:
        box = boxes[use.container]
        filled = count_words(use.trays_in_all, "time", "times")
        cells = count_words(use.cells.count, "cell", "cells")
        same = use.trays.week == use.cells.week
        yield OrderLine(
            name_words(box.name),
            count_words(use.trays.count, "tray", "trays"),
            f"{_peak_week(use.trays)}{f', {cells}' if same else f'; {cells} {_peak_week(use.cells)}'}",
            _("filled %(times)s, %(cells)s", times=filled, cells=count_words(use.cells_in_all, "cell", "cells")),
        )
    if supplies.covers.count:
        in_all = supplies.covers_in_all
        yield OrderLine(
            _("Covers"),
            count_words(supplies.covers.count, "cover", "covers"),
            _peak_week(supplies.covers),
            ngettext("%(num)s tray covered", "%(num)s trays covered", in_all, num=number_words(in_all)),
        )
    if supplies.mix_litres.any():
        fullest = int(supplies.mix_litres.argmax())
        total = _ml(supplies.mix_litres.sum())
        yield OrderLine(
            _("Potting mix"),
            ordered_volume_words(total, units),
            _amount_in(volume_words(_ml(supplies.mix_litres[fullest]), units), supplies.weeks[fullest]),
            volume_words(total, units),
        )
    for what, one, counts in (
        (_("Labels"), nouns("label", "labels"), supplies.trays),
        (_("Stakes"), nouns("stake", "stakes"), supplies.stakes),
    ):
        if counts.any():
            fullest = int(counts.argmax())
            total_words = count_words(int(counts.sum()), *one)
            yield OrderLine(
                what,
                total_words,
                _amount_in(count_words(int(counts[fullest]), *one), supplies.weeks[fullest]),
                total_words,
            )


def _week(week: int) -> str:
    return week_words(monday_of(week))


def _amount_in(amount: str, week: int) -> str:
    return _("%(amount)s in %(week)s", amount=amount, week=_week(week))


def _peak_week(peak: Peak) -> str:
    return DASH if peak.week is None else _("in %(week)s", week=_week(peak.week))


def _seeds_brought(seeds: tuple[SeedCrop, ...]) -> Iterator[tuple[str, str]]:
    brought = sum(line.seeds for crop in seeds for line in crop.lines if line.is_brought)
    if brought:
        yield _("of them brought by growers"), number_words(brought)


class _Sown(NamedTuple):
    """Sowings of one crop, variety and seed lot: how many, and their seeds."""

    sowings: int
    seeds: int


# Variety, name and id of the seed lot, and whether growers bring it.
_SeedKey = tuple[str, str, int | None, bool]


def _order_of_seed(key: _SeedKey) -> tuple[bool, str, str]:
    return key[3], key[0], key[1]


def _sown(season: Season) -> dict[int, dict[_SeedKey, _Sown]]:
    """Return, by crop and then by variety and lot, the sowings and their seeds; without seeds nothing is listed."""
    sowings = season.plan.garden.sowings
    found: dict[int, dict[_SeedKey, _Sown]] = {}
    columns = zip(
        sowings.ids.tolist(), sowings.crop.tolist(), sowings.varieties, season.supplies.seeds_of.tolist(), strict=True
    )
    for sowing_id, crop, variety, seeds in columns:
        if seeds:
            lot = season.lots.get(sowing_id)
            named = variety or (lot.variety if lot else None) or ""
            is_brought = sowing_id in season.brought
            key = (named, lot.name if lot else "", lot.id if lot else None, is_brought)
            before = found.setdefault(crop, {}).get(key, _Sown(0, 0))
            found[crop][key] = _Sown(before.sowings + 1, before.seeds + seeds)
    return found


def _seeds(season: Season, units: Units) -> Iterator[SeedCrop]:
    for crop, by_lot in sorted(_sown(season).items()):
        card = season.plan.garden.cards[crop]

        def line(key: _SeedKey, sown: _Sown, per_gram: float | None = card.seeds_per_gram) -> SeedLine:
            weight = "" if per_gram is None else seed_weight_words(sown.seeds / per_gram, units)
            variety, lot, lot_id, is_brought = key
            return SeedLine(variety, lot, lot_id, sown.sowings, sown.seeds, weight, is_brought)

        own = [one for key, one in by_lot.items() if not key[3]]
        all_of_it = _Sown(sum(one.sowings for one in own), sum(one.seeds for one in own))
        yield SeedCrop(
            crop_id=card.id,
            name=name_words(card.name),
            is_outside=not card.is_started_indoors,
            total=line(("", "", None, False), all_of_it),
            lines=tuple(line(key, by_lot[key]) for key in sorted(by_lot, key=_order_of_seed)),
        )


def _kwh_by_week(season: Season) -> Floats:
    """Return what lamps and benches draw in each week. Shape (n_weeks,). [kWh]"""
    return _in_all(season, [use.kwh for use in season.shelves if use.kwh is not None])


def _water_by_week(season: Season) -> Floats:
    """Return what is poured into pans in each week. Shape (n_weeks,). [l]"""
    return _in_all(
        season,
        [use.fills.astype(np.float64) * pan_litres(use.shelf) for use in season.shelves if use.fills is not None],
    )


def _in_all(season: Season, of_shelves: list[Floats]) -> Floats:
    total = np.zeros(len(season.supplies.weeks))
    for figures in of_shelves:
        total += in_weeks(season.supplies.weeks, season.first_week, figures)
    return total


def _weeks(season: Season, units: Units) -> Iterator[WeekLine]:
    supplies = season.supplies
    kwh, water = _kwh_by_week(season), _water_by_week(season)
    for n, week in enumerate(supplies.weeks):
        mix_ml = _ml(supplies.mix_litres[n])
        yield WeekLine(
            monday=monday_of(week),
            seeds=_or_dash(int(supplies.seeds[n])),
            trays=_or_dash(int(supplies.trays[n])),
            stakes=_or_dash(int(supplies.stakes[n])),
            mix=volume_words(mix_ml, units) if mix_ml else DASH,
            covered=_or_dash(int(supplies.covered[n])),
            kwh=kwh_words(kwh[n]) if kwh[n] else DASH,
            water=water_words(_ml(water[n]), units) if water[n] else DASH,
        )


def _or_dash(count: int) -> str:
    return number_words(count) if count else DASH


def _power(season: Season) -> Iterator[PowerLine]:
    for use in season.shelves:
        shelf = use.shelf
        if shelf.place not in {Place.HEAT, Place.LAMP}:
            continue
        is_guessed = shelf.hours_per_day is None and use.hours is not None
        hours = _(NOT_GIVEN) if use.hours is None else f"{figure_words(use.hours)} h"
        yield PowerLine(
            shelf_id=shelf.id,
            name=shelf.name,
            place=say(shelf.place),
            watts=_(NOT_GIVEN) if shelf.watts is None else f"{figure_words(shelf.watts)} W",
            hours=_("%(hours)s, none given", hours=hours) if is_guessed else hours,
            weeks=_weeks_in_use(season, use),
            days=int(use.days.sum()),
            kwh=_(NOT_GIVEN) if use.kwh is None else kwh_words(use.kwh.sum()),
        )


def _weeks_in_use(season: Season, use: ShelfUse) -> tuple[str, ...]:
    """Return the weeks in which trays stand on a shelf, each unbroken stretch."""
    used = {season.first_week + int(week) for week in use.days.nonzero()[0]}
    return tuple(weeks_words(monday_of(first), monday_of(last)) for first, last in stretches_of(used))


def _pans(season: Season, units: Units) -> Iterator[PanLine]:
    for use in season.shelves:
        shelf = use.shelf
        if use.fills is None or not shelf.pan_depth_mm:
            continue
        litres, fills = pan_litres(shelf), int(use.fills.sum())
        yield PanLine(
            shelf_id=shelf.id,
            name=shelf.name,
            holds=water_words(_ml(litres), units),
            lasts=figure_words(days_to_next_fill(shelf.pan_depth_mm), 1),
            weeks=_weeks_in_use(season, use),
            fills=fills,
            water=water_words(_ml(litres * fills), units),
        )


def order_rows(season: Season) -> Table:
    """Return the whole order as a table: things first, then seed by crop, variety and lot.

    `order` is what serves: the most at once of what is used again, else what the season takes, and nothing of seed
    that growers bring. Litres and kWh are metric.
    """
    supplies, boxes, cards = season.supplies, season.plan.garden.containers, season.plan.garden.cards
    rows: list[tuple[Cell, ...]] = []

    def thing(kind: str, item: str, order: float, unit: str, week: int | None, total: float) -> None:
        name = None if week is None else iso_week(monday_of(week))
        rows.append((kind, item, None, None, _rounded(order), unit, None, name, _rounded(total)))

    for use in supplies.containers:
        name = boxes[use.container].name
        thing(_("container"), name, use.trays.count, _("trays"), use.trays.week, use.trays_in_all)
        thing(_("container"), name, use.cells.count, _("cells"), use.cells.week, use.cells_in_all)
    covers = supplies.covers
    thing(_("cover"), _("covers"), covers.count, _("covers"), covers.week, supplies.covers_in_all)
    kwh, water = _kwh_by_week(season), _water_by_week(season)
    for kind, item, unit, figures in (
        (_("mix"), _("potting mix"), _("litres"), supplies.mix_litres),
        (_("label"), _("tray labels"), _("labels"), supplies.trays),
        (_("label"), _("stakes"), _("stakes"), supplies.stakes),
        (_("power"), _("lamps and benches"), "kWh", kwh),
        (_("water"), _("wick pans"), _("litres"), water),
    ):
        fullest = supplies.weeks[int(figures.argmax())] if figures.any() else None
        thing(kind, item, float(figures.sum()), unit, fullest, float(figures.sum()))
    for crop, by_lot in sorted(_sown(season).items()):
        per_gram = cards[crop].seeds_per_gram
        for key in sorted(by_lot, key=_order_of_seed):
            variety, lot, _lot_id, is_brought = key
            seeds = by_lot[key].seeds
            order = 0 if is_brought else seeds
            grams = None if per_gram is None else _rounded(order / per_gram)
            kind = _("seed of growers") if is_brought else _("seed")
            rows.append((kind, cards[crop].name, variety or None, lot or None, order, _("seeds"), grams, None, seeds))
    return Table(ORDER_COLUMNS, rows)


def week_rows(season: Season) -> Table:
    """Return what each week takes as a table, litres and kWh metric."""
    supplies = season.supplies
    columns = (
        [iso_week(monday_of(week)) for week in supplies.weeks],
        supplies.seeds.tolist(),
        supplies.trays.tolist(),
        supplies.stakes.tolist(),
        list(map(_rounded, supplies.mix_litres.tolist())),
        supplies.covered.tolist(),
        list(map(_rounded, _kwh_by_week(season).tolist())),
        list(map(_rounded, _water_by_week(season).tolist())),
    )
    return Table(WEEK_COLUMNS, list(zip(*columns, strict=True)))


def _rounded(figure: float) -> int | float:
    """Return a figure to the digits of files, whole numbers without a point."""
    rounded = round(figure, DECIMALS)
    return int(rounded) if rounded == int(rounded) else rounded
