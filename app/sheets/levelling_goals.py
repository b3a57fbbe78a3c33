"""The goals of levelling in words: what each asks for, what is reached, what no plan can beat."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from app.core.fitting.answer import Goal, Phase, Reached
from app.sheets.words import NO_BREAK_SPACE, count_words, number_words, percent_words

NAMES = {
    Goal.SHARE: "Fair shares",
    Goal.PLANTS: "Plants placed",
    Goal.DAYS: "Near the best day",
    Goal.TRAYS: "Trays",
}
AIMS = {
    Goal.SHARE: "Whoever gets least of the plants wished for gets as much as can be.",
    Goal.PLANTS: "As many plants as can be; one of priority 1 counts as three of priority 3, one of 2 as two.",
    Goal.DAYS: "As few days as can be from each plant’s best sowing day.",
    Goal.TRAYS: "As few trays as can be.",
}
PHASES = {
    Phase.DATES: "Days and places that each sowing could take",
    Phase.SHARE: "Fair shares",
    Phase.PLANTS: "As many plants as can be",
    Phase.DAYS: "Near the best days",
    Phase.TRAYS: "Few trays",
    Phase.EXTRA: "What it would take for everything to fit",
    Phase.CHECK: "Every tray counted anew, day by day",
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
        return f"{number_words(self.placed)} of {number_words(self.wished)}"


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
        return "none, proven best"
    return f"under 0.1{NO_BREAK_SPACE}%" if gap < LEAST_GAP else percent_words(gap)


def _line(reached: Reached, plants: Placed | None) -> GoalLine:
    value, bound, words = _SAY[reached.goal](reached, plants)
    return GoalLine(
        goal=reached.goal,
        name=NAMES[reached.goal],
        aim=AIMS[reached.goal],
        value=value,
        bound=bound,
        gap=gap_words(reached.gap),
        words=words,
    )


def _share(reached: Reached, _plants: Placed | None) -> Said:
    value, bound = percent_words(reached.value), percent_words(reached.bound)
    if reached.value >= 1:
        return value, bound, "Every grower gets all the plants wished for."
    said = f"The grower who gets least gets {value} of the plants wished for; no plan can give"
    above = f"a little above {value}" if bound == value else bound
    return value, bound, f"{said} more." if _is_proven(reached) else f"{said} more than {above}."


def _plants(reached: Reached, plants: Placed | None) -> Said:
    value, bound = _whole(reached.value), _whole(reached.bound)
    if plants is not None and plants.placed == plants.wished:
        return value, bound, "Every plant wished for finds room."
    said = "" if plants is None else f"{plants.words} plants find room. "
    best = "no plan as fair has more" if _is_proven(reached) else f"no plan as fair has more than {bound}"
    return value, bound, f"{said}Counted by priority: {value}; {best}."


def _days(reached: Reached, plants: Placed | None) -> Said:
    value, bound = (count_words(round(days), "plant-day", "plant-days") for days in (reached.value, reached.bound))
    if not round(reached.value):
        return value, bound, "Every plant is sown on its best day."
    each = ""
    if plants is not None and plants.placed:
        each = f", {round(reached.value / plants.placed, 1):g} for a plant on average"
    best = "no such plan has fewer" if _is_proven(reached) else f"no such plan has fewer than {_whole(reached.bound)}"
    return value, bound, f"{value} from the best day{each}; {best}."


def _trays(reached: Reached, _plants: Placed | None) -> Said:
    value, bound = _whole(reached.value), _whole(reached.bound)
    trays = count_words(round(reached.value), "tray", "trays")
    best = "no such plan takes fewer" if _is_proven(reached) else f"no such plan takes fewer than {bound}"
    return value, bound, f"{trays}; {best}."


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
