"""Light in words: what lamps give and crops want, how long the day is at the window, and who stands wrong."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor, isinf
from typing import NamedTuple

from app.core.calendar import (
    DAYS_IN_WEEK,
    FIRST_MONTH_OF_SOUTHERN_YEAR,
    as_day,
    date_in_season,
    monday_of,
)
from app.core.needs.light import HOURS_IN_DAY, daily_light, day_length, hours_for_light, sun_energy
from app.core.needs.shelf_use import shelves_of, weeks_of_crops
from app.core.plan import Plan, Warned
from app.core.words import WINDOW, Place
from app.language import N_, _, pgettext
from app.sheets.bars import month_mark, month_starts
from app.sheets.names import as_said, name_words
from app.sheets.words import count_words, day_words, figure_words, list_words, weeks_words

NOT_GIVEN = N_("not given")
MINUTES_IN_HOUR = 60
WEEKS_IN_YEAR = 52
# Hours needed are said in tenths, rounded up; floating error must not add one.
TENTHS = 10
TOLERANCE = 1e-9

# The chart of the day, in units of its picture.
CHART_WIDTH = 600.0
CHART_HEIGHT = 190.0
LEFT = 40.0  # room for the hours
TOP = 12.0
BOTTOM = 20.0  # room for the months
MONTH_ROOM = 26.0
MOST_LINES = 6


class LampLine(NamedTuple):
    """A lamp shelf; figures that are not given are said so.

    Attributes:
        shelf_id: Row number of the shelf.
        name: Its name.
        ppfd: Light at leaf height.
        hours: Hours a day.
        dli: The light of a day.
        enough: For how many of the crops with a target under lamps that is enough.
    """

    shelf_id: int
    name: str
    ppfd: str
    hours: str
    dli: str
    enough: str


class Setting(NamedTuple):
    """Lamp shelves with the same light and hours: their names, and what they give in words."""

    names: str
    gives: str


class Need(NamedTuple):
    """What a crop needs under one setting: in words, and whether the hours are enough; None where that is not known."""

    words: str
    fits: bool | None


class CropUnderLamps(NamedTuple):
    """A crop that stands under lamps by the plan.

    Attributes:
        crop_id: Row number of its card.
        name: Its name.
        weeks: The weeks in which it stands there, each unbroken stretch.
        target: The light it wants in a day.
        needs: What it needs under each setting, in their order.
    """

    crop_id: int
    name: str
    weeks: tuple[str, ...]
    target: str
    needs: tuple[Need, ...]


class Misplaced(NamedTuple):
    """A sowing of a lamp crop that is planned for a window."""

    sowing_id: int
    sowing: str
    crop: str
    variety: str
    grower_id: int
    grower: str


class DayLine(NamedTuple):
    """The day at the window in the middle of a week.

    Attributes:
        monday: First day of the week.
        length: From sunrise to sunset, as `13 h 52 min`.
        hours: The same in hours.
        energy: The sun's energy above the air, as `34.1`.
        trays: Trays at the window on the fullest day of the week. [1]
    """

    monday: date
    length: str
    hours: float
    energy: str
    trays: int


@dataclass(frozen=True, kw_only=True)
class DayChart:
    """The length of the day week by week, on a picture of 600 by 190.

    Attributes:
        words: What the picture says, for those who cannot see it.
        points: The curve, as the points of a polyline.
        hours: Each level that is drawn and its words.
        months: Each first of a month, and its name where there is room.
        twelve: Height of the line of twelve hours; None where it is not on the picture.
    """

    words: str
    points: str
    hours: tuple[tuple[float, str], ...]
    months: tuple[tuple[float, str], ...]
    twelve: float | None


@dataclass(frozen=True, kw_only=True)
class LightPage:
    """Light of the whole season.

    Attributes:
        facts: The line of facts under the heading.
        lamps: The lamp shelves.
        settings: Their different settings, which are the columns of `crops`.
        crops: The crops that stand under lamps.
        misplaced: Sowings of lamp crops that are planned for a window.
        days: The day at the window, week by week.
        chart: The same as a picture.
    """

    facts: tuple[tuple[str, str], ...]
    lamps: tuple[LampLine, ...]
    settings: tuple[Setting, ...]
    crops: tuple[CropUnderLamps, ...]
    misplaced: tuple[Misplaced, ...]
    days: tuple[DayLine, ...]
    chart: DayChart


def make_light_page(plan: Plan) -> LightPage:
    """Return what a plan says of light; without trays, the days are those of the whole growing year."""
    shelves = shelves_of(plan, Place.LAMP)
    settings = list(dict.fromkeys((shelf.ppfd, shelf.hours_per_day) for shelf in shelves))
    crops = tuple(as_said(_crops(plan, settings), lambda crop: crop.name))
    days = tuple(_days(plan))
    misplaced = tuple(_misplaced(plan))
    latitude = plan.garden.settings.latitude_deg
    shortest, longest = _ends(days)
    return LightPage(
        facts=(
            (_("Lamp shelves"), count_words(len(shelves), "shelf", "shelves")),
            (_("Under lamps"), count_words(len(crops), "crop", "crops")),
            (
                _("Lamp crops at a window"),
                count_words(len(misplaced), "sowing", "sowings") if misplaced else pgettext("sowings", "none"),
            ),
            (_("Latitude"), _latitude_words(latitude)),
            (
                _("Days at the window"),
                _("%(shortest)s to %(longest)s", shortest=shortest.length, longest=longest.length),
            ),
        ),
        lamps=tuple(
            LampLine(shelf.id, shelf.name, *_setting_words(*one), _enough(crops, settings.index(one)))
            for shelf in shelves
            for one in [(shelf.ppfd, shelf.hours_per_day)]
        ),
        settings=tuple(
            Setting(
                list_words([shelf.name for shelf in shelves if (shelf.ppfd, shelf.hours_per_day) == one]),
                _gives(*one),
            )
            for one in settings
        ),
        crops=crops,
        misplaced=misplaced,
        days=days,
        chart=_chart(days),
    )


def _latitude_words(latitude_deg: float) -> str:
    degrees = figure_words(abs(latitude_deg))
    return _("%(degrees)s° south", degrees=degrees) if latitude_deg < 0 else _("%(degrees)s° north", degrees=degrees)


def _setting_words(ppfd: float | None, hours: float | None) -> tuple[str, str, str]:
    return (
        _(NOT_GIVEN) if ppfd is None else figure_words(ppfd),
        _(NOT_GIVEN) if hours is None else figure_words(hours),
        _(NOT_GIVEN) if ppfd is None or hours is None else figure_words(daily_light(ppfd, hours), 1),
    )


def _enough(crops: tuple[CropUnderLamps, ...], setting: int) -> str:
    """Return for how many of the crops with a target a setting is enough, a dash where that cannot be told."""
    fits = [crop.needs[setting].fits for crop in crops]
    known = [fit for fit in fits if fit is not None]
    if not known:
        return "–"
    return _("%(enough)s of %(crops)s", enough=sum(known), crops=count_words(len(known), "crop", "crops"))


def _gives(ppfd: float | None, hours: float | None) -> str:
    light = _("light not given") if ppfd is None else f"{figure_words(ppfd)} µmol/m²/s"
    daily = _("hours not given") if hours is None else _("%(hours)s h a day", hours=figure_words(hours))
    return f"{light}, {daily}"


def _crops(plan: Plan, settings: list[tuple[float | None, float | None]]) -> Iterator[CropUnderLamps]:
    for crop, stretches in sorted(weeks_of_crops(plan, Place.LAMP).items()):
        card = plan.garden.cards[crop]
        yield CropUnderLamps(
            crop_id=card.id,
            name=name_words(card.name),
            weeks=tuple(weeks_words(monday_of(first), monday_of(last)) for first, last in stretches),
            target=_("none on its card") if card.dli_target is None else figure_words(card.dli_target),
            needs=tuple(need_of(card.dli_target, *one) for one in settings),
        )


def need_of(target: float | None, ppfd: float | None, hours: float | None) -> Need:
    """Return the hours that a target takes under a lamp in words, and whether the lamp's hours are enough.

    Args:
        target: Light wanted in a day; None where the card has none. [mol m-2 d-1]
        ppfd: Light at leaf height; None where not given. [umol m-2 s-1]
        hours: Hours a day; None where not given. [h]
    """
    if target is None:
        return Need("–", fits=None)
    if ppfd is None:
        return Need(_("light not given"), fits=None)
    wanted = hours_for_light(target, ppfd)
    if isinf(wanted) or wanted > HOURS_IN_DAY + TOLERANCE:
        return Need(_("too weak: more than 24 h"), fits=False)
    needed = ceil(wanted * TENTHS - TOLERANCE) / TENTHS
    said = figure_words(needed)
    if hours is None:
        return Need(_("%(hours)s h, hours not given", hours=said), fits=None)
    if hours >= wanted - TOLERANCE:
        return Need(_("%(hours)s h, enough", hours=said), fits=True)
    missing = figure_words(max(needed - hours, 1 / TENTHS), 1)
    return Need(_("%(hours)s h, %(missing)s h too few", hours=said, missing=missing), fits=False)


def _misplaced(plan: Plan) -> Iterator[Misplaced]:
    sowings, growers, cards = plan.garden.sowings, plan.garden.growers, plan.garden.cards
    for index, flags in enumerate(plan.warned.tolist()):
        if flags & Warned.LAMP_CROP_AT_WINDOW:
            grower = growers[sowings.grower[index]]
            yield Misplaced(
                sowing_id=int(sowings.ids[index]),
                sowing=sowings.names[index],
                crop=name_words(cards[sowings.crop[index]].name),
                variety=sowings.varieties[index] or "",
                grower_id=grower.id,
                grower=grower.name,
            )


def _days(plan: Plan) -> Iterator[DayLine]:
    ledger, settings = plan.ledger, plan.garden.settings
    at_window = ledger.needed[:, WINDOW].tolist()
    weeks = ledger.weeks
    if not at_window:
        month = FIRST_MONTH_OF_SOUTHERN_YEAR if settings.southern else 1
        first = (as_day(date_in_season(month, 1, settings.season, southern=settings.southern)) - 1) // DAYS_IN_WEEK
        weeks, at_window = range(first, first + WEEKS_IN_YEAR), [0] * WEEKS_IN_YEAR
    for week, trays in zip(weeks, at_window, strict=True):
        monday = monday_of(week)
        middle = (monday + timedelta(days=3)).timetuple().tm_yday
        hours = day_length(settings.latitude_deg, middle)
        energy = sun_energy(settings.latitude_deg, middle)
        yield DayLine(monday, hours_words(hours), hours, figure_words(energy, 1), trays)


def hours_words(hours: float) -> str:
    """Return a time of day length to the minute, as `13 h 52 min`."""
    whole, minutes = divmod(floor(hours * MINUTES_IN_HOUR + 0.5), MINUTES_IN_HOUR)
    return f"{whole} h {minutes:02d} min"


def _ends(days: tuple[DayLine, ...]) -> tuple[DayLine, DayLine]:
    """Return the shortest and the longest day."""
    return min(days, key=lambda day: day.hours), max(days, key=lambda day: day.hours)


def _chart(days: tuple[DayLine, ...]) -> DayChart:
    hours = [day.hours for day in days]
    low, high = floor(min(hours)), max(ceil(max(hours)), floor(min(hours)) + 2)
    step = next(step for step in (1, 2, 4) if (high - low) / step <= MOST_LINES)
    per_hour = (CHART_HEIGHT - TOP - BOTTOM) / (high - low)
    per_week = (CHART_WIDTH - LEFT) / len(days)

    def at(level: float) -> float:
        return round(CHART_HEIGHT - BOTTOM - (level - low) * per_hour, 2)

    points = " ".join(f"{LEFT + (n + 0.5) * per_week:.2f},{at(level):.2f}" for n, level in enumerate(hours))
    first, last = days[0].monday, days[-1].monday + timedelta(days=6)
    per_day = per_week / DAYS_IN_WEEK
    has_room = 28 * per_day >= MONTH_ROOM  # the shortest month decides
    ticks = [
        (round(LEFT + (day - first).days * per_day, 2), month_mark(day.month, is_letter=not has_room))
        for day in month_starts(first, last)
    ]
    levels = range(ceil(low / step) * step, high + 1, step)
    return DayChart(
        words=_chart_words(days),
        points=points,
        hours=tuple((at(level), f"{level} h") for level in levels),
        months=tuple((x, name if x <= CHART_WIDTH - MONTH_ROOM else "") for x, name in ticks),
        twelve=at(12) if low <= 12 <= high else None,  # noqa: PLR2004 - as long as the night
    )


def _chart_words(days: tuple[DayLine, ...]) -> str:
    shortest, longest = _ends(days)
    return _(
        "The day at the window: %(first)s in the week of %(begin)s, %(last)s in that of %(end)s; "
        "shortest %(shortest)s, longest %(longest)s. The table has every week.",
        first=days[0].length,
        begin=day_words(days[0].monday),
        last=days[-1].length,
        end=day_words(days[-1].monday),
        shortest=shortest.length,
        longest=longest.length,
    )
