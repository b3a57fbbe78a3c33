"""What would make a crop fit the season, in words."""

from fractions import Fraction
from typing import NamedTuple

from app.core.cards import CropCard
from app.core.plan import Plan
from app.core.plants.advice import Advice, advise, gains_indoors, waits_for_risk
from app.core.plants.season import first_day_outside
from app.core.words import CountedFrom
from app.sheets.words import HALF_A_PERCENT, chance_words, count_words, day_words, percent_words

EXACT = 1e-9
# Shares that people say: any of a small number of springs, one or all but one of others.
_ANY = {Fraction(count, of) for of in (2, 3, 4, 5, 10) for count in range(1, of)}
_SAID = sorted(_ANY | {Fraction(count, of) for of in (6, 7, 8, 15, 20, 30, 50, 100) for count in (1, of - 1)})


class AdviceWords(NamedTuple):
    """What would make a crop fit, a sentence each, and what would not; both empty where it fits as it is."""

    helps: tuple[str, ...] = ()
    fails: tuple[str, ...] = ()


def advice_words(plan: Plan, card: CropCard) -> AdviceWords:
    """Return what would make a crop card, or one changed to a variety, fit the season of a plan."""
    settings, frost = plan.garden.settings, plan.garden.frost
    advice = advise(card, frost, risk=settings.risk, autumn_risk=settings.autumn_risk)
    if advice is None:
        return AdviceWords()
    answers = (
        _risk(plan, card, advice),
        _indoors(card, advice),
        _variety(card, advice),
        _cover(card, advice),
        _picking(card, advice),
    )
    return AdviceWords(
        helps=tuple(words for helps, words in answers if words and helps),
        fails=tuple(words for helps, words in answers if words and not helps),
    )


def counted_words(card: CropCard) -> str:
    """Return where days to maturity are counted from, as `from planting out`."""
    return "from sowing" if card.counted_from is CountedFrom.SEED else "from planting out"


def freezes_words(chance: float) -> str:
    """Return a chance of a spring freeze as subject and verb, as `about 1 spring in 4 freezes`.

    A chance that people do not say is rounded to one that they do.
    """
    if chance < HALF_A_PERCENT:
        return "hardly any spring freezes"
    if chance > 1 - HALF_A_PERCENT:
        return "nearly every spring freezes"
    near = min(_SAID, key=lambda share: abs(share - chance))
    about = "" if abs(near - chance) < EXACT else "about "
    verb = "freezes" if near.numerator == 1 else "freeze"
    return f"{about}{count_words(near.numerator, 'spring', 'springs')} in {near.denominator} {verb}"


def _risk(plan: Plan, card: CropCard, advice: Advice) -> tuple[bool, str]:
    if advice.risk is not None:
        day = first_day_outside(card, plan.garden.frost, advice.risk)
        return True, (
            f"A bolder spring risk of {percent_words(advice.risk)}: {freezes_words(advice.risk)} later. "
            f"It is {_goes_out(card)} from {day_words(day)}."
        )
    if waits_for_risk(card):
        return False, "No spring risk is bold enough."
    return False, "A bolder spring risk changes nothing: it does not wait for that risk."


def _variety(card: CropCard, advice: Advice) -> tuple[bool, str]:
    if advice.variety_days is None:
        return False, "No variety is quick enough."
    most = count_words(advice.variety_days, "day", "days")
    return True, f"A quicker variety of at most {most} {counted_words(card)}, instead of {card.days_to_maturity}."


def _indoors(card: CropCard, advice: Advice) -> tuple[bool, str]:
    if not card.is_started_indoors:
        return False, ""
    if not gains_indoors(card):
        return False, "Longer indoors changes nothing: its days count from planting out."
    least, most = card.indoor_weeks_min or 0, card.indoor_weeks_max or 0
    if advice.indoor_weeks is None:
        return False, "No time indoors is long enough."
    more = advice.indoor_weeks - least
    words = f"{advice.indoor_weeks:g} weeks indoors at least, {_weeks(more)} more than the {least:g} on the card"
    if advice.indoor_weeks > most:
        return True, f"{words}: longer than the {most:g} it should stay, so only with a larger container."
    return True, f"{words}; it may stay up to {most:g}."


def _cover(card: CropCard, advice: Advice) -> tuple[bool, str]:
    if advice.outside_on is None or advice.frost_chance is None:
        return False, "No earlier day outside is enough."
    day, chance = day_words(advice.outside_on), chance_words(advice.frost_chance)
    freezes = freezes_words(advice.frost_chance)
    return True, f"{_goes_out(card).capitalize()} by {day} under cover: {freezes} then or later ({chance})."


def _picking(card: CropCard, advice: Advice) -> tuple[bool, str]:
    if not card.harvest_days:
        return False, ""
    if advice.harvest_days is None:
        return False, "No shorter picking is enough."
    if advice.harvest_days == 0:
        return (
            True,
            f"No picking time after the first that is ripe, instead of {count_words(card.harvest_days, 'day', 'days')}.",
        )
    return True, f"Picking for {count_words(advice.harvest_days, 'day', 'days')}, instead of {card.harvest_days}."


def _goes_out(card: CropCard) -> str:
    return "planted out" if card.is_started_indoors else "sown"


def _weeks(weeks: float) -> str:
    return f"{weeks:g} week{'' if weeks == 1 else 's'}"
