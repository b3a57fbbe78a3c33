"""Words about a week to be sent to people: a letter, and the same for messengers."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from operator import attrgetter

from app.core.calendar import DAYS_IN_WEEK, as_day
from app.core.folded import fold
from app.core.log.entries import KINDS
from app.core.plan import Plan
from app.core.work.week import Due, Task
from app.language import _, speaking
from app.services.mail import Letter
from app.sheets.feed import HEADS, OF_GARDEN, more_words, step_words
from app.sheets.log_words import KIND_WORDS, NOUNS
from app.sheets.names import name_words
from app.sheets.tasks import CELLS, UNITS_OF
from app.sheets.words import count_words, day_short, day_words, list_words, week_words
from app.storage.queries.feeds import RoundOfDay
from app.storage.queries.letters import Recipient

TAKE = "\N{BULLET} "


@dataclass(frozen=True, kw_only=True)
class Words:
    """A text to be copied.

    Attributes:
        key: What tells it from the others on its page.
        head: For whom or for what it is.
        text: The text.
        language: The language that it is in.
    """

    key: str
    head: str
    text: str
    language: str

    @property
    def lines(self) -> int:
        """Lines of the text. [1]"""
        return self.text.count("\n") + 1


def words_of_person(plan: Plan, grower: int, monday: date, work: Iterable[Due], rounds: Iterable[RoundOfDay]) -> str:
    """Return what a grower has to do in a week, day by day, and what waits from before; empty where there is nothing.

    Args:
        plan: The garden's plan.
        grower: Index of the grower.
        monday: First day of the week.
        work: Their work.
        rounds: Care rounds, of this week or others, of this grower or others.
    """
    first = as_day(monday)
    owner = plan.garden.growers[grower].id
    days: dict[date, list[str]] = {}
    before = []
    for one in work:
        if one.is_done:
            continue
        if first <= one.day < first + DAYS_IN_WEEK:
            days.setdefault(date.fromordinal(one.day), []).append(_task(plan, one))
        elif one.day < first and one.waited_days:
            since = day_short(date.fromordinal(one.day))
            before.append(_("%(task)s, since %(day)s", task=_task(plan, one), day=since))
    for one_round in rounds:
        if one_round.grower_id == owner and monday <= one_round.date < monday + timedelta(days=DAYS_IN_WEEK):
            note = f" ({one_round.note})" if one_round.note else ""
            days.setdefault(one_round.date, []).append(_("Your care round: water and air") + note)
    parts = [(day_words(day), days[day]) for day in sorted(days)]
    if before:
        parts.insert(0, (_("From before, not written down as done"), before))
    return "\n\n".join("\n".join([head, *(f"{TAKE}{line}" for line in lines)]) for head, lines in parts)


def words_of_people(
    plan: Plan,
    monday: date,
    work: Iterable[Due],
    rounds: Sequence[RoundOfDay],
    language_of: Callable[[int | None], str],
) -> list[Words]:
    """Return the words for each grower who has something to do in a week, by name, in the language in which they read.

    Args:
        plan: The garden's plan.
        monday: First day of the week.
        work: All work, by day and task.
        rounds: The care rounds.
        language_of: Tells the language of a grower by their id.
    """
    own: dict[int, list[Due]] = {}
    for due in work:
        own.setdefault(int(plan.garden.sowings.grower[due.sowing]), []).append(due)
    found = []
    for index, grower in enumerate(plan.garden.growers):
        with speaking(language_of(grower.id)):
            said = words_of_person(plan, index, monday, own.get(index, ()), rounds)
            hello = _(
                "Hello %(name)s, your week at %(garden)s, %(week)s:",
                name=grower.name,
                garden=plan.garden.settings.name,
                week=week_words(monday),
            )
        if said:
            found.append(
                Words(
                    key=f"person-{grower.id}",
                    head=grower.name,
                    text=f"{hello}\n\n{said}",
                    language=language_of(grower.id),
                )
            )
    return sorted(found, key=lambda words: words.head.casefold())


def words_of_rounds(
    plan: Plan, monday: date, rounds: Iterable[RoundOfDay], language_of: Callable[[int | None], str]
) -> list[Words]:
    """Return the words for each care round of a week, by day, in the language of whose it is."""
    found = []
    for one in rounds:
        if monday <= one.date < monday + timedelta(days=DAYS_IN_WEEK):
            with speaking(language_of(one.grower_id)):
                text = _(
                    "Hello %(name)s, %(day)s is your care round at %(garden)s: water what is dry and air the covers. "
                    "If you cannot come, please say so in time.",
                    name=one.grower,
                    day=day_words(one.date),
                    garden=plan.garden.settings.name,
                )
                if one.note:
                    text = " ".join((text, _("Note: %(note)s", note=one.note)))
            key = f"round-{one.date.isoformat()}"
            head = _("%(day)s: %(grower)s", day=day_words(one.date), grower=one.grower)
            found.append(Words(key=key, head=head, text=text, language=language_of(one.grower_id)))
    return found


def words_of_garden(plan: Plan, monday: date, work: Iterable[Due]) -> str:
    """Return what the garden does in a week, for a chat of all: how much of what, and whose it is.

    Args:
        plan: The garden's plan.
        monday: First day of the week.
        work: All work, by day and task.
    """
    first = as_day(monday)
    parts = []
    here = [due for due in work if not due.is_done and first <= due.day < first + DAYS_IN_WEEK]
    for day, dues in groupby(here, key=attrgetter("day")):
        lines = [day_words(date.fromordinal(day))]
        for task, same in groupby(dues, key=attrgetter("task")):
            found = list(same)
            lines.append(f"{TAKE}{_of_all(plan, task, found)}")
        parts.append("\n".join(lines))
    said = "\n\n".join(parts) or _("Nothing is due.")
    return f"{plan.garden.settings.name}, {week_words(monday)}\n\n{said}"


def words_since(plan: Plan, since: float) -> str:
    """Return what was written into the log since a moment: how much of what, and no names; empty for nothing.

    Args:
        plan: The garden's plan.
        since: The moment. [s since 1970]
    """
    log, crops = plan.garden.log, plan.garden.sowings.crop
    lines = []
    for number, kind in enumerate(KINDS):
        amounts: Counter[str] = Counter()
        for at in log.of(number).tolist():
            if log.made_at[at] > since:
                amounts[name_words(plan.garden.cards[crops[log.sowing[at]]].name)] += int(log.count[at])
        if amounts:
            counts = [
                f"{crop}, {count_words(count, *NOUNS[kind])}"
                for crop, count in sorted(amounts.items(), key=lambda one: fold(one[0]))
            ]
            lines.append(f"{TAKE}{_(KIND_WORDS[kind])}: {'; '.join(counts)}")
    return "\n".join(lines)


def make_letter(
    plan: Plan, who: Recipient, monday: date, work: Iterable[Due], rounds: Iterable[RoundOfDay], address: str | None
) -> Letter | None:
    """Return somebody's letter of a week; None where they have nothing to do in it.

    Args:
        plan: The garden's plan.
        who: Whose it is.
        monday: First day of the week.
        work: All work, theirs among it.
        rounds: Their care rounds.
        address: The program's address; None where none stays.
    """
    index = next((at for at, grower in enumerate(plan.garden.growers) if grower.id == who.grower_id), None)
    if index is None:
        return None
    own = [due for due in work if plan.garden.sowings.grower[due.sowing] == index]
    said = words_of_person(plan, index, monday, own, rounds)
    if not said:
        return None
    garden = plan.garden.settings.name
    page = None if address is None else f"{address}/account"
    week = week_words(monday)
    text = "\n".join(
        [
            _("Hello %(name)s,", name=who.name),
            "",
            _("your week at %(garden)s, %(week)s:", garden=garden, week=week),
            "",
            said,
            "",
            _("Dates can still move; the garden’s program (%(address)s) has them as they are now.", address=address)
            if address
            else _("Dates can still move; the garden’s program has them as they are now."),
            "",
            "-- ",  # what follows is a signature, as mail programs know it
            _(
                "%(garden)s sends this letter once a week, because you entered your address under My account "
                "(%(page)s). Empty the address there, and no more letters come.",
                garden=garden,
                page=page,
            )
            if page
            else _(
                "%(garden)s sends this letter once a week, because you entered your address under My account. Empty "
                "the address there, and no more letters come.",
                garden=garden,
            ),
            "",
        ]
    )
    return Letter(
        to=who.email,
        subject=_("Your week at %(garden)s: %(week)s", garden=garden, week=week),
        text=text,
        sender_name=garden,
        unsubscribe=page,
    )


def _task(plan: Plan, due: Due) -> str:
    more = more_words(plan, due)
    words = _("%(task)s: %(what)s", task=_(HEADS[due.task]), what=step_words(plan, due))
    return f"{words} ({more})" if more else words


def _of_all(plan: Plan, task: Task, dues: list[Due]) -> str:
    crops = dict.fromkeys(name_words(plan.garden.cards[plan.garden.sowings.crop[due.sowing]].name) for due in dues)
    total = count_words(sum(due.amount for due in dues), *UNITS_OF.get(task, CELLS))
    words = _("%(task)s: %(what)s", task=_(OF_GARDEN[task]), what=list_words(list(crops)))
    return f"{words} ({total})"
