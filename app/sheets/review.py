"""Looking back on a season in words: dates, seed, losses, places, growers, and what was late or failed."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from app.core.calendar import DAYS_IN_WEEK, as_day, monday_of
from app.core.log.learning import Germination
from app.core.review.dates import N_STEPS, STEPS, Lateness, lateness
from app.core.review.season import Review
from app.core.review.seed import CameUp
from app.core.words import PLACES
from app.language import N_, _
from app.sheets.bars import month_starts
from app.sheets.fixed_words import say
from app.sheets.ledger_page import BOTTOM, CHART_HEIGHT, Box, PlaceChart, place_chart
from app.sheets.names import as_said, name_words
from app.sheets.review_words import is_failed, late_words, looked_into_of, outcome_words
from app.sheets.words import (
    count_words,
    day_short,
    day_words,
    day_year,
    month_short,
    number_words,
    percent_words,
    week_full,
)

DASH = "–"
BAR = 100.0
CHART_WIDTH = 300.0
CHART_TOP = 18.0
GAP = 1.0
OFF_SHELVES = N_("off the shelves")


@dataclass(frozen=True)
class StepLine:
    """How late one step was.

    Attributes:
        name: The step, or the crop.
        n: Sowings of which both days are known. [1]
        mean: The mean in words; a dash where no day is known, as below.
        median: The median.
        range: The earliest and the latest.
        in_time: Sowings at most three days off, with their share.
    """

    name: str
    n: int
    mean: str
    median: str
    range: str
    in_time: str


@dataclass(frozen=True)
class CropLine:
    """How late the steps of one crop were, a cell for each step.

    Attributes:
        crop_id: Id of its card.
        name: Its name.
        steps: The mean of each step in words, and of how many sowings; a dash and 0 where none is known.
    """

    crop_id: int
    name: str
    steps: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class SeedLine:
    """What came up of a seed lot or of a crop.

    Attributes:
        id: Id of the lot, or of the crop card.
        name: Its name.
        crop: The crop of a lot.
        stated: What was reckoned with before, in words.
        season: What came up in the season, in words.
        known: What is known now, in words; a dash where nothing was seen.
        interval: Its interval in words; empty without.
        low_x: Where the interval begins on a bar of width 100.
        width: How wide it is there.
        mean_x: Where the mean lies there.
        stated_x: Where that lies which was reckoned with before.
    """

    id: int
    name: str
    crop: str
    stated: str
    season: str
    known: str
    interval: str
    low_x: float
    width: float
    mean_x: float
    stated_x: float


@dataclass(frozen=True)
class LossLine:
    """What was lost to one cause or in one place, its share in words, and the same on a bar of width 100."""

    name: str
    lost: int
    share: str
    width: float


@dataclass(frozen=True)
class PlaceLine:
    """How full a place was, in words."""

    name: str
    positions: int
    fullest: str
    week: str
    foreseen: int
    used: str
    over: str


@dataclass(frozen=True)
class GrowerLine:
    """What a grower got.

    Attributes:
        id: Id of the grower.
        name: Their name.
        wanted: Plants wished for. [1]
        got: Plants handed out. [1]
        given: Spare plants of theirs that went to others. [1]
        spare: Spare plants that they got from others. [1]
        here: Plants still on the shelves. [1]
        share: The share that they got, in words.
        width: The same on a bar of width 100.
        late: Sowings that were late. [1]
        failed: Sowings of which nothing came, or that were not sown. [1]
    """

    id: int
    name: str
    wanted: int
    got: int
    given: int
    spare: int
    here: int
    share: str
    width: float
    late: int
    failed: int


@dataclass(frozen=True)
class SowingLine:
    """A sowing that was late or did not come to all its plants."""

    id: int
    name: str
    grower: str
    crop: str
    wanted: int
    got: int
    what: str
    foreseen: str
    real: str


@dataclass(frozen=True, kw_only=True)
class WeekChart:
    """Losses week by week, on a picture of 300 by 126.

    Attributes:
        words: What the picture says, for those who cannot see it.
        bars: A box for each week with a loss.
        peak: The most of a week, and where the figure stands.
        months: Each first of a month, and its name.
    """

    words: str
    bars: tuple[Box, ...]
    peak: tuple[int, float, float]
    months: tuple[tuple[float, str], ...]


@dataclass(frozen=True, kw_only=True)
class ReviewPage:
    """A season looked back on, in words.

    Attributes:
        garden: Name of the garden.
        season: The growing year.
        printed: The day of the making, in words.
        so_far: The day to which it reaches, in words; empty where nothing more is to come.
        is_empty: Whether nothing is written down.
        facts: The line of facts under the heading.
        steps: How late each step was.
        crops: The same crop by crop.
        lots: What came up of each seed lot of which anything is known.
        crop_seed: What came up of each crop.
        causes: Losses by cause.
        loss_places: Losses by place.
        losses: Losses week by week; None where nothing was lost.
        charts: Trays of each place by the log, with what was foreseen as an outline.
        places: How full each place was.
        growers: What each grower got.
        has_gifts: Whether spare plants went from one grower to another.
        sowings: Sowings that were late or did not come to all their plants.
        more: Sowings of that kind that are not among them. [1]
    """

    garden: str
    season: int
    printed: str
    so_far: str
    is_empty: bool
    facts: tuple[tuple[str, str], ...]
    steps: tuple[StepLine, ...]
    crops: tuple[CropLine, ...]
    lots: tuple[SeedLine, ...]
    crop_seed: tuple[SeedLine, ...]
    causes: tuple[LossLine, ...]
    loss_places: tuple[LossLine, ...]
    losses: WeekChart | None
    charts: tuple[PlaceChart, ...]
    places: tuple[PlaceLine, ...]
    growers: tuple[GrowerLine, ...]
    has_gifts: bool
    sowings: tuple[SowingLine, ...]
    more: int


def make_review_page(review: Review, today: date, most: slice = slice(None)) -> ReviewPage:
    """Return a season looked back on in words.

    Args:
        review: The season.
        today: The day of the making.
        most: Which of the sowings that were late or failed are listed.
    """
    looked_into = looked_into_of(review)
    listed = looked_into[most]
    losses = review.losses
    by_place = {_(OFF_SHELVES) if place is None else say(place): lost for place, lost in losses.by_place().items()}
    ledger = review.used.ledger
    return ReviewPage(
        garden=review.plan.garden.settings.name,
        season=review.plan.garden.settings.season,
        printed=day_year(today),
        so_far="" if review.is_over else day_words(today),
        is_empty=review.is_empty,
        facts=tuple(_facts(review)),
        steps=tuple(_steps(review)),
        crops=tuple(as_said(_crops(review), lambda line: line.name)),
        lots=tuple(_lots(review)),
        crop_seed=tuple(as_said(_crop_seed(review), lambda line: line.name)),
        causes=tuple(_losses({say(cause): lost for cause, lost in losses.by_cause().items()})),
        loss_places=tuple(_losses(by_place)),
        losses=_loss_chart(review),
        charts=tuple(
            place_chart(ledger, at, review.used.foreseen) for at in range(len(PLACES)) if _is_used(review, at)
        ),
        places=tuple(_places(review)),
        growers=tuple(_growers(review)),
        has_gifts=bool(review.shares.gifts),
        sowings=tuple(_sowing(review, at) for at in listed),
        more=len(looked_into) - len(listed),
    )


def _facts(review: Review) -> Iterator[tuple[str, str]]:
    shares = review.shares
    counted = shares.is_counted
    wanted, got = int(shares.wanted[counted].sum()), int((shares.got + shares.given)[counted].sum())
    yield _("Plants wanted"), number_words(wanted)
    yield _("Handed out"), number_words(got)
    if not review.is_over:
        yield _("Still on the shelves"), number_words(int(shares.here[counted].sum()))
    if shares.gifts:
        yield _("Spare plants among them"), number_words(int(shares.given[counted].sum()))
    yield _("Lost"), number_words(int(review.losses.lost.sum()))
    # Before all is handed out the smallest share says nothing but whose turn is still to come.
    least = [
        share for share in (_share_of(review, at) for at in range(len(review.plan.garden.growers))) if share is not None
    ]
    if review.is_over and least:
        yield _("Smallest share of a grower"), percent_words(round(min(least), 2))
    yield _("Late"), count_words(int(shares.is_late.sum()), "sowing", "sowings")
    yield _("Failed or not sown"), count_words(int(is_failed(review).sum()), "sowing", "sowings")


def _share_of(review: Review, grower: int) -> float | None:
    return review.shares.share(grower)


def _steps(review: Review) -> Iterator[StepLine]:
    everything = review.plan.first_place >= 0
    for step, name in enumerate(STEPS):
        found = lateness(review.dates, step, everything)
        yield _step_line(_(name), found)


def _step_line(name: str, found: Lateness | None) -> StepLine:
    if found is None:
        return StepLine(name, 0, DASH, DASH, DASH, DASH)
    return StepLine(
        name=name,
        n=found.n,
        mean=late_words(found.mean_days),
        median=late_words(found.median_days),
        range=late_words(found.earliest_days)
        if found.earliest_days == found.latest_days
        else _("%(least)s to %(most)s", least=late_words(found.earliest_days), most=late_words(found.latest_days)),
        in_time=f"{number_words(found.in_time)}, {percent_words(round(found.in_time / found.n, 2))}",
    )


def _crops(review: Review) -> Iterator[CropLine]:
    sowings = review.plan.garden.sowings
    for crop, card in enumerate(review.plan.garden.cards):
        mine = (sowings.crop == crop) & (review.plan.first_place >= 0)
        found = [lateness(review.dates, step, mine) for step in range(N_STEPS)]
        if any(found):
            steps = tuple((DASH, 0) if one is None else (late_words(one.mean_days), one.n) for one in found)
            yield CropLine(card.id, name_words(card.name), steps)


def _lots(review: Review) -> Iterator[SeedLine]:
    garden = review.plan.garden
    for came in review.lots:
        if came.known is not None:
            lot = garden.lots[came.number]
            yield _seed_line(lot.id, lot.name, name_words(garden.cards[lot.crop].name), came, came.known)


def _crop_seed(review: Review) -> Iterator[SeedLine]:
    for came in review.crops:
        if came.known is not None:
            card = review.plan.garden.cards[came.number]
            yield _seed_line(card.id, name_words(card.name), name_words(card.name), came, came.known)


def _seed_line(row_id: int, name: str, crop: str, came: CameUp, known: Germination) -> SeedLine:
    season = _("not sown, or not counted yet")
    if came.tried:
        season = _(
            "%(up)s of %(cells)s in %(sowings)s",
            up=number_words(came.up),
            cells=count_words(came.tried, "cell", "cells"),
            sowings=count_words(came.sowings, "sowing", "sowings"),
        )
    return SeedLine(
        id=row_id,
        name=name,
        crop=crop,
        stated=percent_words(round(came.stated, 2)),
        season=season,
        known=percent_words(round(known.mean, 2)),
        interval=_(
            "%(least)s to %(most)s",
            least=percent_words(round(known.low, 2)),
            most=percent_words(round(known.high, 2)),
        ),
        low_x=round(known.low * BAR, 1),
        width=round((known.high - known.low) * BAR, 1),
        mean_x=round(known.mean * BAR, 1),
        stated_x=round(came.stated * BAR, 1),
    )


def _losses(counts: dict[str, int]) -> Iterator[LossLine]:
    total = sum(counts.values())
    for name, lost in counts.items():
        yield LossLine(name, lost, percent_words(round(lost / total, 2)), round(lost / total * BAR, 1))


def _is_used(review: Review, place: int) -> bool:
    used = review.used
    return bool(len(used.ledger.needed)) and bool(
        used.ledger.needed[:, place].any() or used.foreseen.needed[:, place].any() or used.ledger.positions[place]
    )


def _places(review: Review) -> Iterator[PlaceLine]:
    for at, use in enumerate(review.used.places):
        if not _is_used(review, at):
            continue
        share = use.used_fraction
        yield PlaceLine(
            name=say(use.place),
            positions=use.positions,
            fullest=count_words(use.fullest, "tray", "trays"),
            week=DASH if use.fullest_week is None else week_full(monday_of(use.fullest_week)),
            foreseen=use.foreseen,
            used=DASH
            if share is None
            else _(
                "%(share)s in %(weeks)s",
                share=percent_words(round(share, 2)),
                weeks=count_words(use.weeks, "week", "weeks"),
            ),
            over=count_words(use.over_weeks, "week", "weeks") if use.over_weeks else _("never"),
        )


def _growers(review: Review) -> Iterator[GrowerLine]:
    shares, failed = review.shares, is_failed(review)
    for at, grower in enumerate(review.plan.garden.growers):
        mine = shares.is_counted & (review.plan.garden.sowings.grower == at)
        share = shares.share(at)
        if share is None:
            continue
        yield GrowerLine(
            id=grower.id,
            name=grower.name,
            wanted=int(shares.wanted[mine].sum()),
            got=int(shares.got[mine].sum()),
            given=int(shares.given[mine].sum()),
            spare=shares.spare_got(at),
            here=int(shares.here[mine].sum()),
            share=percent_words(round(share, 2)),
            width=round(share * BAR, 1),
            late=int((shares.is_late & mine).sum()),
            failed=int((failed & mine).sum()),
        )


def _sowing(review: Review, at: int) -> SowingLine:
    garden, dates = review.plan.garden, review.dates
    sowings = garden.sowings
    variety = sowings.varieties[at]
    card = name_words(garden.cards[int(sowings.crop[at])].name)
    real = int(dates.real[at, -1])
    return SowingLine(
        id=int(sowings.ids[at]),
        name=sowings.names[at],
        grower=garden.growers[int(sowings.grower[at])].name,
        crop=f"{card}, {variety}" if variety else card,
        wanted=int(sowings.plants[at]),
        got=int(review.shares.got[at]),
        what=outcome_words(review, at),
        foreseen=day_short(date.fromordinal(int(dates.foreseen[at, -1]))),
        real=day_short(date.fromordinal(real)) if real else DASH,
    )


def _loss_chart(review: Review) -> WeekChart | None:
    by_week = review.losses.by_week()
    if not by_week:
        return None
    first, last = min(by_week), max(by_week)
    n, most = last - first + 1, max(by_week.values())
    base = CHART_HEIGHT - BOTTOM
    per_week, per_one = min(CHART_WIDTH / n, CHART_WIDTH / 12), (base - CHART_TOP) / most
    width = round(max(per_week - GAP, per_week / 2), 2)
    peak = next(week for week, lost in by_week.items() if lost == most)
    monday, sunday = monday_of(first), monday_of(last) + timedelta(days=DAYS_IN_WEEK - 1)
    per_day = per_week / DAYS_IN_WEEK
    starts = [(round((as_day(day) - as_day(monday)) * per_day, 2), day) for day in month_starts(monday, sunday)]
    return WeekChart(
        words=_(
            "%(lost)s lost in %(weeks)s, the most, %(most)s, in the week of %(week)s.",
            lost=count_words(sum(by_week.values()), "plant or cell", "plants or cells"),
            weeks=count_words(len(by_week), "week", "weeks"),
            most=most,
            week=week_full(monday_of(peak)),
        ),
        bars=tuple(
            Box(round((week - first) * per_week, 2), round(base - lost * per_one, 2), width, round(lost * per_one, 2))
            for week, lost in sorted(by_week.items())
        ),
        peak=(most, round((peak - first + 0.5) * per_week, 2), round(base - most * per_one - 4, 2)),
        months=tuple(
            (x, month_short(day.month) if 28 * per_day >= 26 and x <= CHART_WIDTH - 26 else "")  # noqa: PLR2004 - the room of a name
            for x, day in starts
        ),
    )
