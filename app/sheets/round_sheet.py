"""A care round as a walk along the shelves: what to water, uncover, air and turn, on the page and on paper."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from math import inf
from typing import TYPE_CHECKING

from app.core.calendar import as_day
from app.core.needs.shelf_use import litres_to_fill, shelves_of
from app.core.needs.supplies import ML_IN_LITRE
from app.core.words import PLACES, Place, Units
from app.language import N_, _, ngettext
from app.sheets.cautions import COVERS, ELECTRICITY, Caution
from app.sheets.standing import Standing, dealt_trays, planned_trays
from app.sheets.tray_words import place_words
from app.sheets.units import water_words
from app.sheets.words import count_words, day_long, day_year, list_words, number_words, range_words

if TYPE_CHECKING:
    from app.core.cards import ShelfCard
    from app.core.plan import Plan
    from app.storage.queries.trays import StayRow

BLANK_LINES = 2
# Common practice, all of it; docs/method.md, section 11.
EVERYWHERE = (
    N_(
        "Lift a tray. A light one is dry: water it from below, and pour off what still stands there half an hour later."
    ),
    N_("Look at it from below: white roots at the holes are well, slime is not. Roots all round want a larger pot."),
    N_("Seedlings that fall over at the soil, mould, holes in leaves: write down the tray, and tell a coordinator."),
)


@dataclass(frozen=True, kw_only=True)
class ShelfOfRound:
    """What there is to do at one shelf.

    Attributes:
        head: The shelf and its place.
        trays: Trays that stand there, in words.
        jobs: What to do, in order.
    """

    head: str
    trays: str
    jobs: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class RoundSheet:
    """The care round of one day.

    Attributes:
        garden: Name of the garden.
        day: The day in full.
        printed: The day it was made, in words.
        who: Whose round it is; empty where it is nobody's.
        sums: How many trays stand on how many shelves, in words; empty where none does.
        since: When the round before was, in words; empty where there was none.
        shelves: Each shelf with trays, in the order of the walk.
        everywhere: What to do at every shelf.
        cautions: What to mind.
        blank_lines: Empty rows to write in. [1]
    """

    garden: str
    day: str
    printed: str
    who: str
    sums: str
    since: str
    shelves: tuple[ShelfOfRound, ...]
    everywhere: tuple[str, ...]
    cautions: tuple[Caution, ...]
    blank_lines: int = BLANK_LINES


@dataclass(frozen=True, kw_only=True)
class RoundFacts:
    """What a round's sheet is made from, besides the plan.

    Attributes:
        day: Its day.
        today: The day that is printed as that of the making.
        who: Whose round it is; None for nobody's.
        last: The day of the round before; None where there was none.
        stays: Where dealt trays stand on the day, and on that of the round before.
        units: The units of the garden.
    """

    day: date
    today: date
    who: str | None
    last: date | None
    stays: "Sequence[StayRow]"
    units: Units


def make_round_sheet(plan: "Plan", facts: RoundFacts) -> RoundSheet:
    """Return what a care round does, shelf by shelf."""
    found = list(_Walk(plan, facts).shelves())
    trays = sum(count for count, _ in found)
    shelves = tuple(shelf for _, shelf in found)
    return RoundSheet(
        garden=plan.garden.settings.name,
        day=day_long(facts.day),
        printed=day_year(facts.today),
        who=facts.who or "",
        sums=_(
            "%(trays)s on %(shelves)s",
            trays=count_words(trays, "tray", "trays"),
            shelves=count_words(len(shelves), "shelf", "shelves"),
        )
        if trays
        else "",
        since="" if facts.last is None else day_year(facts.last),
        shelves=shelves,
        everywhere=tuple(_(words) for words in EVERYWHERE) if trays else (),
        cautions=(ELECTRICITY.said, COVERS.said),
    )


class _Walk:
    """The shelves on one day, and the trays on each."""

    def __init__(self, plan: "Plan", facts: RoundFacts) -> None:
        self._plan, self._facts, self._day = plan, facts, as_day(facts.day)
        self._watered: set[str] = set()
        if facts.last is not None:
            self._watered = {name for on, _ in self._places(as_day(facts.last)).values() for name in on if on[name]}

    def shelves(self) -> Iterator[tuple[int, ShelfOfRound]]:
        """Yield each shelf with trays and their number, in the order of the walk; those that wait after the place's."""
        for place, (on, waiting) in self._places(self._day).items():
            for shelf in self._shelves(place):
                if trays := on[shelf.name]:
                    head = f"{shelf.name} ({place_words(place)})"
                    yield len(trays), self._shelf(head, trays, tuple(self._jobs(shelf, trays)))
            if waiting:
                head = _("Waiting for a position (%(place)s)", place=place_words(place))
                water = _("Find them, and water from below where the mix is dry on top")
                yield len(waiting), self._shelf(head, waiting, (water, *self._of_trays(place, waiting)))

    def _places(self, day: int) -> dict[Place, tuple[dict[str, list[Standing]], list[Standing]]]:
        """Return the trays of a day in each place: by shelf, and those that wait.

        What is not dealt yet stands on the first shelf by name that has room.
        """
        stays = [stay for stay in self._facts.stays if as_day(stay.begin_on) <= day < as_day(stay.end_on)]
        dealt, planned = dealt_trays(self._plan, stays), planned_trays(self._plan, day, day + 1, is_any=False)
        found = {}
        for number, place in enumerate(PLACES):
            on = {shelf.name: [tray for tray in dealt if tray.shelf == shelf.name] for shelf in self._shelves(place)}
            waiting = [tray for tray in dealt if tray.place == number and not tray.shelf]
            for tray in planned:
                if tray.place == number:
                    free = (shelf.name for shelf in self._shelves(place) if len(on[shelf.name]) < shelf.positions)
                    on.get(next(free, ""), waiting).append(tray)
            found[place] = on, waiting
        return found

    def _shelves(self, place: Place) -> "list[ShelfCard]":
        return shelves_of(self._plan, place)

    def _shelf(self, head: str, trays: list[Standing], jobs: tuple[str, ...]) -> ShelfOfRound:
        numbers = sorted(tray.number for tray in trays if tray.number)
        words = count_words(len(trays), "tray", "trays")
        return ShelfOfRound(head=head, trays=f"{words}: {range_words(numbers)}" if numbers else words, jobs=jobs)

    def _jobs(self, shelf: "ShelfCard", trays: list[Standing]) -> Iterator[str]:
        if shelf.pan_depth_mm:
            yield self._fill(shelf)
        else:
            yield _("Water from below where the mix is dry on top")
        yield from self._of_trays(shelf.place, trays)
        if shelf.has_fan:
            up = any(self._is_up(tray) for tray in trays)
            yield _("Fan on, gently") if up else _("The fan stays off until something is up")

    def _of_trays(self, place: Place, trays: list[Standing]) -> Iterator[str]:
        """Yield what to do with trays, wherever they stand in a place."""
        covered = [tray for tray in trays if self._comes_up(tray)]
        if covered and place is not Place.HARDENING:
            yield _("Look under the covers of %(trays)s: off with them where seedlings show", trays=_named(covered))
        if place is Place.WINDOW and (up := sum(self._is_up(tray) for tray in trays)):
            yield _("Turn %(trays)s half round, so that they grow straight", trays=count_words(up, "tray", "trays"))
        if place is Place.HARDENING:
            yield _("Frames open by day, shut before a cold night; shelter from wind")

    def _fill(self, shelf: "ShelfCard") -> str:
        is_watered = self._facts.last is not None and shelf.name in self._watered
        days = (self._facts.day - self._facts.last).days if is_watered and self._facts.last else inf
        litres = litres_to_fill(shelf, days)
        units = self._facts.units
        water = water_words(litres * ML_IN_LITRE, units)
        if shelf.levels == 1:
            return _("Fill the pan: about %(water)s", water=water)
        each = water_words(litres / shelf.levels * ML_IN_LITRE, units)
        return _("Fill the pans: about %(water)s, %(each)s on each level", water=water, each=each)

    def _is_up(self, tray: Standing) -> bool:
        return any(self._plan.timeline.emerges[lot] <= self._day for lot, _ in tray.parts)

    def _comes_up(self, tray: Standing) -> bool:
        return any(self._plan.timeline.emerges[lot] == self._day for lot, _ in tray.parts)


def _named(trays: list[Standing]) -> str:
    """Return trays by their numbers, those without one counted."""
    numbers = sorted(tray.number for tray in trays if tray.number)
    rest = len(trays) - len(numbers)
    named = []
    if numbers:
        said = range_words(numbers)
        named.append(ngettext("tray %(numbers)s", "trays %(numbers)s", len(numbers), numbers=said))
    if rest:
        count = number_words(rest)
        named.append(ngettext("%(num)s tray not dealt yet", "%(num)s trays not dealt yet", rest, num=count))
    return list_words(named)
