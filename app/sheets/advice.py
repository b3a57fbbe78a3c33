"""What would make a crop fit the season, in words."""

from fractions import Fraction
from typing import NamedTuple

from app.core.cards import CropCard
from app.core.plan import Plan
from app.core.plants.advice import Advice, advise, gains_indoors, waits_for_risk
from app.core.plants.season import first_day_outside
from app.core.words import CountedFrom
from app.language import _, ngettext
from app.sheets.words import HALF_A_PERCENT, chance_words, count_words, day_words, decimal_sign, percent_words

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
    return _("from sowing") if card.counted_from is CountedFrom.SEED else _("from planting out")


def freezes_words(chance: float) -> str:
    """Return a chance of a spring freeze as subject and verb, as `about 1 spring in 4 freezes`.

    A chance that people do not say is rounded to one that they do.
    """
    if chance < HALF_A_PERCENT:
        return _("hardly any spring freezes")
    if chance > 1 - HALF_A_PERCENT:
        return _("nearly every spring freezes")
    near = min(_SAID, key=lambda share: abs(share - chance))
    count, of = near.numerator, near.denominator
    if abs(near - chance) < EXACT:
        return ngettext("%(num)s spring in %(all)s freezes", "%(num)s springs in %(all)s freeze", count, all=of)
    return ngettext("about %(num)s spring in %(all)s freezes", "about %(num)s springs in %(all)s freeze", count, all=of)


def _risk(plan: Plan, card: CropCard, advice: Advice) -> tuple[bool, str]:
    if advice.risk is not None:
        risk, freezes = percent_words(advice.risk), freezes_words(advice.risk)
        day = day_words(first_day_outside(card, plan.garden.frost, advice.risk))
        if card.is_started_indoors:
            words = _(
                "A bolder spring risk of %(risk)s: %(freezes)s later. It is planted out from %(day)s.",
                risk=risk,
                freezes=freezes,
                day=day,
            )
        else:
            words = _(
                "A bolder spring risk of %(risk)s: %(freezes)s later. It is sown from %(day)s.",
                risk=risk,
                freezes=freezes,
                day=day,
            )
        return True, words
    if waits_for_risk(card):
        return False, _("No spring risk is bold enough.")
    return False, _("A bolder spring risk changes nothing: it does not wait for that risk.")


def _variety(card: CropCard, advice: Advice) -> tuple[bool, str]:
    if advice.variety_days is None:
        return False, _("No variety is quick enough.")
    most, usual = count_words(advice.variety_days, "day", "days"), card.days_to_maturity
    return True, _(
        "A quicker variety of at most %(days)s %(counted)s, instead of %(usual)s.",
        days=most,
        counted=counted_words(card),
        usual=usual,
    )


def _indoors(card: CropCard, advice: Advice) -> tuple[bool, str]:
    if not card.is_started_indoors:
        return False, ""
    if not gains_indoors(card):
        return False, _("Longer indoors changes nothing: its days count from planting out.")
    least, most = card.indoor_weeks_min or 0, card.indoor_weeks_max or 0
    if advice.indoor_weeks is None:
        return False, _("No time indoors is long enough.")
    weeks = {
        "weeks": _figure(advice.indoor_weeks),
        "more": _weeks(advice.indoor_weeks - least),
        "least": _figure(least),
        "most": _figure(most),
    }
    if advice.indoor_weeks > most:
        return True, _(
            "%(weeks)s weeks indoors at least, %(more)s more than the %(least)s on the card: longer than the %(most)s "
            "it should stay, so only with a larger container.",
            **weeks,
        )
    return True, _(
        "%(weeks)s weeks indoors at least, %(more)s more than the %(least)s on the card; it may stay up to %(most)s.",
        **weeks,
    )


def _cover(card: CropCard, advice: Advice) -> tuple[bool, str]:
    if advice.outside_on is None or advice.frost_chance is None:
        return False, _("No earlier day outside is enough.")
    day, chance = day_words(advice.outside_on), chance_words(advice.frost_chance)
    freezes = freezes_words(advice.frost_chance)
    if card.is_started_indoors:
        words = _(
            "Planted out by %(day)s under cover: %(freezes)s then or later (%(chance)s).",
            day=day,
            freezes=freezes,
            chance=chance,
        )
    else:
        words = _(
            "Sown by %(day)s under cover: %(freezes)s then or later (%(chance)s).",
            day=day,
            freezes=freezes,
            chance=chance,
        )
    return True, words


def _picking(card: CropCard, advice: Advice) -> tuple[bool, str]:
    if not card.harvest_days:
        return False, ""
    if advice.harvest_days is None:
        return False, _("No shorter picking is enough.")
    usual = card.harvest_days
    if advice.harvest_days == 0:
        days = count_words(usual, "day", "days")
        return True, _("No picking time after the first that is ripe, instead of %(days)s.", days=days)
    days = count_words(advice.harvest_days, "day", "days")
    return True, _("Picking for %(days)s, instead of %(usual)s.", days=days, usual=usual)


def _weeks(weeks: float) -> str:
    return f"{_figure(weeks)} {ngettext('week', 'weeks', 1 if weeks == 1 else 2)}"


def _figure(figure: float) -> str:
    return f"{figure:g}".replace(".", decimal_sign())
