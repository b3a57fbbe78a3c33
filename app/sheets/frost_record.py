"""The frost record in words and tables: dates at each risk by each law, the chances, frost-free days."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from app.core.calendar import date_of_season_day, season_day
from app.core.dates.frost import Frost, frost_of_record
from app.core.dates.record import Freezes, TooFewYearsError
from app.core.words import FrostLaw, FrostSource, Side
from app.language import N_, _, nouns
from app.sheets.frost_charts import CurveChart, chance_on, draw_curve
from app.sheets.station_record import EVEN_CHANCE, StationPage, make_station_page
from app.sheets.tables import date_at
from app.sheets.words import count_words, day_short, list_words, risk_words

USUAL_RISKS = (0.9, 0.5, 0.2, 0.1)
# From here on the record counts as skewed; chosen here (docs/method.md).
SKEWED_DAYS = 5
# The chart's table has a day in so many, so that it fits beside the chart.
LONGEST_TABLE = 18
DAY_STEPS = (5, 10, 15, 30)
RAREST_SHOWN = 0.01
SOURCE_NAMES = {FrostSource.TABLE: N_("published table"), FrostSource.DATES: N_("average dates")}
LAW_NAMES = {FrostLaw.NORMAL: N_("normal law"), FrostLaw.EMPIRICAL: N_("empirical law")}
SEASON_NAMES = {Side.SPRING: nouns("spring", "springs"), Side.AUTUMN: nouns("autumn", "autumns")}


@dataclass(frozen=True, kw_only=True)
class Law:
    """One way to date a risk.

    Attributes:
        name: What it is called, such as `normal law`.
        frost: Its dates.
        is_chosen: Whether the garden goes by it.
    """

    name: str
    frost: Frost
    is_chosen: bool


class DateAt(NamedTuple):
    """A date at a risk by one law.

    Attributes:
        day: The date; None where freezes come too rarely.
        is_extreme: Whether it is the extreme year of the record, because the risk is rarer than the record shows.
        is_chosen: Whether the garden goes by this law.
    """

    day: date | None
    is_extreme: bool
    is_chosen: bool


class RiskLine(NamedTuple):
    """One line of the table of risks.

    Attributes:
        risk: The risk. [fraction]
        tag: Whose it is: `the garden’s` or `tried`; empty for a usual one.
        dates: A date by each law.
        words: What the date of the garden's law means.
    """

    risk: float
    tag: str
    dates: tuple[DateAt, ...]
    words: str


class ChanceLine(NamedTuple):
    """The chance of a freeze by each law. [fraction] on a day or later, in autumn or before."""

    day: date
    chances: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class SideOfRecord:
    """Spring or autumn.

    Attributes:
        side: Which.
        one: `spring` or `autumn`, in English.
        laws: Names of the laws, in the order of the columns.
        lines: Dates at each risk, the likeliest first.
        chart: The chance from day to day; None where it never freezes.
        chances: The same as a table.
        apart: Days between the two laws of a record at the garden's risk; None without a record.
        share: Share of the record's usable years that freeze; 1 without a record. [fraction]
        is_rare: Whether the record freezes too rarely for a date at the garden's risk.
    """

    side: Side
    one: str
    laws: tuple[str, ...]
    lines: tuple[RiskLine, ...]
    chart: CurveChart | None
    chances: tuple[ChanceLine, ...]
    apart: int | None
    share: float
    is_rare: bool


class LengthLine(NamedTuple):
    """Frost-free days at a risk: from the last freeze to the first, and strictly between; None without a date."""

    risk: float
    spring: date | None
    autumn: date | None
    from_to: int | None
    between: int | None


@dataclass(frozen=True, kw_only=True)
class FrostPage:
    """The frost record.

    Attributes:
        source: Where the garden's dates come from.
        law: Law of the garden's station, whichever source it has.
        risks: The garden's risks in spring and autumn. [fraction]
        spring: Spring.
        autumn: Autumn.
        lengths: Frost-free days at each risk.
        at_risk: The dates at the garden's risks.
        frost_free_days: Days between the even dates; None without one. [d]
        is_safe_nowhere: Whether no month is safe at the garden's risks.
        rare: Sides on which the record freezes too rarely for a date at the garden's risk.
        skewed: Sides on which the laws of the record differ by more than five days.
        station: The station's record, if there is one.
    """

    source: FrostSource
    law: FrostLaw
    risks: tuple[float, float]
    spring: SideOfRecord
    autumn: SideOfRecord
    lengths: tuple[LengthLine, ...]
    at_risk: tuple[date | None, date | None]
    frost_free_days: int | None
    is_safe_nowhere: bool
    rare: tuple[SideOfRecord, ...]
    skewed: tuple[SideOfRecord, ...]
    station: StationPage | None

    @property
    def skew(self) -> str:
        """Where the two laws of the record differ and by how much, as `by 7 days in spring`."""
        return list_words([_days_apart(side) for side in self.skewed])


def _days_apart(part: SideOfRecord) -> str:
    days = count_words(part.apart or 0, "day", "days")
    return _("by %(days)s in spring", days=days) if part.side is Side.SPRING else _("by %(days)s in autumn", days=days)


def make_frost_page(
    frost: Frost,
    freezes: Sequence[Freezes],
    own: Freezes | None,
    *,
    source: FrostSource,
    law: FrostLaw,
    risks: tuple[float, float],
    tried: tuple[float, float] | None = None,
) -> FrostPage:
    """Return the frost record.

    Args:
        frost: The garden's frost.
        freezes: Freezes of its station's record at each threshold that is shown; empty without one.
        own: Those at the garden's own threshold.
        source: Where the garden's dates come from.
        law: Law of a station's record.
        risks: The garden's risks in spring and autumn. [fraction]
        tried: Other risks that are tried. [fraction]
    """
    laws = tuple(laws_of(frost, own, source=source, law=law))
    sides = {
        side: _side(side, laws, own, risk=risks[index], tried=None if tried is None else tried[index])
        for index, side in enumerate(Side)
    }
    at_risk = (date_at(frost.spring_on, risks[0]), date_at(frost.autumn_on, risks[1]))
    even = (date_at(frost.spring_on, EVEN_CHANCE), date_at(frost.autumn_on, EVEN_CHANCE))
    spring, autumn = sides[Side.SPRING], sides[Side.AUTUMN]
    return FrostPage(
        source=source,
        law=law,
        risks=risks,
        spring=spring,
        autumn=autumn,
        lengths=tuple(_lengths(frost, risks)),
        at_risk=at_risk,
        frost_free_days=(even[1] - even[0]).days if even[0] and even[1] else None,
        is_safe_nowhere=bool(at_risk[0] and at_risk[1] and at_risk[0] >= at_risk[1]),
        rare=tuple(side for side in (spring, autumn) if side.is_rare),
        skewed=tuple(side for side in (spring, autumn) if side.apart is not None and side.apart > SKEWED_DAYS),
        station=None if own is None else make_station_page(own, freezes, frost, law=law, risks=risks),
    )


def laws_of(frost: Frost, own: Freezes | None, *, source: FrostSource, law: FrostLaw) -> Iterator[Law]:
    """Yield the ways to date a risk: that of the garden's table or pair, then the two of its station's record."""
    if source is not FrostSource.STATION:
        yield Law(name=_(SOURCE_NAMES[source]), frost=frost, is_chosen=True)
    if own is None:
        return
    for one in FrostLaw:
        try:
            of_record = frost_of_record(own, one, season=frost.season)
        except TooFewYearsError:
            return
        law_name = _(LAW_NAMES[one])
        name = law_name if source is FrostSource.STATION else _("record, %(law)s", law=law_name)
        yield Law(name=name, frost=of_record, is_chosen=source is FrostSource.STATION and one is law)


def _side(side: Side, laws: tuple[Law, ...], own: Freezes | None, *, risk: float, tried: float | None) -> SideOfRecord:
    tags = {risk: _("the garden’s")} | ({} if tried is None or tried == risk else {tried: _("tried")})
    risks = sorted({*USUAL_RISKS, *tags}, reverse=True)
    lines = tuple(_risk_line(side, laws, one, tags.get(one, "")) for one in risks)
    chosen = next(law.frost for law in laws if law.is_chosen)
    marks = [(one, date_at(_date_on(chosen, side), one), one != risk) for one in tags]
    chart = draw_curve(side, ((law.name, law.frost, law.is_chosen) for law in laws), marks)
    of_record = laws[-len(FrostLaw) :] if own is not None and len(laws) >= len(FrostLaw) else ()
    dates = [date_at(_date_on(law.frost, side), risk) for law in of_record]
    half = None if own is None else own.spring if side is Side.SPRING else own.autumn
    return SideOfRecord(
        side=side,
        one=SEASON_NAMES[side][0],
        laws=tuple(law.name for law in laws),
        lines=lines,
        chart=chart,
        chances=tuple(_chances(side, laws, chosen)) if chart else (),
        apart=abs((dates[0] - dates[1]).days) if dates and dates[0] and dates[1] else None,
        share=1.0 if half is None else half.share,
        is_rare=None in dates,
    )


def _date_on(frost: Frost, side: Side) -> Callable[[float], date]:
    return frost.spring_on if side is Side.SPRING else frost.autumn_on


def _risk_line(side: Side, laws: tuple[Law, ...], risk: float, tag: str) -> RiskLine:
    dates = []
    for law in laws:
        day = date_at(_date_on(law.frost, side), risk)
        dates.append(DateAt(day, day is not None and law.frost.is_extreme(side, risk), law.is_chosen))
    chosen = next(one for one in dates if one.is_chosen)
    return RiskLine(risk, tag, tuple(dates), risk_in_words(side, risk, chosen.day))


def risk_in_words(side: Side, risk: float, day: date | None) -> str:
    """Return what a date at a risk means, as `1 spring in 10 freezes on 24 May or later`."""
    years = risk_words(risk, SEASON_NAMES[side])
    if day is None:
        return _("Freezes come too rarely for a date.")
    if side is Side.SPRING:
        return _("%(years)s freezes on %(day)s or later.", years=years, day=day_short(day))
    return _("%(years)s freezes on %(day)s or before.", years=years, day=day_short(day))


def _chances(side: Side, laws: tuple[Law, ...], chosen: Frost) -> Iterator[ChanceLine]:
    """Yield the chance on days that are evenly apart, from the first to the last that matters."""
    season = chosen.season
    wide = [law for law in laws if date_at(_date_on(law.frost, side), RAREST_SHOWN) is not None]
    ends = [
        season_day(day, season)
        for law in wide or laws
        for risk in (RAREST_SHOWN, _likeliest(law.frost, side))
        if (day := date_at(_date_on(law.frost, side), risk)) is not None
    ]
    low, high = min(ends), max(ends)
    step = next((step for step in DAY_STEPS if (high - low) / step < LONGEST_TABLE), DAY_STEPS[-1])
    for number in range(low - low % step, high + step, step):
        day = date_of_season_day(number, season)
        yield ChanceLine(day, tuple(chance_on(law.frost, side, day) for law in laws))


def _likeliest(frost: Frost, side: Side) -> float:
    """Return a risk just below the share of years that freeze. [fraction]"""
    share = (frost.spring if side is Side.SPRING else frost.autumn).share
    return share * (1 - RAREST_SHOWN)


def _lengths(frost: Frost, risks: tuple[float, float]) -> Iterator[LengthLine]:
    for risk in sorted({*USUAL_RISKS, risks[0]}, reverse=True):
        spring, autumn = date_at(frost.spring_on, risk), date_at(frost.autumn_on, risk)
        days = (autumn - spring).days if spring and autumn else None
        yield LengthLine(risk, spring, autumn, days, None if days is None else max(days - 1, 0) if days > 0 else None)
