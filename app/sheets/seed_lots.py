"""Seed lots in words: their age, what is stated and what was seen of them, and what that makes of cells."""

from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np

from app.core.log.learning import Germination
from app.core.plan import NO_PLACE, Plan, cells_at
from app.core.plants.cucurbits import is_cucurbit
from app.core.plants.germination import stated_of
from app.core.words import Origin
from app.language import _, ngettext, pgettext
from app.sheets.fixed_words import say
from app.sheets.words import count_words, day_year, decimal_sign, number_words, percent_words
from app.storage.queries.seed_lots import SeedTestRow

FIRST_SOWINGS = 20
IN_DOUBT = frozenset({Origin.SAVED, Origin.GIFT})


@dataclass(frozen=True, kw_only=True)
class Age:
    """How old seed is.

    Attributes:
        words: In words, with how long such seed usually keeps; empty where no year is given.
        is_past: It is older than that.
    """

    words: str
    is_past: bool


class TestLine(NamedTuple):
    """A test of seed.

    Attributes:
        test_id: Its row number.
        begun: The day on which it was begun.
        came_up: How many of how many.
        share: The same in percent; of cells with several seeds there is none.
        after: After how many days they were counted.
    """

    test_id: int
    begun: str
    came_up: str
    share: str
    after: str


class StandLine(NamedTuple):
    """The cells of a sowing by either rate.

    Attributes:
        sowing_id: Its row number.
        name: Its key.
        grower: Who wants it.
        plants: Plants that are given room. [1]
        stated: Cells by the stated rate. [1]
        seen: Cells by what was seen. [1]
        planned: What the plan has, which is what was sown where it is sown. [1]
    """

    sowing_id: int
    name: str
    grower: str
    plants: int
    stated: int
    seen: int
    planned: int


@dataclass(frozen=True, kw_only=True)
class SeedLotPage:
    """The page of a seed lot.

    Attributes:
        facts: The line of facts under the heading.
        age: How old it is.
        seen: What was seen of it, in a sentence; empty where nothing was.
        tests: Its tests.
        stands: The first sowings that take it and are started in cells.
        n_stands: How many there are of those. [1]
        in_all: Cells of all of them: by the stated rate, by what was seen, in the plan. [1]
        is_doubtful: It is saved or swapped seed of cucurbits.
    """

    facts: tuple[tuple[str, str], ...]
    age: Age
    seen: str
    tests: tuple[TestLine, ...]
    stands: tuple[StandLine, ...]
    n_stands: int
    in_all: tuple[int, int, int]
    is_doubtful: bool


def is_doubtful(origin: Origin | None, crop: str, botanical: str | None) -> bool:
    """Return whether a lot is saved or swapped seed of a crop whose crosses can be bitter."""
    return origin in IN_DOUBT and is_cucurbit(crop, botanical)


def age_of(year: int | None, storage_years: float | None, today: date) -> Age:
    """Return how old seed is in a year, and whether that is more than such seed usually keeps.

    Args:
        year: The year that it was packed for or harvested in.
        storage_years: How long seed of the crop usually keeps. [years]
        today: The day that is taken for today.
    """
    if year is None:
        return Age(words="", is_past=False)
    old = max(0, today.year - year)
    words = _("of this year") if not old else ngettext("%(num)s year old", "%(num)s years old", old)
    if storage_years is None:
        return Age(words=words, is_past=False)
    keeps = ngettext("%(num)s year", "%(num)s years", 1 if storage_years == 1 else 2, num=_figure(storage_years))
    if old > storage_years:
        said = _("%(age)s, older than the %(keeps)s that such seed usually keeps", age=words, keeps=keeps)
        return Age(words=said, is_past=True)
    return Age(words=_("%(age)s; such seed usually keeps %(keeps)s", age=words, keeps=keeps), is_past=False)


def seen_words(seen: Germination | None) -> str:
    """Return what was seen of a lot, as `72 % (61 – 82 %)`; empty where nothing was."""
    if seen is None:
        return ""
    low, high = (f"{share * 100:.0f}" for share in (seen.low, seen.high))
    return f"{percent_words(round(seen.mean, 2))} ({low} – {high}\u00a0%)"


