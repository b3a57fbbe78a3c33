"""Looking back on a season as files, a table for each question."""

from collections.abc import Callable
from datetime import date

from app.core.calendar import iso_week, monday_of, week_start
from app.core.log.entries import CAUSES
from app.core.review.dates import STEPS, lateness
from app.core.review.losses import NOWHERE
from app.core.review.season import Review
from app.core.words import PLACES
from app.language import N_, _
from app.sheets.fixed_words import say
from app.sheets.review_words import is_failed, outcome_words
from app.sheets.tables import Cell, Table

DECIMALS = 4
DAY_COLUMNS = tuple(f"{step.replace(' ', '_')}_{which}" for step in STEPS for which in ("foreseen", "real"))


def sowing_rows(review: Review) -> Table:
    """Return every sowing that is started indoors: wished, handed out, what became of it, and its days."""
    garden, shares, dates = review.plan.garden, review.shares, review.dates
    rows: list[tuple[Cell, ...]] = []
    for at, name in enumerate(garden.sowings.names):
        if not shares.is_counted[at]:
            continue
        days = [_day(int(day)) for pair in zip(dates.foreseen[at], dates.real[at], strict=True) for day in pair]
        rows.append(
            (
                name,
                garden.growers[int(garden.sowings.grower[at])].name,
                garden.cards[int(garden.sowings.crop[at])].name,
                garden.sowings.varieties[at],
                int(shares.wanted[at]),
                int(shares.got[at]),
                int(shares.given[at]),
                int(shares.here[at]),
                outcome_words(review, at),
                *days,
            )
        )
    head = ("sowing", "grower", "crop", "variety", "wanted", "handed_out", "spare_given", "still_here", "outcome")
    return Table((*head, *DAY_COLUMNS), rows)


def date_rows(review: Review) -> Table:
    """Return how late each step of each crop was. [d]"""
    garden = review.plan.garden
    rows: list[tuple[Cell, ...]] = []
    for crop, card in enumerate(garden.cards):
        mine = (garden.sowings.crop == crop) & review.shares.is_counted
        for step, name in enumerate(STEPS):
            found = lateness(review.dates, step, mine)
            if found is not None:
                mean, median = round(found.mean_days, DECIMALS), found.median_days
                row = (mean, median, found.earliest_days, found.latest_days, found.in_time)
                rows.append((card.name, _(name), found.n, *row))
    columns = ("mean_days_late", "median_days_late", "earliest_days_late", "latest_days_late", "within_three_days")
    return Table(("crop", "step", "sowings", *columns), rows)


def seed_rows(review: Review) -> Table:
    """Return what came up of each seed lot, and of each crop whatever the lot; shares are fractions."""
    garden = review.plan.garden
    rows: list[tuple[Cell, ...]] = []
    for of_lots, found in ((True, review.lots), (False, review.crops)):
        for came in found:
            lot = garden.lots[came.number] if of_lots else None
            card = garden.cards[lot.crop if lot else came.number]
            known = came.known
            seen = (known.mean, known.low, known.high) if known else (None, None, None)
            now = [None if figure is None else round(figure, DECIMALS) for figure in seen]
            row = (card.name, lot.name if lot else None, round(came.stated, DECIMALS), came.sowings)
            rows.append((*row, came.tried, came.up, *now))
    columns = ("reckoned_before", "sowings", "cells", "cells_up", "known_now", "low_90", "high_90")
    return Table(("crop", "seed_lot", *columns), rows)


def loss_rows(review: Review) -> Table:
    """Return every loss by day: sowing, crop, place, cause and how much; cells before anything came up."""
    garden, losses = review.plan.garden, review.losses
    rows: list[tuple[Cell, ...]] = []
    for at in losses.day.argsort(kind="stable").tolist():
        sowing, day = int(losses.sowing[at]), date.fromordinal(int(losses.day[at]))
        place = int(losses.place[at])
        rows.append(
            (
                day,
                iso_week(week_start(day)),
                garden.sowings.names[sowing],
                garden.cards[int(garden.sowings.crop[sowing])].name,
                None if place == NOWHERE else say(PLACES[place]),
                say(CAUSES[int(losses.cause[at])]),
                int(losses.lost[at]),
            )
        )
    return Table(("date", "week", "sowing", "crop", "place", "cause", "lost"), rows)


def place_rows(review: Review) -> Table:
    """Return trays on the fullest day of each week in each place: by the log, and as foreseen."""
    ledger, foreseen = review.used.ledger, review.used.foreseen
    rows: list[tuple[Cell, ...]] = []
    for at, week in enumerate(ledger.weeks):
        for place, name in enumerate(PLACES):
            figures = (ledger.positions[place], ledger.needed[at, place], foreseen.needed[at, place])
            rows.append((iso_week(monday_of(week)), say(name), *map(int, figures)))
    return Table(("week", "place", "positions", "trays", "trays_foreseen"), rows)


def grower_rows(review: Review) -> Table:
    """Return what each grower got of the plants wished for; the share is a fraction."""
    garden, shares, failed = review.plan.garden, review.shares, is_failed(review)
    rows: list[tuple[Cell, ...]] = []
    for at, grower in enumerate(garden.growers):
        mine = shares.is_counted & (garden.sowings.grower == at)
        share = shares.share(at)
        if share is not None:
            counts = [int(column[mine].sum()) for column in (shares.wanted, shares.got, shares.given, shares.here)]
            counts.insert(3, shares.spare_got(at))
            row = (*counts, round(share, DECIMALS), int((shares.is_late & mine).sum()), int((failed & mine).sum()))
            rows.append((grower.name, *row))
    return Table(
        ("grower", "wanted", "handed_out", "spare_given", "spare_got", "still_here", "share", "late", "failed"), rows
    )


# What can be had as a file, by the name in its address and in the name of the file.
TABLES: dict[str, tuple[str, Callable[[Review], Table]]] = {
    "sowings": (N_("Sowings"), sowing_rows),
    "dates": (N_("Dates by crop"), date_rows),
    "seed": (N_("Seed"), seed_rows),
    "losses": (N_("Losses"), loss_rows),
    "places": (N_("Places by week"), place_rows),
    "growers": (N_("Growers"), grower_rows),
}


def _day(day: int) -> date | None:
    return date.fromordinal(day) if day else None
