"""What another risk would do to the sowings, in words: before it is saved."""

from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from app.core.change import CropChange, Span, compare_plans
from app.core.plan import Plan
from app.core.words import PLACES
from app.language import _, ngettext
from app.sheets.fixed_words import say
from app.sheets.names import as_said, name_words
from app.sheets.tables import date_at
from app.sheets.words import count_words, day_short, day_words


class DateChange(NamedTuple):
    """A frost date now and then; None where freezes come too rarely for one."""

    name: str
    now: date | None
    then: date | None
    moved: str


class CropLine(NamedTuple):
    """A crop whose dates or verdict change.

    Attributes:
        id: Row number of its card.
        name: Its name.
        sowings: Its sowings.
        moved: How many move and by how much.
        sown: Days on which it is sown, now and then.
        planted_out: Days on which it is planted out, now and then.
        verdict: The season's verdict, now and then; None where it stays.
        too_long: Sowings too long here, now and then; None where that stays.
    """

    id: int
    name: str
    sowings: int
    moved: str
    sown: tuple[str, str]
    planted_out: tuple[str, str]
    verdict: tuple[str, str] | None
    too_long: tuple[int, int] | None


class PlaceLine(NamedTuple):
    """Over-full weeks of a place, now and then."""

    place: str
    now: int
    then: int


@dataclass(frozen=True, kw_only=True)
class RiskPreview:
    """What other risks would do.

    Attributes:
        dates: The frost dates now and then.
        summary: How many sowings move and by how much, in one sentence.
        held: Sowings that stay because their day was set by hand.
        crops: The crops that change.
        unchanged: Crops with sowings that stay as they are.
        places: Over-full weeks of each place.
        is_safe_nowhere: Whether no month would be safe.
    """

    dates: tuple[DateChange, ...]
    summary: str
    held: int
    crops: tuple[CropLine, ...]
    unchanged: int
    places: tuple[PlaceLine, ...]
    is_safe_nowhere: bool


def make_risk_preview(before: Plan, after: Plan) -> RiskPreview:
    """Return what changes from the garden's plan to the one at other risks."""
    change = compare_plans(before, after)
    total = len(before.garden.sowings)
    dates = tuple(
        DateChange(name, now, then, _moved_words(now, then))
        for name, now, then in zip((_("Spring date"), _("Autumn date")), dates_of(before), dates_of(after), strict=True)
    )
    spring, autumn = dates_of(after)
    return RiskPreview(
        dates=dates,
        summary=_summary(change.moved, total, change.least_days, change.most_days),
        held=change.held,
        crops=tuple(
            as_said([_crop_line(crop, before) for crop in change.crops if crop.is_one], lambda line: line.name)
        ),
        unchanged=sum(1 for crop in change.crops if crop.sowings and not crop.is_one),
        places=tuple(
            PlaceLine(say(place).capitalize(), *weeks) for place, weeks in zip(PLACES, change.over_weeks, strict=True)
        ),
        is_safe_nowhere=bool(spring and autumn and spring >= autumn),
    )


def dates_of(plan: Plan) -> tuple[date | None, date | None]:
    """Return spring and autumn date at the garden's risks."""
    frost, settings = plan.garden.frost, plan.garden.settings
    return date_at(frost.spring_on, settings.risk), date_at(frost.autumn_on, settings.autumn_risk)


def _moved_words(now: date | None, then: date | None) -> str:
    if now is None or then is None:
        return _("no date")
    return days_words((then - now).days)


def days_words(days: int) -> str:
    """Return a move, as `3 days earlier`, `1 day later` or `the same day`."""
    if days == 0:
        return _("the same day")
    far = count_words(abs(days), "day", "days")
    return _("%(days)s later", days=far) if days > 0 else _("%(days)s earlier", days=far)


def _range_words(least: int, most: int) -> str:
    """Return a range of moves, as `7 to 14 days earlier`."""
    if least == most:
        return days_words(most)
    if least < 0 < most:
        return _("up to %(earlier)s and up to %(later)s", earlier=days_words(least), later=days_words(most))
    near, far = sorted((abs(least), abs(most)))
    return _("%(near)s to %(far)s", near=near, far=days_words(far if most > 0 else -far))


def _summary(moved: int, total: int, least: int, most: int) -> str:
    if not total:
        return _("There are no sowings yet.")
    if not moved:
        return _("No sowing moves, of %(total)s.", total=total)
    return ngettext(
        "%(num)s of %(sowings)s moves: %(days)s.",
        "%(num)s of %(sowings)s move: %(days)s.",
        moved,
        sowings=count_words(total, "sowing", "sowings"),
        days=_range_words(least, most),
    )


def _crop_line(crop: CropChange, plan: Plan) -> CropLine:
    card = plan.garden.cards[crop.crop]
    moved = _("none moves") if not crop.moved else _range_words(crop.least_days, crop.most_days)
    if 0 < crop.moved < crop.sowings:
        moved = _("%(count)s of %(sowings)s, %(days)s", count=crop.moved, sowings=crop.sowings, days=moved)
    return CropLine(
        id=card.id,
        name=name_words(card.name),
        sowings=crop.sowings,
        moved=moved,
        sown=(_span_words(crop.sown[0]), _span_words(crop.sown[1])),
        planted_out=(_span_words(crop.planted_out[0]), _span_words(crop.planted_out[1])),
        verdict=None if crop.verdict[0] == crop.verdict[1] else (say(crop.verdict[0]), say(crop.verdict[1])),
        too_long=None if crop.too_long[0] == crop.too_long[1] else crop.too_long,
    )


def _span_words(span: Span) -> str:
    if span.first is None or span.last is None:
        return "–"
    if span.first == span.last:
        return day_words(span.first)
    return f"{day_short(span.first)} – {day_short(span.last)}"