def make_seed_lot_page(
    plan: Plan, seed_lot_id: int, row: "LotFacts", tests: list[SeedTestRow], today: date
) -> SeedLotPage:
    """Return the page of a seed lot.

    Args:
        plan: The garden's plan.
        seed_lot_id: Its row number.
        row: What is written down of it.
        tests: Its tests, in the order of the page.
        today: The day that is taken for today.
    """
    lot = next(index for index, card in enumerate(plan.garden.lots) if card.id == seed_lot_id)
    seen, age = plan.seen_of_lots[lot], age_of(row.year, row.storage_years, today)
    stands = _stands(plan, lot, seen)
    if row.germination is None:
        stated = _("not given, counts as %(share)s", share=percent_words(stated_of(plan.garden, lot)))
    else:
        stated = percent_words(row.germination)
    facts = [(_("Stated"), stated), (_("Seen here"), seen_words(seen) or _("nothing yet"))]
    if seen is not None:
        facts.append((_("Seeds watched"), number_words(round(seen.n_seeds))))
    origin = say(row.origin) if row.origin else _("not given")
    facts.append((pgettext("where seed is from", "From"), f"{origin}, {row.year}" if row.year else origin))
    return SeedLotPage(
        facts=tuple(facts),
        age=age,
        seen=_seen_sentence(seen),
        tests=tuple(_test_line(test) for test in tests),
        stands=stands[:FIRST_SOWINGS],
        n_stands=len(stands),
        in_all=(
            sum(line.stated for line in stands),
            sum(line.seen for line in stands),
            sum(line.planned for line in stands),
        ),
        is_doubtful=is_doubtful(row.origin, row.crop, row.botanical),
    )


class LotFacts(NamedTuple):
    """What is written down of a seed lot and its crop."""

    crop: str
    botanical: str | None
    germination: float | None
    origin: Origin | None
    year: int | None
    storage_years: float | None


def _seen_sentence(seen: Germination | None) -> str:
    if seen is None:
        return ""
    low, high = (percent_words(round(share, 2)) for share in (seen.low, seen.high))
    watched = count_words(round(seen.n_seeds), "seed", "seeds")
    return _(
        "After %(seeds)s that were watched, about %(share)s come up: "
        "with a chance of 9 in 10 it is between %(low)s and %(high)s.",
        seeds=watched,
        share=percent_words(round(seen.mean, 2)),
        low=low,
        high=high,
    )


def _figure(number: float) -> str:
    return f"{number:g}".replace(".", decimal_sign())


def _test_line(test: SeedTestRow) -> TestLine:
    is_paper = test.seeds_per_cell == 1
    up, tried = number_words(test.up), number_words(test.tried)
    came_up = _("%(up)s of %(tried)s seeds", up=up, tried=tried)
    if not is_paper:
        seeds = _figure(test.seeds_per_cell)
        came_up = _("%(up)s of %(tried)s cells with %(seeds)s seeds each", up=up, tried=tried, seeds=seeds)
    return TestLine(
        test_id=test.id,
        begun=day_year(test.date),
        came_up=came_up,
        share=percent_words(test.up / test.tried) if is_paper else "",
        after=count_words(test.days, "day", "days") if test.days else "",
    )


def _stands(plan: Plan, lot: int, seen: Germination | None) -> tuple[StandLine, ...]:
    garden, sowings = plan.garden, plan.garden.sowings
    mine = np.flatnonzero((sowings.seed_lot == lot) & (plan.light_place != NO_PLACE))
    if not len(mine):
        return ()
    stated_rate = stated_of(garden, lot)
    rates = (stated_rate, stated_rate if seen is None else seen.mean)
    stated, by_seen = (
        cells_at(garden, sowings.crop[mine], plan.plants[mine], np.full(len(mine), rate)).tolist() for rate in rates
    )
    return tuple(
        StandLine(
            sowing_id=int(sowings.ids[index]),
            name=sowings.names[index],
            grower=garden.growers[int(sowings.grower[index])].name,
            plants=int(plan.plants[index]),
            stated=stated[number],
            seen=by_seen[number],
            planned=int(plan.cells[index]),
        )
        for number, index in enumerate(mine.tolist())
    )
