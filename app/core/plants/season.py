"""Whether a season carries a crop: from the frost dates to the days on either side."""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from app.core.calendar import days_of_weeks, season_day
from app.core.cards import CropCard
from app.core.dates.frost import Frost
from app.core.dates.record import Half
from app.core.errors import NoFrostDateError
from app.core.words import CountedFrom, Hardiness
from app.language import N_

# How long after the first autumn freeze a crop is still good; chosen here.
GRACE_DAYS = {
    Hardiness.VERY_HARDY: 28,
    Hardiness.HARDY: 14,
    Hardiness.HALF_HARDY: 7,
    Hardiness.TENDER: 0,
    Hardiness.VERY_TENDER: -7,
}
TENDER = frozenset({Hardiness.TENDER, Hardiness.VERY_TENDER})


class Verdict(StrEnum):
    """What the season says of a crop."""

    START_INDOORS = N_("start indoors")
    EITHER_WAY = N_("either way")
    SOW_OUTSIDE = N_("sow outside")
    TOO_LONG = N_("too long here")


@dataclass(frozen=True, kw_only=True)
class SeasonFit:
    """The verdict on a crop and the days to spare either way.

    Attributes:
        verdict: What the season says.
        days_outdoors: Days to spare when sown outside, negative when short; None where it is not. [d]
        days_indoors: Days to spare when started indoors; None where it is not. [d]
        chance_ripe: Chance that the first autumn freeze, and the grace, leave it time; counted from
            planting out, or from sowing outside where it is not started indoors. [fraction]
    """

    verdict: Verdict
    days_outdoors: int | None
    days_indoors: int | None
    chance_ripe: float


def start_on(frost: Frost, hardiness: Hardiness, weeks: float, risk: float) -> date:
    """Return the first day outside for an offset in weeks from the average last frost.

    Args:
        frost: The garden's frost.
        hardiness: The crop's hardiness; tender crops wait for the chosen risk too.
        weeks: Offset, negative before. [weeks]
        risk: Accepted chance of a later freeze. [fraction]

    Source:
        Published offsets count from the average last frost (seed_data/SOURCES.md); the wait of
        tender crops for the chosen risk is chosen here. Where freezes come too rarely for a date at
        that risk there is nothing to wait for.
    """
    start = frost.spring_on(0.5) + timedelta(days=days_of_weeks(weeks))
    if hardiness not in TENDER:
        return start
    try:
        return max(start, frost.spring_on(risk))
    except NoFrostDateError:
        return start


def first_day_outside(card: CropCard, frost: Frost, risk: float) -> date:
    """Return the first day for planting out, or for sowing outside where it is not started indoors.

    Args:
        card: The crop card.
        frost: The garden's frost.
        risk: Accepted chance of a later freeze. [fraction]
    """
    weeks = card.plant_out_weeks if card.is_started_indoors else card.direct_sow_weeks
    return start_on(frost, card.hardiness, weeks or 0, risk)


def season_end(frost: Frost, hardiness: Hardiness, autumn_risk: float) -> date:
    """Return the day by which a crop is to be harvested: the autumn date and the hardiness grace."""
    return frost.autumn_on(autumn_risk) + timedelta(days=GRACE_DAYS[hardiness])


def days_from_transplant(card: CropCard) -> int:
    """Return days to maturity counted from planting out. [d]

    Source:
        Converted with the shortest time indoors: common practice.
    """
    if card.counted_from is CountedFrom.TRANSPLANT or card.indoor_weeks_min is None:
        return card.days_to_maturity
    return card.days_to_maturity - days_of_weeks(card.indoor_weeks_min)


def days_from_seed(card: CropCard) -> int:
    """Return days to maturity counted from sowing; source as `days_from_transplant`. [d]"""
    if card.counted_from is CountedFrom.SEED or card.indoor_weeks_min is None:
        return card.days_to_maturity
    return card.days_to_maturity + days_of_weeks(card.indoor_weeks_min)


def season_fit(
    card: CropCard,
    frost: Frost,
    *,
    risk: float,
    autumn_risk: float,
    autumn: Half | None = None,
    outside_on: date | None = None,
) -> SeasonFit:
    """Return whether the season carries a crop, started indoors or sown outside.

    Args:
        card: The crop card.
        frost: The garden's frost.
        risk: Accepted chance of a freeze after planting out. [fraction]
        autumn_risk: Accepted chance of a freeze before the harvest. [fraction]
        autumn: First freezes of a station's record; the chance that it ripens is then counted over its
            years, else taken from the law of `frost`.
        outside_on: A day in place of the first day outside by the frost dates: of planting out, or of
            sowing where it is not started indoors.

    Source:
        Chosen here from published offsets and days to maturity. That with 85 to 95 frost-free days a
        crop of about 90 days is started indoors is common practice.
    """
    end = season_end(frost, card.hardiness, autumn_risk)
    outdoors = indoors = None
    ripe = end
    if card.direct_sow_weeks is not None:
        start = start_on(frost, card.hardiness, card.direct_sow_weeks, risk)
        if outside_on is not None and not card.is_started_indoors:
            start = outside_on
        ripe = start + timedelta(days=days_from_seed(card) + card.harvest_days)
        outdoors = (end - ripe).days
    if card.is_started_indoors:
        start = outside_on or first_day_outside(card, frost, risk)
        ripe = start + timedelta(days=days_from_transplant(card) + card.harvest_days)
        indoors = (end - ripe).days
    return SeasonFit(
        verdict=_verdict(outdoors, indoors),
        days_outdoors=outdoors,
        days_indoors=indoors,
        chance_ripe=_chance_no_freeze_before(frost, autumn, ripe - timedelta(days=GRACE_DAYS[card.hardiness])),
    )


def _verdict(outdoors: int | None, indoors: int | None) -> Verdict:
    fits_outdoors = outdoors is not None and outdoors >= 0
    fits_indoors = indoors is not None and indoors >= 0
    if fits_outdoors and fits_indoors:
        return Verdict.EITHER_WAY
    if fits_outdoors:
        return Verdict.SOW_OUTSIDE
    return Verdict.START_INDOORS if fits_indoors else Verdict.TOO_LONG


def _chance_no_freeze_before(frost: Frost, autumn: Half | None, day: date) -> float:
    """Return the chance that the first autumn freeze comes on a day or later, or not at all."""
    if autumn is None:
        return 1 - frost.chance_on_or_before(day - timedelta(days=1))
    too_early = autumn.days < season_day(day, frost.season)
    return 1 - float(too_early.sum()) / autumn.n_usable
