"""The board notice: what to sow in a week, by crop, for everyone who passes the board."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date

from app.core.calendar import DAYS_IN_WEEK, as_day, iso_week
from app.core.cards import CropCard, Garden
from app.core.dates.emergence import Soil
from app.core.errors import NoFrostDateError
from app.core.words import FrostSource, Units
from app.core.work.notice import CropNotice, Indoors, Turn, Way, notice_of
from app.language import N_, _
from app.sheets.cautions import AVERAGES, MIX_DUST, SAVED_CUCURBITS, Caution
from app.sheets.fixed_words import say
from app.sheets.names import as_said, name_words
from app.sheets.units import depth_words
from app.sheets.words import (
    AUTUMNS,
    NO_BREAK_SPACE,
    count_words,
    day_short,
    day_words,
    day_year,
    risk_words,
    week_words,
)
from app.sheets.words import iso_week as week_number_words

SOURCES = {
    FrostSource.TABLE: N_("Frost dates: the weather service’s published table, as entered in Set-up."),
    FrostSource.DATES: N_("Frost dates: an average last and first frost, with a usual spread from year to year."),
}
BENCHES = {
    Soil.TOO_COLD: N_("the bench is too cold for it"),
    Soil.TOO_HOT: N_("the bench is too hot for it"),
}


@dataclass(frozen=True, kw_only=True)
class NoticeFacts:
    """What a notice says beside the plan.

    Attributes:
        units: In which quantities are said.
        today: The day that is printed as that of the making.
        cucurbits: Ids of the crops whose saved seed is in doubt.
        frost_source: Where the garden's frost dates come from.
    """

    units: Units
    today: date
    cucurbits: frozenset[int]
    frost_source: FrostSource


@dataclass(frozen=True, kw_only=True)
class StartLine:
    """A crop to start indoors in the week.

    Attributes:
        crop: Its name.
        id: Id of its card.
        container: What it is started in.
        seeds: Seeds a cell.
        depth: How deep, in words; empty where the card is silent.
        place: Where it stands, as `heat, then lamp`.
        note: What is wrong with its bench; empty for nothing.
        cover_days: Days until the cover comes off, in words.
        cover_off: The day on which it comes off.
        sown: The day it is sown, where that is not the garden's sowing day; else empty.
        sow_from: First good day, where the week holds it; else empty.
        sow_by: Last good day.
        is_last: It is the last chance.
    """

    crop: str
    id: int
    container: str
    seeds: str
    depth: str
    place: str
    note: str
    cover_days: str
    cover_off: str
    sown: str
    sow_from: str
    sow_by: str
    is_last: bool


@dataclass(frozen=True, kw_only=True)
class CropLine:
    """A crop and what is said of it.

    Attributes:
        crop: Its name.
        id: Id of its card.
        words: A day, days or a number of days; may be empty.
        is_last: It is the last chance.
    """

    crop: str
    id: int
    words: str
    is_last: bool = False


@dataclass(frozen=True, kw_only=True)
class CropGroup:
    """Crops that share a day.

    Attributes:
        day: The day; empty where each crop has its own, or none.
        crops: The crops by name.
    """

    day: str
    crops: tuple[CropLine, ...]


@dataclass(frozen=True, kw_only=True)
class CropList:
    """Crops that are not for this week, for the same reason.

    Attributes:
        head: The reason.
        about: What the words beside each crop mean; empty where none stand there.
        groups: The crops, where they share days in the order of these.
    """

    head: str
    about: str
    groups: tuple[CropGroup, ...]


@dataclass(frozen=True, kw_only=True)
class BoardNotice:
    """The board notice of one week.

    Attributes:
        garden: Name of the garden.
        week: The days of the week, as `12 – 18 Apr`.
        number: The ISO week after them, as `W15`.
        iso: The same with its year, as `2027-W15`.
        year: The year of the week's Monday.
        season: The growing year of every date.
        printed: The day it was made, in words.
        sowing_day: The garden's sowing day of the week.
        starts: What to start indoors.
        late: What can still be started indoors though its window is over, with its last chance.
        outside: What to sow outside, with its first and last day.
        planted_on: The day of the week on which plants are handed out.
        planted: The crops that are planted out from that day on.
        others: Lists of what is not yet due, past, and too long here; none is empty.
        frost: Where the frost dates come from, and their chances.
        cautions: What to mind.
    """

    garden: str
    week: str
    number: str
    iso: str
    year: int
    season: int
    printed: str
    sowing_day: str
    starts: tuple[StartLine, ...]
    late: tuple[CropLine, ...]
    outside: tuple[CropLine, ...]
    planted_on: str
    planted: tuple[CropLine, ...]
    others: tuple[CropList, ...]
    frost: str
    cautions: tuple[Caution, ...]


def make_board_notice(garden: Garden, monday: date, facts: NoticeFacts) -> BoardNotice:
    """Return the board notice of a week.

    Args:
        garden: The garden; what its growers wish for counts for nothing.
        monday: The first day of the week.
        facts: What it says beside the plan.
    """
    maker = _Maker(garden, as_day(monday), facts)
    settings = garden.settings
    return BoardNotice(
        garden=settings.name,
        week=week_words(monday),
        number=week_number_words(monday),
        iso=iso_week(monday),
        year=monday.year,
        season=settings.season,
        printed=day_year(facts.today),
        sowing_day=_day(maker.begin + settings.sowing_weekday),
        starts=tuple(maker.starts()),
        late=tuple(maker.late()),
        outside=tuple(maker.outside()),
        planted_on=_day(maker.begin + settings.hand_out_weekday),
        planted=tuple(maker.line(crop.crop) for crop in maker.planted()),
        others=tuple(found for found in maker.others() if found.groups),
        frost=_frost(garden, facts.frost_source),
        cautions=maker.cautions(),
    )


class _Maker:
    """Puts the parts of a notice together; `begin` is the day number of the week's Monday."""

    def __init__(self, garden: Garden, begin: int, facts: NoticeFacts) -> None:
        self.garden, self.begin, self.facts = garden, begin, facts
        crops: tuple[CropNotice, ...] = notice_of(garden, (begin - 1) // DAYS_IN_WEEK)
        self.crops = as_said(crops, lambda crop: name_words(garden.cards[crop.crop].name))

    def starts(self) -> Iterable[StartLine]:
        """Yield what to start indoors, by crop."""
        for crop in self.crops:
            if crop.indoors is not None and crop.indoors.turn is Turn.NOW:
                yield self.start(crop.crop, crop.indoors)

    def start(self, crop: int, way: Indoors) -> StartLine:
        """Return the line of a crop that is started indoors in the week."""
        card = self.garden.cards[crop]
        first, light = say(way.first_place), say(way.light_place)
        is_usual_day = way.sow_on == self.begin + self.garden.settings.sowing_weekday
        return StartLine(
            crop=name_words(card.name),
            id=card.id,
            container=""
            if card.start_container is None
            else name_words(self.garden.containers[card.start_container].name),
            seeds=str(card.seeds_per_cell),
            depth=self.depth(card),
            place=light if first == light else _("%(first)s, then %(second)s", first=first, second=light),
            note="" if way.soil is None else _(BENCHES[way.soil]),
            cover_days=count_words(way.emerge_days, "day", "days"),
            cover_off=_day(way.sow_on + way.emerge_days),
            sown="" if is_usual_day else _day(way.sow_on),
            sow_from=_day(way.sow_from) if way.sow_from > self.begin else "",
            sow_by=_day(way.sow_by),
            is_last=way.is_last_week,
        )

    def depth(self, card: CropCard) -> str:
        """Return how deep a crop is sown, in words."""
        depth_mm = card.sow_depth_mm
        if depth_mm is None:
            return ""
        return depth_words(depth_mm, self.facts.units).replace(" ", NO_BREAK_SPACE) if depth_mm else _("surface")

    def late(self) -> Iterable[CropLine]:
        """Yield what can still be started indoors, by crop, with its last chance."""
        for crop, way in self.ways(_indoors_of, Turn.LATE):
            yield self.line(crop, self.short(way.last_chance), is_last=way.is_last_week)

    def outside(self) -> Iterable[CropLine]:
        """Yield what to sow outside, by crop, with its first and last day."""
        for crop, way in self.ways(_outdoors_of, Turn.NOW):
            days = f"{self.short(way.sow_from)} – {self.short(way.sow_by)}"
            yield self.line(crop, days, is_last=way.is_last_week)

    def planted(self) -> Iterable[CropNotice]:
        """Yield the crops that are planted out in the week."""
        for crop in self.crops:
            way = crop.indoors
            if way is not None and way.turn is not Turn.TOO_LONG and 0 <= way.plant_out - self.begin < DAYS_IN_WEEK:
                yield crop

    def others(self) -> Iterable[CropList]:
        """Yield the lists of crops that are not for this week, in the order of a reader's questions."""
        yield CropList(head=_("Not yet: start indoors from"), about="", groups=self.by_day(_indoors_of))
        yield CropList(head=_("Not yet: sow outside from"), about="", groups=self.by_day(_outdoors_of))
        for side, head in (
            (_indoors_of, _("Past its last chance indoors")),
            (_outdoors_of, _("Past its last chance outside")),
        ):
            names = [self.line(crop) for crop, _ in self.ways(side, Turn.PAST)]
            yield CropList(head=head, about="", groups=_one_group(names))
        for head, crops in self.too_long().items():
            yield CropList(
                head=head, about=_("Ripe and picked only after the season has ended, by:"), groups=_one_group(crops)
            )

    def line(self, crop: int, words: str = "", *, is_last: bool = False) -> CropLine:
        """Return a crop by its index, with what is said of it."""
        card = self.garden.cards[crop]
        return CropLine(crop=name_words(card.name), id=card.id, words=words, is_last=is_last)

    def ways(self, side: "_Side", turn: Turn) -> Iterable[tuple[int, Way]]:
        """Yield index and days of the crops that a side finds in this turn."""
        for crop in self.crops:
            way = side(crop)
            if way is not None and way.turn is turn:
                yield crop.crop, way

    def by_day(self, side: "_Side") -> tuple[CropGroup, ...]:
        """Return the crops that are not due yet, by their first day."""
        days: dict[int, list[CropLine]] = {}
        for crop, way in self.ways(side, Turn.NOT_YET):
            days.setdefault(way.sow_from, []).append(self.line(crop))
        return tuple(CropGroup(day=self.short(day), crops=tuple(days[day])) for day in sorted(days))

    def too_long(self) -> dict[str, list[CropLine]]:
        """Return what is too long here, in every way or in one way of two, by what to say of it."""
        every = _("Too long here")
        outdoors, indoors = _("Too long outside: start indoors"), _("Too long indoors: sow outside")
        found: dict[str, list[CropLine]] = {every: [], outdoors: [], indoors: []}
        for crop in self.crops:
            ways = {indoors: crop.indoors, outdoors: crop.outdoors}
            short = {head: way.short_days for head, way in ways.items() if way is not None and way.short_days}
            if short:
                is_every = len(short) == sum(way is not None for way in ways.values())
                line = self.line(crop.crop, count_words(min(short.values()), "day", "days"))
                found[every if is_every else next(iter(short))].append(line)
        return found

    def cautions(self) -> tuple[Caution, ...]:
        """Return what to mind: chances, dust where mix is handled, seed where it may be crossed."""
        now = [crop for crop in self.crops if Turn.NOW in {way.turn for way in (crop.indoors, crop.outdoors) if way}]
        shown = {self.garden.cards[crop.crop].id for crop in (*now, *self.planted())}
        return (
            AVERAGES.said,
            *([MIX_DUST.said] if any(self.starts()) else []),
            *([SAVED_CUCURBITS.said] if shown & self.facts.cucurbits else []),
        )

    def short(self, day: int) -> str:
        """Return a day without its weekday, with its year where that is not the week's."""
        found, year = date.fromordinal(day), date.fromordinal(self.begin).year
        return day_short(found) if found.year == year else f"{day_short(found)} {found.year}"


_Side = Callable[[CropNotice], Way | None]


def _indoors_of(crop: CropNotice) -> Way | None:
    return crop.indoors


def _outdoors_of(crop: CropNotice) -> Way | None:
    return crop.outdoors


def _one_group(crops: list[CropLine]) -> tuple[CropGroup, ...]:
    return (CropGroup(day="", crops=tuple(crops)),) if crops else ()


def _day(number: int) -> str:
    return day_words(date.fromordinal(number))


def _frost(garden: Garden, source: FrostSource) -> str:
    """Return where the frost dates come from, and the chance of a freeze at those of the garden's risks."""
    settings, frost = garden.settings, garden.frost
    if source in SOURCES:
        told = _(SOURCES[source])
    else:
        years = "" if garden.station is None else count_words(garden.station.spring.n_usable, "year", "years")
        told = _("Frost dates: %(years)s of a weather station’s record.", years=years)
    try:
        in_spring = _(
            "A freeze on %(day)s or later comes in %(risk)s; tender crops wait for that day.",
            day=day_short(frost.spring_on(settings.risk)),
            risk=risk_words(settings.risk),
        )
    except NoFrostDateError:
        in_spring = _("Freezes come in too few springs here for a date at the garden’s risk.")
    in_autumn = _(
        "A freeze by %(day)s comes in %(risk)s.",
        day=day_short(frost.autumn_on(settings.autumn_risk)),
        risk=risk_words(settings.autumn_risk, AUTUMNS),
    )
    return f"{told} {in_spring} {in_autumn}"
