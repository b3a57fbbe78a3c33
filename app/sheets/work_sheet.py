"""The list of a week's work on paper: what is open, by day or along the shelves, with boxes to tick."""

from dataclasses import dataclass, replace

from app.core.calendar import iso_week
from app.core.plan import Plan
from app.language import _, ngettext
from app.sheets.cautions import MIX_DUST, Caution
from app.sheets.fixed_words import say
from app.sheets.logged import basis_words, logged_until
from app.sheets.tasks import HANDLES_MIX, Section, WeekOfTasks, sections_by_day, sections_by_shelf
from app.sheets.words import day_year, number_words, week_words
from app.sheets.words import iso_week as week_number_words

BLANK_LINES = 4


@dataclass(frozen=True, kw_only=True)
class LineOfWork:
    """One task of one sowing on paper.

    Attributes:
        task: What is to be done, where the head does not say it.
        who: The grower.
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        amount: How much, and what else belongs to it.
        where: Container, place, trays and their positions.
        due: Since when it is due, where the head does not say it.
        is_not_confirmed: Whether it was due a week ago or more.
    """

    task: str
    who: str
    crop: str
    variety: str
    amount: str
    where: str
    due: str
    is_not_confirmed: bool


@dataclass(frozen=True, kw_only=True)
class GroupOfWork:
    """Lines under a head."""

    head: str
    sub: str
    lines: tuple[LineOfWork, ...]


@dataclass(frozen=True, kw_only=True)
class PartOfWork:
    """A day, a level of a shelf, or what is overdue."""

    head: str
    groups: tuple[GroupOfWork, ...]


@dataclass(frozen=True, kw_only=True)
class WorkSheet:
    """The list of a week's open work.

    Attributes:
        garden: Name of the garden.
        week: The days of the week, as `5 – 11 Apr`.
        number: The ISO week after them, as `W14`.
        iso: The same with its year, as `2027-W14`.
        grower: Whose tasks alone are listed; empty for everybody's.
        sums: How many tasks are open and how many done.
        printed: The day it was made, in words.
        basis: What the sheet goes by, in a sentence.
        parts: What is open.
        cautions: What to mind.
        blank_lines: Empty rows at the end. [1]
    """

    garden: str
    week: str
    number: str
    iso: str
    grower: str
    sums: str
    printed: str
    basis: str
    parts: tuple[PartOfWork, ...]
    cautions: tuple[Caution, ...]
    blank_lines: int = BLANK_LINES


def make_work_sheet(plan: Plan, week: WeekOfTasks, *, grower: str, by_shelf: bool, is_timed: bool = True) -> WorkSheet:
    """Return the list of a week's open work.

    Args:
        plan: The garden's plan.
        week: The tasks.
        grower: Whose tasks alone they are; empty for everybody's.
        by_shelf: Whether they stand in the order of a walk along the shelves, and not by day.
        is_timed: Whether the time of the last entry of the log is said, and not only its day.
    """
    done = sum(one.is_done for one in week.due)
    undone = replace(week, due=tuple(one for one in week.due if not one.is_done))
    sections = (sections_by_shelf if by_shelf else sections_by_day)(plan, undone)
    sums = ngettext("%(num)s task open", "%(num)s tasks open", len(undone.all), num=number_words(len(undone.all)))
    return WorkSheet(
        garden=plan.garden.settings.name,
        week=week_words(week.monday),
        number=week_number_words(week.monday),
        iso=iso_week(week.monday),
        grower=grower,
        sums=_("%(open)s, %(done)s done", open=sums, done=done) if done else sums,
        printed=day_year(week.today),
        basis=basis_words(week.today, logged_until(plan, is_timed=is_timed)),
        parts=tuple(_part(section, by_shelf=by_shelf) for section in sections),
        cautions=(MIX_DUST.said,) if any(one.task in HANDLES_MIX for one in undone.all) else (),
    )


def _part(section: Section, *, by_shelf: bool) -> PartOfWork:
    return PartOfWork(
        head=section.head,
        groups=tuple(
            GroupOfWork(
                head=group.head,
                sub=group.sub if group.task else "",
                lines=tuple(
                    LineOfWork(
                        task="" if group.task else say(row.task).capitalize(),
                        who=row.grower,
                        crop=row.crop,
                        variety=row.variety,
                        amount=f"{row.amount}, {row.more}" if row.more else row.amount,
                        where=", ".join(filter(None, (row.container, row.place)))
                        + (f" – {row.trays}" if row.trays else ""),
                        due=_("since %(day)s", day=row.day) if row.is_waiting else row.day if by_shelf else "",
                        is_not_confirmed=row.is_not_confirmed,
                    )
                    for row in group.rows
                ),
            )
            for group in section.groups
        ),
    )
