"""The goals of levelling in words: what each asks for, what is reached, what no plan can beat."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from app.core.fitting.answer import Goal, Phase, Reached
from app.language import N_, _
from app.sheets.words import count_words, figure_words, number_words, percent_words

NAMES = {
    Goal.SHARE: N_("Fair shares"),
    Goal.PLANTS: N_("Plants placed"),
    Goal.DAYS: N_("Near the best day"),
    Goal.TRAYS: N_("Trays"),
}
AIMS = {
    Goal.SHARE: N_("Whoever gets least of the plants wished for gets as much as can be."),
    Goal.PLANTS: N_("As many plants as can be; one of priority 1 counts as three of priority 3, one of 2 as two."),
    Goal.DAYS: N_("As few days as can be from each plant’s best sowing day."),
    Goal.TRAYS: N_("As few trays as can be."),
}
PHASES = {
    Phase.DATES: N_("Days and places that each sowing could take"),
    Phase.SHARE: N_("Fair shares"),
    Phase.PLANTS: N_("As many plants as can be"),
    Phase.DAYS: N_("Near the best days"),
    Phase.TRAYS: N_("Few trays"),
    Phase.EXTRA: N_("What it would take for everything to fit"),
    Phase.CHECK: N_("Every tray counted anew, day by day"),
}
PROVEN = 5e-7  # a gap that is nothing but the last digits of the computer's numbers
LEAST_GAP = 0.0005  # what rounds to 0.1 %


@dataclass(frozen=True, kw_only=True)
class GoalLine:
    """How far a goal is reached.

    Attributes:
        goal: Which goal.
        name: What it is called.
        aim: What it asks for.
        value: What the plan comes to.
        bound: What no plan can beat that holds the goals before.
        gap: How far the one is from the other.
        words: Both in a sentence.
    """

    goal: Goal
    name: str
    aim: str
    value: str
    bound: str
    gap: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Plants that find room, and plants wished for. [1]"""

    placed: int
    wished: int

    @property
    def words(self) -> str:
        """How many of how many."""
        return _("%(placed)s of %(wished)s", placed=number_words(self.placed), wished=number_words(self.wished))


Said = tuple[str, str, str]


def goal_lines(reached: Iterable[Reached], plants: Placed | None = None) -> tuple[GoalLine, ...]:
    """Return the goals in words.

    Args:
        reached: Those that have a value and a bound so far.
        plants: How many plants are placed, where that is known.
    """
    return tuple(_line(one, plants) for one in reached)


def gap_words(gap: float) -> str:
    """Return how far a value is from what cannot be beaten."""
    if gap < PROVEN:
        return _("none, proven best")
    return _("under %(chance)s", chance=percent_words(0.001)) if gap < LEAST_GAP else percent_words(gap)


def _line(reached: Reached, plants: Placed | None) -> GoalLine:
    value, bound, words = _SAY[reached.goal](reached, plants)
    return GoalLine(
        goal=reached.goal,
        name=_(NAMES[reached.goal]),
        aim=_(AIMS[reached.goal]),
        value=value,
        bound=bound,
        gap=gap_words(reached.gap),
        words=words,
    )


def _share(reached: Reached, _plants: Placed | None) -> Said:
    value, bound = percent_words(reached.value), percent_words(reached.bound)
    if reached.value >= 1:
        return value, bound, _("Every grower gets all the plants wished for.")
    if _is_proven(reached):
        said = _(
            "The grower who gets least gets %(value)s of the plants wished for; no plan can give more.", value=value
        )
    elif bound == value:
        said = _(
            "The grower who gets least gets %(value)s of the plants wished for; no plan can give more than a little "
            "above %(value)s.",
            value=value,
        )
    else:
        said = _(
            "The grower who gets least gets %(value)s of the plants wished for; no plan can give more than %(bound)s.",
            value=value,
            bound=bound,
        )
    return value, bound, said


def _plants(reached: Reached, plants: Placed | None) -> Said:
    value, bound = _whole(reached.value), _whole(reached.bound)
    if plants is not None and plants.placed == plants.wished:
        return value, bound, _("Every plant wished for finds room.")
    best = (
        _("Counted by priority: %(value)s; no plan as fair has more.", value=value)
        if _is_proven(reached)
        else _("Counted by priority: %(value)s; no plan as fair has more than %(bound)s.", value=value, bound=bound)
    )
    if plants is None:
        return value, bound, best
    placed = _("%(plants)s plants find room.", plants=plants.words)
    return value, bound, f"{placed} {best}"


def _days(reached: Reached, plants: Placed | None) -> Said:
    value, bound = (count_words(round(days), "plant-day", "plant-days") for days in (reached.value, reached.bound))
    if not round(reached.value):
        return value, bound, _("Every plant is sown on its best day.")
    off = _("%(days)s from the best day", days=value)
    if plants is not None and plants.placed:
        each = figure_words(round(reached.value / plants.placed, 1))
        off = _("%(days)s from the best day, %(each)s for a plant on average", days=value, each=each)
    if _is_proven(reached):
        return value, bound, _("%(days)s; no such plan has fewer.", days=off)
    return value, bound, _("%(days)s; no such plan has fewer than %(bound)s.", days=off, bound=_whole(reached.bound))


def _trays(reached: Reached, _plants: Placed | None) -> Said:
    value, bound = _whole(reached.value), _whole(reached.bound)
    trays = count_words(round(reached.value), "tray", "trays")
    if _is_proven(reached):
        return value, bound, _("%(trays)s; no such plan takes fewer.", trays=trays)
    return value, bound, _("%(trays)s; no such plan takes fewer than %(bound)s.", trays=trays, bound=bound)


_SAY: dict[Goal, Callable[[Reached, Placed | None], Said]] = {
    Goal.SHARE: _share,
    Goal.PLANTS: _plants,
    Goal.DAYS: _days,
    Goal.TRAYS: _trays,
}


def _is_proven(reached: Reached) -> bool:
    return reached.gap < PROVEN


def _whole(value: float) -> str:
    return number_words(round(value))
