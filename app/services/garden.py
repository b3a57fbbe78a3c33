"""The garden's settings and frost dates: setting up, changing, and what they say."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, NamedTuple

from app.core.calendar import DAYS_IN_YEAR, date_in_season, read_month_day
from app.core.dates.frost import entered_frost, usable_frost
from app.core.dates.record import require_hemisphere
from app.core.words import FrostLaw, FrostSource, Side, Units, Weekday
from app.language import ENGLISH
from app.services.columns import set_columns
from app.storage.folder import store_usual_cards
from app.storage.models import Garden
from app.storage.queries.far_days import find_far_day
from app.storage.queries.garden import find_garden, list_frost_points, replace_frost_points
from app.storage.queries.plan import NoGardenError
from app.storage.queries.record import get_freezes, get_record
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from collections.abc import Mapping

    from app.storage import Session
    from app.storage.queries.far_days import FarDay

HALF_PERCENT = 50
EVEN_CHANCE = 0.5
# The growing year is split at 1 August, south of the equator at 1 February.
NORTHERN_SPLIT_MONTH = 8
SOUTHERN_SPLIT_MONTH = 2
TRAY_LENGTH_CM = 54.5
TRAY_WIDTH_CM = 28.0
RISK = 0.10
AUTUMN_RISK = 0.50
CONFIDENCE = 0.90
SURVIVAL = 0.90
SPARE = 0.10


class GardenThereError(Exception):
    """The database holds a garden already."""


class CrossedFrostError(Exception):
    """The average last frost does not lie in the spring half, before the average first frost of autumn."""


class SeasonHoldsError(Exception):
    """Rows of the season have days that would be far off in another one; `far` is one of them."""

    def __init__(self, far: "FarDay") -> None:
        """Keep the day."""
        super().__init__(f"{far.day} is of this season")
        self.far = far


class Facts(NamedTuple):
    """What every page says of the garden."""

    name: str
    season: int
    southern: bool
    units: Units
    language: str


@dataclass(frozen=True, kw_only=True)
class StartValues:
    """The few things a new garden starts with; everything else has its usual figure.

    Attributes:
        name: Name of the garden.
        season: Growing year.
        units: Units in which people read figures.
        latitude: North positive. [deg, -90 to 90]
        last: Average last frost of spring, MM-DD.
        first: Average first frost of autumn, MM-DD.
        language: Language of what many read.
    """

    name: str
    season: int
    units: Units
    latitude: float
    last: str
    first: str
    language: str = ENGLISH


@dataclass(frozen=True, kw_only=True)
class GardenValues:
    """The garden's own settings.

    Attributes:
        name: Name of the garden.
        season: Growing year.
        units: Units in which people read figures.
        language: Language of what many read.
        sowing_day: Weekday on which the garden sows.
        hand_out_day: Weekday on which plants are handed out.
        wishes_close: Last day for wishes, MM-DD.
        tray_length_cm: Length of a standard tray. [cm]
        tray_width_cm: Width of a standard tray. [cm]
        confidence: Chance of enough plants that each sowing is to have. [fraction]
        survival: Share of seedlings that live to planting out. [fraction]
        spare: Share of plants potted on above those wanted. [fraction]
    """

    name: str
    season: int
    units: Units
    language: str
    sowing_day: Weekday
    hand_out_day: Weekday
    wishes_close: str | None
    tray_length_cm: float
    tray_width_cm: float
    confidence: float
    survival: float
    spare: float


@dataclass(frozen=True, kw_only=True)
class FrostValues:
    """Where the garden lies and when it freezes there.

    Attributes:
        latitude: North positive. [deg, -90 to 90]
        longitude: East positive. [deg, -180 to 180]
        elevation_m: Height above the sea. [m]
        frost_source: A published table, a bare pair of dates, or the station's record.
        frost_law: Law by which a station's record gives a date at a risk.
        threshold_c: Temperature that counts as a freeze in those dates. [deg C]
        risk: Accepted chance of a freeze after planting out. [fraction]
        autumn_risk: Accepted chance of a freeze before the harvest is in. [fraction]
    """

    latitude: float
    longitude: float
    elevation_m: float
    frost_source: FrostSource
    frost_law: FrostLaw
    threshold_c: float
    risk: float
    autumn_risk: float


def get_facts(session: "Session") -> Facts | None:
    """Return what every page says of the garden, or None before there is one."""
    garden = find_garden(session)
    if garden is None:
        return None
    return Facts(
        name=garden.name,
        season=garden.season,
        southern=garden.latitude < 0,
        units=garden.units,
        language=garden.language,
    )


def find_closing_day(session: "Session") -> date | None:
    """Return the last day on which members wish for plants; None where none is set, or there is no garden."""
    garden = find_garden(session)
    if garden is None or garden.wishes_close is None:
        return None
    return date_in_season(*read_month_day(garden.wishes_close), garden.season, southern=garden.latitude < 0)


def get_garden(session: "Session") -> Garden:
    """Return the garden's settings, or raise NoGardenError."""
    garden = find_garden(session)
    if garden is None:
        raise NoGardenError("Set up the garden first")
    return garden


