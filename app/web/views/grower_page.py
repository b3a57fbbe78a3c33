"""A grower's own page: what is next, and the deadlines of each sowing."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from flask import render_template
from flask.typing import ResponseReturnValue

from app.core.plan import NO_PLACE, Plan
from app.core.words import HEAT, LAMP, Units
from app.extensions import db
from app.language import _
from app.services.plan import get_plan
from app.sheets.bars import SeasonLine
from app.sheets.failing import FailingLine
from app.sheets.grower_page import cells_on_shelves, lines_of_sowings, own_risk_words, weekdays_of
from app.sheets.grower_sheet import DayTask, Deadline, GrowerSheet, SheetFacts, make_grower_sheet
from app.sheets.words import count_words
from app.storage.queries.growers import get_grower
from app.storage.queries.sheets import list_saved_cucurbits
from app.storage.queries.trays import list_cells_of_grower, list_stays
from app.web.access import Who, open_to, require_own
from app.web.context import current_day, current_garden, is_timed
from app.web.failing import failing_lines, spares_address
from app.web.kept import kept
from app.web.views import growers
from app.web.wishes import why_closed

bp = growers.bp  # a grower's own page is one of theirs

NEXT_TASKS = 5


class SowingOfGrower(NamedTuple):
    """One sowing as the page shows it.

    Attributes:
        sowing_id: Its row number.
        deadline: Its dates and counts in words.
        best: The best day where another is taken; empty else.
        warnings: What is wrong with its plan, each a sentence.
        risk: What the grower's own frost risk for it means; empty where they set none.
        line: It through the season.
        words: The same for those who cannot see it.
        is_outside: Sown outside, at the plot.
    """

    sowing_id: int
    deadline: Deadline
    best: str
    warnings: tuple[str, ...]
    risk: str
    line: SeasonLine
    words: str
    is_outside: bool


@dataclass(frozen=True, kw_only=True)
class GrowerPage:
    """A grower's page.

    Attributes:
        sheet: What their sheet of paper says too.
        can_come: The weekdays on which they can come.
        facts: The line of facts under the heading.
        next_tasks: The first tasks from today on.
        sowings: Each sowing, by crop and variety.
        uses_current: Something of theirs stands under lamps or on a heated bench.
        handles_mix: Something of theirs is sown in mix.
        has_saved_cucurbits: They have cucurbits from saved or swapped seed.
        failing: Which of them are late or have failed.
    """

    sheet: GrowerSheet
    can_come: list[str]
    facts: list[tuple[str, str]]
    next_tasks: tuple[DayTask, ...]
    sowings: tuple[SowingOfGrower, ...]
    uses_current: bool
    handles_mix: bool
    has_saved_cucurbits: bool
    failing: list[FailingLine]


@bp.get("/<int:grower_id>")
@open_to(Who.MEMBERS)
@kept
def show(grower_id: int) -> ResponseReturnValue:
    """Show a grower's deadlines and what is next."""
    require_own(grower_id)
    grower = get_grower(db.session, grower_id)
    return render_template(
        "growers/show.html",
        grower=grower,
        page=page_of(get_plan(db.session), grower_id, grower.days),
        closed=why_closed(),
        spares=spares_address(),
    )


def page_of(plan: Plan, grower_id: int, days: str | None) -> GrowerPage:
    """Return the page of a grower by their row number; days are the weekdays on which they can come."""
    index = next(number for number, grower in enumerate(plan.garden.growers) if grower.id == grower_id)
    garden, today = current_garden(), current_day()
    saved = list_saved_cucurbits(db.session)
    cells = list_cells_of_grower(db.session, grower_id)
    facts = SheetFacts(
        units=garden.units if garden else Units.METRIC,
        today=today,
        saved_cucurbits=saved,
        cells=cells,
        stays=list_stays(db.session, {cell.tray_id for cell in cells}),
        is_timed=is_timed(),
    )
    sheet = make_grower_sheet(plan, index, facts)
    indices = [deadline.index for deadline in sheet.deadlines]
    sowings = tuple(sowings_of(plan, sheet))
    return GrowerPage(
        sheet=sheet,
        can_come=weekdays_of(days or ""),
        facts=facts_of(plan, index, sheet),
        next_tasks=sheet.tasks[:NEXT_TASKS],
        sowings=sowings,
        uses_current=bool({HEAT, LAMP} & {*plan.first_place[indices].tolist(), *plan.light_place[indices].tolist()}),
        handles_mix=not all(sowing.is_outside for sowing in sowings),
        has_saved_cucurbits=any(sowing.sowing_id in saved for sowing in sowings),
        failing=failing_lines(plan, grower=index, counts_spares=False),
    )


def sowings_of(plan: Plan, sheet: GrowerSheet) -> Iterator[SowingOfGrower]:
    """Yield the sowings on a sheet, each with its way through the season."""
    lines = lines_of_sowings(plan, [deadline.index for deadline in sheet.deadlines])
    for deadline, (line, words) in zip(sheet.deadlines, lines, strict=True):
        yield SowingOfGrower(
            sowing_id=int(plan.garden.sowings.ids[deadline.index]),
            deadline=deadline,
            best="" if f" {deadline.best}" in deadline.sow_on else deadline.best,
            warnings=tuple(map(_sentence, deadline.warnings)),
            risk=_sentence(own_risk_words(plan, deadline.index)),
            line=line,
            words=words,
            is_outside=int(plan.first_place[deadline.index]) == NO_PLACE,
        )


def facts_of(plan: Plan, index: int, sheet: GrowerSheet) -> list[tuple[str, str]]:
    """Return the line of facts: what is next, what stands on the shelves, how much is wanted."""
    facts = []
    if sheet.tasks:
        first = sheet.tasks[0]
        said = f"{first.task}, {first.day}: {first.jobs[0].crop}"
        if len(first.jobs) > 1:
            said = _("%(first)s and %(count)s more", first=said, count=len(first.jobs) - 1)
        facts.append((_("Next to do"), said))
    cells, trays = cells_on_shelves(plan, index, current_day())
    standing = _("nothing")
    if cells:
        standing = _(
            "%(cells)s in %(trays)s",
            cells=count_words(cells, "cell", "cells"),
            trays=count_words(trays, "tray", "trays"),
        )
    facts.append((_("On the shelves today"), standing))
    facts.append((_("In all"), sheet.sums))
    return facts


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}." if words else ""
