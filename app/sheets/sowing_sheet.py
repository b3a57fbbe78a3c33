"""The sowing sheet of a day: which tray gets whose seed, in which cells and how, to hang by the bench."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

import numpy as np

from app.core.calendar import as_day
from app.core.cards import CropCard
from app.core.dealing.deal import filled_on
from app.core.needs.supplies import MIX_MORE
from app.core.plan import Plan
from app.core.space.dealt import NOT_DEALT
from app.core.space.grid import Cell, grid_of
from app.core.words import CellState, Place, Units
from app.language import _, nouns
from app.sheets.cautions import ELECTRICITY, MIX_DUST, SAVED_CUCURBITS, TREATED_SEED, Caution
from app.sheets.hand_out import alphabetical
from app.sheets.names import name_words
from app.sheets.tray_words import cells_words, stay_words
from app.sheets.units import depth_words, ordered_volume_words, sow_depth_words, temperature_words
from app.sheets.words import count_words, day_long, day_words, day_year, range_words
from app.storage.queries.sheets import SeedRow
from app.storage.queries.trays import CellRow, StayRow

BLANK_LINES = 5


# Of what is sown into, and what is potted on into.
_FREE = (nouns("cell free", "cells free"), nouns("pot free", "pots free"))


@dataclass(frozen=True, kw_only=True)
class LotOnSheet:
    """What one sowing has of a tray.

    Attributes:
        cells: Its cells, as `A1–F1, A2–C2`.
        count: How many, as `9 cells` or `7 pots`.
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        seed_lot: The seed lot, and whether it is the grower’s own seed; empty where neither is, and for pots.
        grower: Name of the grower.
        plot: Their plot, empty where none is given.
        seeds: Seeds a cell and in all, as `2 a cell, 18 in all`; empty for pots.
        how: How deep or in the light, and how warm, where it is not the same for the whole tray; for pots, out of
            which cells.
        done: Whether all its cells are filled already.
        doubtful: A cucurbit from saved or swapped seed.
    """

    cells: str
    count: str
    crop: str
    variety: str
    seed_lot: str
    grower: str
    plot: str
    seeds: str
    how: tuple[str, ...]
    done: bool
    doubtful: bool


@dataclass(frozen=True, kw_only=True)
class TrayOnSheet:
    """One tray that is filled.

    Attributes:
        number: Its number.
        container: Name of the container.
        grid: Its rows and columns, as `6 rows of 12`.
        free: Cells that stay free, in words; empty where none does.
        goes: Where it goes when it is filled.
        cover: Until when it is covered; empty for pots.
        how: How deep or in the light, and how warm, where it is the same for all of it.
        lots: What is put into it, in the order of the cells.
    """

    number: int
    container: str
    grid: str
    free: str
    goes: str
    cover: str
    how: str
    lots: tuple[LotOnSheet, ...]


@dataclass(frozen=True, kw_only=True)
class PersonOnSheet:
    """A grower and the trays in which their cells are, as `39, 41 – 43`."""

    name: str
    trays: str


@dataclass(frozen=True, kw_only=True)
class SowingSheet:
    """The sheet of one day.

    Attributes:
        garden: Name of the garden.
        day: The day, in words.
        iso: The same as `2027-04-10`.
        printed: The day it was made, in words.
        sown: Trays that are sown, by number.
        potted: Trays that are filled with pots, by number.
        sums: What is done, in words; a line for each part there is.
        mix: How much mix that takes, as `13 l`; empty where nothing is filled.
        boxes: What is filled, as `4 × 128-cell tray, 3 × 72-cell tray`.
        people: Whose cells are where, in alphabetical order.
        not_dealt: What of this day is not dealt, or no longer as it was dealt; empty where all is.
        address: Where what was sown is typed in; empty where no address is known.
        cautions: What to mind.
        blank_lines: Empty rows at the end, for people not listed. [1]
    """

    garden: str
    day: str
    iso: str
    printed: str
    sown: tuple[TrayOnSheet, ...]
    potted: tuple[TrayOnSheet, ...]
    sums: tuple[str, ...]
    mix: str
    boxes: str
    people: tuple[PersonOnSheet, ...]
    not_dealt: str
    address: str
    cautions: tuple[Caution, ...]
    blank_lines: int = BLANK_LINES


@dataclass(frozen=True, kw_only=True)
class BenchFacts:
    """What a sowing sheet says beside the plan.

    Attributes:
        cells: All cells of the sowings that are in trays filled on the day, by tray, row and column.
        stays: Where these trays stand, by day.
        seed: The seed of the sowings that have a seed lot, by their ids.
        units: In which quantities are said.
        today: The day of the making.
        address: Where what was sown is typed in; empty where no address is known.
    """

    cells: Sequence[CellRow]
    stays: Sequence[StayRow]
    seed: Mapping[int, SeedRow]
    units: Units
    today: date
    address: str = ""


def fill_days(plan: Plan) -> tuple[date, ...]:
    """Return every day on which trays are sown or filled with pots, dealt or not, in order."""
    dealt = plan.garden.dealt
    days = np.union1d(filled_on(plan), dealt.filled[dealt.part_tray])
    return tuple(date.fromordinal(day) for day in days.tolist())


def next_fill_day(plan: Plan, today: date) -> date | None:
    """Return the first such day from today on, after the last one that one, None in a plan without any."""
    days = fill_days(plan)
    return next((day for day in days if day >= today), days[-1] if days else None)


class TraysOfDay(NamedTuple):
    """Row numbers of the dealt trays that are filled on a day, and of the sowings in them."""

    trays: list[int]
    sowings: list[int]


def trays_of_day(plan: Plan, day: date) -> TraysOfDay:
    """Return the dealt trays that are filled on a day and have cells for somebody, and the sowings in them."""
    dealt = plan.garden.dealt
    parts = np.flatnonzero(dealt.filled[dealt.part_tray] == as_day(day))
    return TraysOfDay(
        dealt.ids[np.unique(dealt.part_tray[parts])].tolist(),
        plan.garden.sowings.ids[np.unique(dealt.part_lot[parts])].tolist(),
    )


def make_sowing_sheet(plan: Plan, day: date, facts: BenchFacts) -> SowingSheet:
    """Return the sheet of a day; trays without sowings are left out.

    Args:
        plan: The garden's plan.
        day: The day.
        facts: What it says beside the plan.
    """
    maker = _Maker(plan, facts)
    dealt = plan.garden.dealt
    cells_of = {tray: list(cells) for tray, cells in groupby(facts.cells, key=attrgetter("tray_id"))}
    of_day = np.flatnonzero(dealt.filled == as_day(day)).tolist()
    used = [(tray, cells) for tray in of_day if (cells := cells_of.get(int(dealt.ids[tray])))]
    sown = [(tray, cells) for tray, cells in used if not dealt.is_potted_on[tray]]
    potted = [(tray, cells) for tray, cells in used if dealt.is_potted_on[tray]]
    return SowingSheet(
        garden=plan.garden.settings.name,
        day=day_long(day),
        iso=day.isoformat(),
        printed=day_year(facts.today),
        sown=tuple(maker.tray(*pair) for pair in sown),
        potted=tuple(maker.tray(*pair) for pair in potted),
        sums=tuple(maker.sums(sown, potted)),
        mix=maker.mix(used),
        boxes=_boxes(plan, used),
        people=tuple(_people(plan, used)),
        not_dealt=not_dealt_words(plan, day),
        address=facts.address,
        cautions=tuple(maker.cautions(used)),
    )


def not_dealt_words(plan: Plan, day: date) -> str:
    """Return what of a day is not dealt, or no longer as it was dealt; empty where all is."""
    new, changed = _differing(plan, as_day(day))
    parts = []
    if new:
        parts.append(count_words(new, "tray of this day is not dealt yet.", "trays of this day are not dealt yet."))
    if changed:
        trays = count_words(changed, "tray", "trays")
        parts.append(_("What is to be in %(trays)s has changed since it was dealt.", trays=trays))
    return " ".join(parts)


def _differing(plan: Plan, day: int) -> tuple[int, int]:
    """Return how many trays of a day are not dealt, and how many are dealt otherwise than the plan has them."""
    trays, dealt = plan.trays, plan.garden.dealt
    is_day = filled_on(plan) == day
    planned: dict[int, set[tuple[int, int]]] = {}
    for part in np.flatnonzero(is_day[trays.part_tray]).tolist():
        stored = int(trays.stored[trays.part_tray[part]])
        planned.setdefault(stored, set()).add((int(trays.part_lot[part]), int(trays.part_cells[part])))
    there: dict[int, set[tuple[int, int]]] = {}
    for part in np.flatnonzero(dealt.filled[dealt.part_tray] == day).tolist():
        pair = int(dealt.part_lot[part]), int(dealt.part_cells[part])
        there.setdefault(int(dealt.part_tray[part]), set()).add(pair)
    planned.pop(NOT_DEALT, None)
    new = int((is_day & (trays.stored == NOT_DEALT)).sum())
    return new, sum(planned.get(tray) != there.get(tray) for tray in planned.keys() | there.keys())


# Index of a dealt tray, and its cells that belong to sowings.
_Pair = tuple[int, list[CellRow]]


@dataclass(frozen=True)
class _Maker:
    """Puts the parts of a sheet together."""

    plan: Plan
    facts: BenchFacts

    def tray(self, tray: int, cells: list[CellRow]) -> TrayOnSheet:
        """Return a tray with its lots in the order of their first cells."""
        dealt = self.plan.garden.dealt
        box, is_pots = self.plan.garden.containers[dealt.container[tray]], bool(dealt.is_potted_on[tray])
        lots: dict[int, list[CellRow]] = {}
        for cell in cells:
            lots.setdefault(cell.sowing_id, []).append(cell)
        free, grid = box.cells_per_tray - len(cells), grid_of(box.cells_per_tray, box.rows, box.columns)
        rows = tuple(self.pots(lot) if is_pots else self.lot(lot) for lot in lots.values())
        is_alike = not is_pots and len({row.how for row in rows}) == 1
        return TrayOnSheet(
            number=int(dealt.number[tray]),
            container=name_words(box.name),
            grid=_("%(rows)s of %(columns)s", rows=count_words(grid.rows, "row", "rows"), columns=grid.columns),
            free="" if free <= 0 else count_words(free, *_FREE[is_pots]),
            goes=self.goes(int(dealt.ids[tray])),
            cover="" if is_pots else self.cover(lots),
            how=_sentence(", ".join(rows[0].how)) if is_alike else "",
            lots=tuple(replace(row, how=()) for row in rows) if is_alike else rows,
        )

    def goes(self, tray_id: int) -> str:
        """Return where a tray goes first."""
        stay = next((stay for stay in self.facts.stays if stay.tray_id == tray_id), None)
        if stay is None:
            return _("no place is known")
        return stay_words(stay)

    def cover(self, lots: Iterable[int]) -> str:
        """Return until when a tray is covered: until its last lot is up."""
        last = max(int(self.plan.timeline.emerges[self.plan.index_of[sowing]]) for sowing in lots)
        day = day_words(date.fromordinal(last))
        return _("Cover on, off when seedlings show: about %(day)s", day=day)

    def seed_words(self, sowing_id: int) -> str:
        """Return the seed lot of a sowing, and that its grower brings it; empty where neither is known."""
        seed, sowings = self.facts.seed.get(sowing_id), self.plan.garden.sowings
        own = _("own seed") if sowings.brings_seed[self.plan.index_of[sowing_id]] else ""
        return ", ".join(part for part in ("" if seed is None else seed.seed_lot, own) if part)

    def lot(self, cells: list[CellRow]) -> LotOnSheet:
        """Return what one sowing has of a tray that is sown."""
        card = self.card(cells[0])
        return replace(
            self.pots(cells),
            count=count_words(len(cells), "cell", "cells"),
            seed_lot=self.seed_words(cells[0].sowing_id),
            seeds=_(
                "%(seeds)s a cell, %(all)s in all",
                seeds=card.seeds_per_cell,
                all=card.seeds_per_cell * len(cells),
            ),
            how=tuple(self.how(card)),
        )

    def pots(self, cells: list[CellRow]) -> LotOnSheet:
        """Return what one sowing has of a tray of pots."""
        first, garden = cells[0], self.plan.garden
        seed = self.facts.seed.get(first.sowing_id)
        index = self.plan.index_of[first.sowing_id]
        return LotOnSheet(
            cells=_words(cells),
            count=count_words(len(cells), "pot", "pots"),
            crop=name_words(first.crop),
            variety=first.variety or "",
            seed_lot="",
            grower=first.grower,
            plot=garden.growers[garden.sowings.grower[index]].plot or "",
            seeds="",
            how=tuple(self.origins(first.sowing_id)),
            done=all(cell.state is not CellState.EMPTY for cell in cells),
            doubtful=seed is not None and seed.is_doubtful,
        )

    def card(self, cell: CellRow) -> CropCard:
        """Return the crop card of what is in a cell."""
        crop = int(self.plan.garden.sowings.crop[self.plan.index_of[cell.sowing_id]])
        return self.plan.garden.cards[crop]

    def how(self, card: CropCard) -> Iterable[str]:
        """Yield how deep, with as little mix over it as can be where it needs light, and how warm."""
        depth_mm = card.sow_depth_mm
        if card.needs_light and not depth_mm:
            yield _("press in, do not cover with mix: needs light")
        elif card.needs_light and depth_mm:
            depth = depth_words(depth_mm, self.facts.units)
            yield _("cover thinly, %(depth)s at most: needs light", depth=depth)
        elif depth_mm is not None:
            yield sow_depth_words(depth_mm, self.facts.units)
        if card.germ_temp_c is not None:
            temperature = temperature_words(card.germ_temp_c, self.facts.units)
            yield _("mix at %(temperature)s", temperature=temperature)

    @cached_property
    def sown_cells(self) -> dict[int, dict[int, list[CellRow]]]:
        """The cells in which each sowing is sown, by its id and the number of the tray."""
        dealt = self.plan.garden.dealt
        sown = ~dealt.is_potted_on
        number_of = dict(zip(dealt.ids[sown].tolist(), dealt.number[sown].tolist(), strict=True))
        found: dict[int, dict[int, list[CellRow]]] = {}
        for cell in self.facts.cells:
            if cell.tray_id in number_of:
                found.setdefault(cell.sowing_id, {}).setdefault(number_of[cell.tray_id], []).append(cell)
        return found

    def origins(self, sowing_id: int) -> Iterable[str]:
        """Yield out of which cells of which trays a sowing is potted on."""
        for number, cells in sorted(self.sown_cells.get(sowing_id, {}).items()):
            yield _("out of tray %(number)s, %(cells)s", number=number, cells=_words(cells))

    def sums(self, sown: list[_Pair], potted: list[_Pair]) -> Iterable[str]:
        """Yield what is sown and what is potted on, all together."""
        for pairs, is_pots in ((sown, False), (potted, True)):
            if not pairs:
                continue
            cells = [cell for _tray, own in pairs for cell in own]
            counts = {
                "trays": count_words(len(pairs), "tray", "trays"),
                "sowings": count_words(len({cell.sowing_id for cell in cells}), "sowing", "sowings"),
                "growers": count_words(len({cell.grower_id for cell in cells}), "grower", "growers"),
            }
            if is_pots:
                pots = count_words(len(cells), "pot", "pots")
                yield _("Pot on into %(trays)s: %(pots)s for %(sowings)s of %(growers)s.", pots=pots, **counts)
            else:
                places = count_words(len(cells), "cell", "cells")
                yield _("Sow %(trays)s: %(cells)s for %(sowings)s of %(growers)s.", cells=places, **counts)

    def mix(self, used: list[_Pair]) -> str:
        """Return how much mix the day takes, with what is spilled and settles."""
        boxes, container = self.plan.garden.containers, self.plan.garden.dealt.container
        ml = sum(len(cells) * boxes[container[tray]].cell_volume_ml for tray, cells in used) * MIX_MORE
        return ordered_volume_words(ml, self.facts.units) if used else ""

    def cautions(self, used: list[_Pair]) -> Iterable[Caution]:
        """Yield what to mind: dust, treated seed, current beside water, doubtful seed."""
        if used:
            yield MIX_DUST.said
        if any(not self.plan.garden.dealt.is_potted_on[tray] for tray, _ in used):
            yield TREATED_SEED.said
        if any(stay.place in {Place.HEAT, Place.LAMP} for stay in self.facts.stays):
            yield ELECTRICITY.said
        if any(seed.is_doubtful for seed in self.facts.seed.values()):
            yield SAVED_CUCURBITS.said


def _boxes(plan: Plan, used: list[_Pair]) -> str:
    boxes = Counter(name_words(plan.garden.containers[plan.garden.dealt.container[tray]].name) for tray, _ in used)
    return ", ".join(f"{count} × {name}" for name, count in sorted(boxes.items()))


def _people(plan: Plan, used: list[_Pair]) -> Iterable[PersonOnSheet]:
    trays_of: dict[int, set[int]] = {}
    names: dict[int, str] = {}
    for tray, cells in used:
        for cell in cells:
            trays_of.setdefault(cell.grower_id, set()).add(int(plan.garden.dealt.number[tray]))
            names[cell.grower_id] = cell.grower
    for grower in sorted(names, key=lambda grower: alphabetical(names[grower])):
        yield PersonOnSheet(name=names[grower], trays=range_words(sorted(trays_of[grower])))


def _words(cells: Iterable[CellRow]) -> str:
    return cells_words(Cell(cell.row, cell.column) for cell in cells)


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"
