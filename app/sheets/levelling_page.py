"""An answer of levelling on its page: what it comes to, what changes and why, who is left out, who gets how much."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date

from app.core.fitting.answer import Answer, Extra, Goal, Reached, Stuck
from app.core.fitting.explain import Explained, GrowerShare, LeftOut
from app.core.folded import fold
from app.core.plan import Plan
from app.core.words import PLACES
from app.language import _, ngettext
from app.services.levelling import ChangeRow
from app.sheets.ledger_compare import LedgerCompare, compare_ledgers
from app.sheets.levelling_changes import ChangedSowing, ChangeGroup, groups_of_changes
from app.sheets.levelling_goals import GoalLine, Placed, goal_lines
from app.sheets.levelling_runs import ON_SHELVES
from app.sheets.levelling_words import alternative_words, left_out_words
from app.sheets.names import name_words
from app.sheets.tray_words import PLACE_WORDS
from app.sheets.words import count_words, day_words, list_words, number_words, percent_words


@dataclass(frozen=True, kw_only=True)
class LeftOutGroup:
    """Sowings of a crop that do not find room for all their plants: which place is full, and what else would do."""

    crop: str
    full: str
    alternative: str
    sowings: tuple[ChangedSowing, ...]


@dataclass(frozen=True, kw_only=True)
class ShareLine:
    """What a grower gets of the plants that need room on the shelves."""

    grower_id: int
    grower: str
    wanted: int
    before: int
    after: int
    share: str
    bar_width: float


@dataclass(frozen=True, kw_only=True)
class ExtraLine:
    """How many positions more a place would need, and its name as it stands in addresses. [1]"""

    place: str
    words: str
    positions: int


@dataclass(frozen=True, kw_only=True)
class CompareLine:
    """What the best plan comes to without a shelf more and with it."""

    name: str
    without: str
    with_it: str


@dataclass(frozen=True, kw_only=True)
class AnswerPage:
    """An answer in words.

    Attributes:
        facts: The line of facts under the heading.
        goals: The goals, and how far they are reached.
        changes: What changes, sowings that change alike together.
        moved: Sowings that change. [1]
        left_out: What does not find room.
        without: Sowings that do not get room for all their plants. [1]
        less: Growers who get less than they wished for, those who get least first.
        all: Growers who get all.
        ledgers: The ledger before and after.
        placed: Plants that find room, of those wished for.
        had_room: Plants that were given room before. [1]
        stuck: In sentences, what is over-full by what is sown or pinned alone.
        extra: What it would take for everything to fit, in a sentence; empty where that is not known.
        extras: The same, place by place; empty where nothing is needed.
    """

    facts: tuple[tuple[str, str], ...]
    goals: tuple[GoalLine, ...]
    changes: tuple[ChangeGroup, ...]
    moved: int
    left_out: tuple[LeftOutGroup, ...]
    without: int
    less: tuple[ShareLine, ...]
    all: tuple[ShareLine, ...]
    ledgers: LedgerCompare
    placed: Placed
    had_room: int
    stuck: tuple[str, ...] = field(default=())
    extra: str = ""
    extras: tuple[ExtraLine, ...] = field(default=())


def make_answer_page(answer: Answer, explained: Explained) -> AnswerPage:
    """Return an answer and its explanation in words."""
    plan = answer.before
    shares = sorted(explained.shares, key=lambda share: (share.share[1], share.grower))
    placed = Placed(
        placed=sum(share.placed[1] for share in shares),
        wished=sum(share.wanted for share in shares),
    )
    return AnswerPage(
        facts=tuple(_facts(explained, placed, shares)),
        goals=goal_lines(answer.reached, placed),
        changes=groups_of_changes(plan, explained.changes),
        moved=len(explained.changes),
        left_out=_left_out(plan, explained.left_out),
        without=len(explained.left_out),
        less=tuple(_share_line(plan, share) for share in shares if share.placed[1] < share.wanted),
        all=tuple(_share_line(plan, share) for share in shares if share.placed[1] >= share.wanted),
        ledgers=compare_ledgers(explained.before, explained.after),
        placed=placed,
        had_room=sum(share.placed[0] for share in shares),
        stuck=tuple(_stuck_words(answer.stuck)),
        extra=_extra_words(answer.extra),
        extras=tuple(_extra_lines(answer.extra)),
    )


def compare_shelf(
    reached: Iterable[Reached], changes: Iterable[ChangeRow], said: AnswerPage
) -> tuple[CompareLine, ...]:
    """Return what a shelf more would bring.

    Args:
        reached: The goals of the best plan without it.
        changes: What that plan changes.
        said: The plan with it.
    """
    gained = sum(row.plants_after - row.plants_before for row in changes)
    plants = Placed(placed=said.had_room + gained, wished=said.placed.wished).words, said.placed.words
    lines = []
    for one, other in zip(goal_lines(reached), said.goals, strict=False):
        values = plants if one.goal is Goal.PLANTS else (one.value, other.value)
        lines.append(CompareLine(name=one.name, without=values[0], with_it=values[1]))
    return tuple(lines)


def _left_out(plan: Plan, left_out: Iterable[LeftOut]) -> tuple[LeftOutGroup, ...]:
    garden, sowings = plan.garden, plan.garden.sowings
    groups: dict[tuple[str, str, str], list[ChangedSowing]] = {}
    for one in left_out:
        grower = garden.growers[sowings.grower[one.sowing]]
        alike = (
            name_words(garden.cards[sowings.crop[one.sowing]].name),
            left_out_words(one),
            alternative_words(one.alternative, plan),
        )
        wanted = count_words(one.wanted, "plant", "plants")
        placed = (
            _("%(placed)s of %(plants)s", placed=number_words(one.placed), plants=wanted)
            if one.placed
            else _("none of %(plants)s", plants=wanted)
        )
        sowing = ChangedSowing(
            id=int(sowings.ids[one.sowing]),
            name=sowings.names[one.sowing],
            grower_id=grower.id,
            grower=grower.name,
            plants=placed,
        )
        groups.setdefault(alike, []).append(sowing)
    return tuple(
        LeftOutGroup(
            crop=crop,
            full=_capital(full),
            alternative=_capital(alternative),
            sowings=tuple(sorted(found, key=lambda sowing: (sowing.grower, sowing.name))),
        )
        for (crop, full, alternative), found in sorted(groups.items(), key=lambda group: (fold(group[0][0]), group[0]))
    )


def _share_line(plan: Plan, share: GrowerShare) -> ShareLine:
    grower = plan.garden.growers[share.grower]
    return ShareLine(
        grower_id=grower.id,
        grower=grower.name,
        wanted=share.wanted,
        before=share.placed[0],
        after=share.placed[1],
        share=percent_words(share.share[1]),
        bar_width=round(100 * min(share.share[1], 1.0), 1),
    )


def _facts(explained: Explained, placed: Placed, shares: list[GrowerShare]) -> Iterator[tuple[str, str]]:
    yield _("Plants placed"), placed.words
    if shares:
        yield _("Smallest share"), percent_words(shares[0].share[1])
    moved = sum(change.day[0] != change.day[1] or change.light[0] != change.light[1] for change in explained.changes)
    yield _("Moved"), count_words(moved, "sowing", "sowings") if moved else _("no sowing")
    whole = sum(not one.placed for one in explained.left_out)
    part = len(explained.left_out) - whole
    said = (
        ngettext("%(num)s whole", "%(num)s whole", whole, num=number_words(whole)) if whole else "",
        ngettext("%(num)s in part", "%(num)s in part", part, num=number_words(part)) if part else "",
    )
    yield _("Left out"), ", ".join(filter(None, said)) or _("no sowing")
    over = [int((ledger.free < 0).any(axis=1).sum()) for ledger in (explained.before, explained.after)]
    after = count_words(over[1], "week", "weeks") if over[1] else _("no week")
    if over[0]:
        after = _("%(weeks)s, before %(before)s", weeks=after, before=number_words(over[0]))
    yield _("Over-full"), after


def _stuck_words(stuck: Iterable[Stuck]) -> Iterator[str]:
    for one in stuck:
        place, trays = _(PLACE_WORDS[PLACES[one.place]]).capitalize(), count_words(one.over, "tray", "trays")
        first, last = (day_words(date.fromordinal(day)) for day in (one.first, one.last))
        if first == last:
            yield _("%(place)s: %(trays)s too many on %(day)s.", place=place, trays=trays, day=first)
        else:
            yield _(
                "%(place)s: %(trays)s too many from %(first)s to %(last)s.",
                place=place,
                trays=trays,
                first=first,
                last=last,
            )


def _extra_words(extra: Extra | None) -> str:
    if extra is None:
        return ""
    total = sum(extra.positions)
    if not total:
        return _("Nothing more: everything fits as it is.")
    said = list_words(
        [
            f"{count_words(line.positions, 'more position', 'more positions')} {line.words}"
            for line in _extra_lines(extra)
        ]
    )
    if extra.bound >= total:
        return _("With %(room)s, every sowing would find room with all its plants; no fewer would do.", room=said)
    return _(
        "With %(room)s, every sowing would find room with all its plants; fewer than %(bound)s would not do.",
        room=said,
        bound=number_words(extra.bound),
    )


def _extra_lines(extra: Extra | None) -> Iterator[ExtraLine]:
    for place, positions in zip(PLACES, extra.positions if extra else (), strict=False):
        if positions:
            yield ExtraLine(place=place.value, words=_(ON_SHELVES[place.value]), positions=int(positions))


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"
