"""The season fit in words: the verdict on every crop and variety, its days to spare, and what would help."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

from app.core.cards import CropCard
from app.core.errors import NoFrostDateError
from app.core.plan import Plan
from app.core.plants.season import SeasonFit, Verdict
from app.language import _
from app.sheets.advice import AdviceWords, advice_words, counted_words
from app.sheets.fixed_words import say
from app.sheets.names import as_said, name_words
from app.sheets.words import chance_words, count_words, day_words, list_words, percent_words


class FitWords(NamedTuple):
    """The season's verdict on a crop or variety.

    Attributes:
        verdict: What the season says.
        indoors: Days to spare when started indoors, with a minus sign when short; a dash where it is not.
        outside: The same when sown outside.
        chance: Chance that it ripens.
        advice: What would make it fit; empty where it does.
    """

    verdict: Verdict
    indoors: str
    outside: str
    chance: str
    advice: AdviceWords


class VarietyLine(NamedTuple):
    """Varieties of a crop with days to maturity of their own, all the same.

    Attributes:
        names: Names of the varieties, or that none is given.
        days: Their days to maturity, and from where they count.
        sowings: How many sowings there are of them. [1]
        fit: The verdict on them.
    """

    names: str
    days: str
    sowings: int
    fit: FitWords


class CropLine(NamedTuple):
    """A crop as the page shows it.

    Attributes:
        crop_id: Row number of its card.
        name: Its name.
        days: Its days to maturity, and from where they count.
        sowings: How many sowings it has. [1]
        fit: The verdict by its card.
        heat: Chance that it ripens by heat; empty where that is not known.
        varieties: Those with days to maturity of their own.
    """

    crop_id: int
    name: str
    days: str
    sowings: int
    fit: FitWords
    heat: str
    varieties: tuple[VarietyLine, ...]

    @property
    def verdicts(self) -> set[Verdict]:
        """The verdicts on the crop and its varieties."""
        return {self.fit.verdict, *(line.fit.verdict for line in self.varieties)}


@dataclass(frozen=True, kw_only=True)
class SeasonPage:
    """The season fit page.

    Attributes:
        facts: The line of facts under the heading.
        no_month: What to say where no month is safe; empty else.
        lines: The crops shown, by name.
        n_crops: How many crop cards there are. [1]
        has_heat: Whether some crop shown has a chance by heat.
        has_too_long: Whether some crop or variety shown is too long for the season.
        chances: Where the chances to ripen are from.
    """

    facts: list[tuple[str, str]]
    no_month: str
    lines: tuple[CropLine, ...]
    n_crops: int
    has_heat: bool
    has_too_long: bool
    chances: str


def make_season_page(plan: Plan, *, verdict: Verdict | None = None, is_wanted: bool = False) -> SeasonPage:
    """Return the season fit of a plan's crops.

    Args:
        plan: The plan.
        verdict: Show only crops that have this verdict, or a variety that has it; None for all.
        is_wanted: Show only crops that have sowings.
    """
    lines = tuple(
        line
        for line in as_said(crop_lines(plan), lambda line: line.name)
        if (line.sowings or not is_wanted) and (verdict is None or verdict in line.verdicts)
    )
    return SeasonPage(
        facts=list(_facts(plan)),
        no_month=_no_month(plan),
        lines=lines,
        n_crops=len(plan.garden.cards),
        has_heat=any(line.heat for line in lines),
        has_too_long=any(Verdict.TOO_LONG in line.verdicts for line in lines),
        chances=chances_words(plan),
    )


def crop_lines(plan: Plan) -> Iterator[CropLine]:
    """Yield every crop with its varieties, in the order of the plan."""
    cards, crops = plan.garden.cards, plan.garden.sowings.crop.tolist()
    counts = [0] * len(cards)
    for crop in crops:
        counts[crop] += 1
    varieties = _varieties(plan)
    for index, (card, fit, heat) in enumerate(zip(cards, plan.fits, plan.ripe_by_heat, strict=True)):
        yield CropLine(
            crop_id=card.id,
            name=name_words(card.name),
            days=_days_words(card),
            sowings=counts[index],
            fit=_fit_words(plan, card, fit),
            heat="" if heat is None else chance_words(heat),
            varieties=tuple(_variety_line(plan, card, days, names) for days, names in sorted(varieties[index].items())),
        )


def chances_words(plan: Plan) -> str:
    """Return where the chances to ripen are from."""
    station = plan.garden.station
    if station is None:
        return _("The chance that a crop ripens comes from the garden’s frost dates.")
    years = count_words(station.autumn.n_usable, "year", "years")
    said = _("The chance that a crop ripens is counted over %(years)s of the station’s record.", years=years)
    if not station.warns:
        return said
    few = _("They are fewer than 20: take the chances as rough.")
    return f"{said} {few}"


def days_to_spare_words(days: int | None) -> str:
    """Return days to spare, as `9` or `-26`; a dash where there are none."""
    return "–" if days is None else str(days)


def _varieties(plan: Plan) -> dict[int, dict[int, list[str | None]]]:
    """Return the variety of each sowing with days to maturity of its own, by crop and those days."""
    sowings = plan.garden.sowings
    found: dict[int, dict[int, list[str | None]]] = defaultdict(lambda: defaultdict(list))
    for index in sowings.days_to_maturity.nonzero()[0].tolist():
        found[int(sowings.crop[index])][int(sowings.days_to_maturity[index])].append(sowings.varieties[index])
    return found


def _variety_line(plan: Plan, card: CropCard, days: int, names: list[str | None]) -> VarietyLine:
    card = replace(card, days_to_maturity=days)
    return VarietyLine(
        names=list_words(sorted({name for name in names if name})) or _("a variety without a name"),
        days=_days_words(card),
        sowings=len(names),
        fit=_fit_words(plan, card, plan.fit_of(card)),
    )


def _fit_words(plan: Plan, card: CropCard, fit: SeasonFit) -> FitWords:
    return FitWords(
        verdict=fit.verdict,
        indoors=days_to_spare_words(fit.days_indoors),
        outside=days_to_spare_words(fit.days_outdoors),
        chance=chance_words(fit.chance_ripe),
        advice=advice_words(plan, card),
    )


def _days_words(card: CropCard) -> str:
    return f"{count_words(card.days_to_maturity, 'day', 'days')} {counted_words(card)}"


def _facts(plan: Plan) -> Iterator[tuple[str, str]]:
    frost, settings = plan.garden.frost, plan.garden.settings
    too_long = sum(fit.verdict is Verdict.TOO_LONG for fit in plan.fits)
    yield _("Frost-free days, on average"), str(frost.frost_free_days())
    spring = _("Spring date at %(risk)s", risk=percent_words(settings.risk))
    try:
        yield spring, day_words(frost.spring_on(settings.risk))
    except NoFrostDateError:
        yield spring, _("freezes too rarely to date")
    autumn = _("Autumn date at %(risk)s", risk=percent_words(settings.autumn_risk))
    yield autumn, day_words(frost.autumn_on(settings.autumn_risk))
    crops = count_words(len(plan.fits), "crop", "crops")
    yield say(Verdict.TOO_LONG).capitalize(), _("%(count)s of %(crops)s", count=too_long, crops=crops)


def _no_month(plan: Plan) -> str:
    frost, settings = plan.garden.frost, plan.garden.settings
    try:
        spring, autumn = frost.spring_on(settings.risk), frost.autumn_on(settings.autumn_risk)
    except NoFrostDateError:
        return ""
    if spring < autumn:
        return ""
    return _(
        "The spring date, %(spring)s, is not before the autumn date, %(autumn)s.",
        spring=day_words(spring),
        autumn=day_words(autumn),
    )