def start_garden(session: "Session", values: StartValues) -> Garden:
    """Set up a garden with a bare pair of frost dates, the usual figures, and the cards that come with the program.

    Raises:
        GardenThereError: There is one already.
        FrostTableError: A date cannot be read.
        CrossedFrostError: The first frost is not after the last.
    """
    hold_writes(session)
    if find_garden(session) is not None:
        raise GardenThereError("This database holds a garden already")
    points = {Side.SPRING: {HALF_PERCENT: values.last}, Side.AUTUMN: {HALF_PERCENT: values.first}}
    _check_frost(FrostSource.DATES, points, season=values.season, latitude=values.latitude)
    garden = Garden(
        name=values.name,
        season=values.season,
        units=values.units,
        language=values.language,
        sowing_day=Weekday.SATURDAY,
        hand_out_day=Weekday.SATURDAY,
        tray_length_cm=TRAY_LENGTH_CM,
        tray_width_cm=TRAY_WIDTH_CM,
        latitude=values.latitude,
        longitude=0.0,
        elevation_m=0.0,
        frost_source=FrostSource.DATES,
        frost_law=FrostLaw.NORMAL,
        threshold_c=0.0,
        risk=RISK,
        autumn_risk=AUTUMN_RISK,
        confidence=CONFIDENCE,
        survival=SURVIVAL,
        spare=SPARE,
    )
    session.add(garden)
    replace_frost_points(session, points)
    session.flush()
    store_usual_cards(session)
    return garden


def change_garden(session: "Session", values: GardenValues) -> Garden:
    """Change the garden's own settings.

    Raises:
        NoGardenError: There is no garden yet.
        SeasonHoldsError: It is to be of another season, in which days of this one would be far off.
    """
    hold_writes(session)
    garden = get_garden(session)
    if values.season != garden.season and (far := find_far_day(session, values.season)):
        raise SeasonHoldsError(far)
    set_columns(garden, values)
    session.flush()
    return garden


def change_frost(session: "Session", values: FrostValues, points: "Mapping[Side, Mapping[int, str]]") -> Garden:
    """Change where the garden lies and when it freezes there.

    Args:
        session: Where the garden is.
        values: Place, source of the dates and accepted risks.
        points: Chance in percent to MM-DD, on each side; beside a station's record they are kept for later.

    Raises:
        NoGardenError: There is no garden yet.
        FrostTableError: The dates cannot be read as a table.
        CrossedFrostError: The average first frost is not after the average last one.
        NoRecordError: There is no station's record to take dates from.
        OtherHemisphereError: The record is of the other half of the Earth.
        TooFewYearsError: The record has too few years.
        NoFrostDateError: The record freezes too rarely for a plan at these risks.
    """
    hold_writes(session)
    garden = get_garden(session)
    if values.frost_source is FrostSource.STATION:
        _check_station(session, garden, values)
    else:
        _check_frost(values.frost_source, points, season=garden.season, latitude=values.latitude)
        if garden.record_mark is not None:
            require_hemisphere(get_record(session), southern=values.latitude < 0)
    set_columns(garden, values)
    if points != list_frost_points(session):
        replace_frost_points(session, points)
    session.flush()
    return garden


def _check_station(session: "Session", garden: Garden, values: FrostValues) -> None:
    southern = values.latitude < 0
    freezes = get_freezes(session, garden.record_mark, values.threshold_c, southern=southern)
    require_hemisphere(get_record(session), southern=southern)
    usable_frost(freezes, values.frost_law, season=garden.season, risk=values.risk, autumn_risk=values.autumn_risk)


def _check_frost(
    source: FrostSource, points: "Mapping[Side, Mapping[int, str]]", *, season: int, latitude: float
) -> None:
    """Raise CrossedFrostError where the dates were swapped, or belong to the other half of the Earth."""
    frost = entered_frost(source, points, season=season, southern=latitude < 0)
    spring, autumn = frost.spring_on(EVEN_CHANCE), frost.autumn_on(EVEN_CHANCE)
    midsummer = date(season, SOUTHERN_SPLIT_MONTH if latitude < 0 else NORTHERN_SPLIT_MONTH, 1)
    if spring >= midsummer or not 0 < (autumn - spring).days <= DAYS_IN_YEAR:
        raise CrossedFrostError
