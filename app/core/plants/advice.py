"""What would turn a crop that is too long for the season into one that fits: each answer by fitting it again."""

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from app.core.calendar import DAYS_IN_WEEK, days_of_weeks
from app.core.cards import CropCard
from app.core.dates.frost import Frost
from app.core.plants.season import TENDER, Verdict, first_day_outside, season_fit
from app.core.words import CountedFrom

MOST_PERCENT = 99
# Cards give half weeks.
STEP_WEEKS = 0.5
DAYS_TRIED = 400


@dataclass(frozen=True, kw_only=True)
class Advice:
    """The smallest change of each kind that makes a crop fit the season; None where no such change does.

    Attributes:
        risk: The smallest spring risk of whole percent. [fraction]
        indoor_weeks: The shortest time indoors, in half weeks above the card's. [weeks]
        variety_days: The most days to maturity of a quicker variety, counted as the card counts. [d]
        outside_on: The latest day for planting out under cover, or for sowing where it is not started indoors.
        frost_chance: Chance of a freeze on that day or later. [fraction]
        harvest_days: The longest picking time. [d]
    """

    risk: float | None
    indoor_weeks: float | None
    variety_days: int | None
    outside_on: date | None
    frost_chance: float | None
    harvest_days: int | None

    @property
    def is_none(self) -> bool:
        """Whether no single change is enough."""
        return all(
            answer is None
            for answer in (self.risk, self.indoor_weeks, self.variety_days, self.outside_on, self.harvest_days)
        )


def waits_for_risk(card: CropCard) -> bool:
    """Return whether the spring risk can move the day a crop goes outside."""
    return card.hardiness in TENDER


def gains_indoors(card: CropCard) -> bool:
    """Return whether a longer time indoors leaves fewer days to maturity from planting out."""
    return card.is_started_indoors and card.counted_from is CountedFrom.SEED


def advise(card: CropCard, frost: Frost, *, risk: float, autumn_risk: float) -> Advice | None:
    """Return what would make a crop fit the season; None where it fits as it is.

    Args:
        card: The crop card, or that of a variety.
        frost: The garden's frost.
        risk: Accepted chance of a freeze after planting out. [fraction]
        autumn_risk: Accepted chance of a freeze before the harvest. [fraction]

    Source:
        Every answer is the season fit itself, tried on the changed card, risk or day (docs/method.md,
        section 5). A larger change of a kind never helps less, so that the smallest is found by halving.
    """

    def fits(card: CropCard = card, risk: float = risk, outside_on: date | None = None) -> bool:
        fit = season_fit(card, frost, risk=risk, autumn_risk=autumn_risk, outside_on=outside_on)
        return fit.verdict is not Verdict.TOO_LONG

    if fits():
        return None
    start = first_day_outside(card, frost, risk)
    percent = _least(range(1, MOST_PERCENT + 1), lambda percent: fits(risk=percent / 100))
    quicker = _least(range(1, card.days_to_maturity), lambda days: fits(_quicker(card, days)))
    shorter = _least(range(1, card.harvest_days + 1), lambda days: fits(_picked_shorter(card, days)))
    earlier = _least(range(1, DAYS_TRIED), lambda days: fits(outside_on=start - timedelta(days=days)))
    steps = _least(_steps_indoors(card), lambda steps: fits(_longer_indoors(card, steps)))
    outside_on = None if earlier is None else start - timedelta(days=earlier)
    return Advice(
        risk=None if percent is None else percent / 100,
        indoor_weeks=None if steps is None else _longer_indoors(card, steps).indoor_weeks_min,
        variety_days=None if quicker is None else card.days_to_maturity - quicker,
        outside_on=outside_on,
        frost_chance=None if outside_on is None else frost.chance_on_or_after(outside_on),
        harvest_days=None if shorter is None else card.harvest_days - shorter,
    )


def _least(tried: Sequence[int], fits: Callable[[int], bool]) -> int | None:
    """Return the first that fits of values of which each fits if the one before does."""
    at = bisect_left(tried, True, key=fits)  # noqa: FBT003 - what is looked for
    return tried[at] if at < len(tried) else None


def _quicker(card: CropCard, days: int) -> CropCard:
    return replace(card, days_to_maturity=card.days_to_maturity - days)


def _picked_shorter(card: CropCard, days: int) -> CropCard:
    return replace(card, harvest_days=card.harvest_days - days)


def _longer_indoors(card: CropCard, steps: int) -> CropCard:
    return replace(card, indoor_weeks_min=(card.indoor_weeks_min or 0) + steps * STEP_WEEKS)


def _steps_indoors(card: CropCard) -> range:
    """Return the half weeks that can be added before the crop would be ripe on the day it is planted out."""
    if not gains_indoors(card):
        return range(0)
    spare = card.days_to_maturity - days_of_weeks(card.indoor_weeks_min or 0)
    return range(1, max(1, int(spare / (STEP_WEEKS * DAYS_IN_WEEK))))
