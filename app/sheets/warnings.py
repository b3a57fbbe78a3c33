"""What is said beside a sowing whose plan wants attention, for pages, sheets and commands alike."""

from collections.abc import Callable
from datetime import date

from app.core.plan import Plan, Warned
from app.core.plants.season import Verdict
from app.core.words import PLACES
from app.sheets.words import day_words

_Say = Callable[[Plan, int], str]


def warnings_of(plan: Plan, sowing: int) -> list[str]:
    """Return the warnings of a sowing, each without a full stop.

    Args:
        plan: The plan.
        sowing: Index into the plan's sowings.
    """
    flags = Warned(int(plan.warned[sowing]))
    return [say(plan, sowing) for flag, say in _SAY.items() if flag in flags]


def _day(number: int) -> str:
    return day_words(date.fromordinal(int(number)))


def _too_long(plan: Plan, sowing: int) -> str:
    return f"{Verdict.TOO_LONG}: its last chance is {_day(plan.timeline.last_chance[sowing])}, before its window begins"


def _early_plant_out(plan: Plan, sowing: int) -> str:
    number = int(plan.timeline.plant_out[sowing])
    chance = plan.garden.frost.chance_on_or_after(date.fromordinal(number))
    return f"plants out early: the chance of a freeze on {_day(number)} or later is {chance:.0%}"


def _outside_window(plan: Plan, sowing: int) -> str:
    times = plan.timeline
    window = f"{_day(times.sow_from[sowing])} to {_day(times.sow_by[sowing])}"
    return f"the sowing day set lies outside its window, {window}"


def _lamp_crop(_plan: Plan, _sowing: int) -> str:
    return "a lamp crop planned for a window, where it grows thin and pale"


def _bench(words: str) -> _Say:
    def say(plan: Plan, sowing: int) -> str:
        place = PLACES[int(plan.first_place[sowing])]
        return f"{words} on the {place} shelves for this crop: its card's days to emergence are used"

    return say


_SAY: dict[Warned, _Say] = {
    Warned.TOO_LONG: _too_long,
    Warned.EARLY_PLANT_OUT: _early_plant_out,
    Warned.SET_DAY_OUTSIDE_WINDOW: _outside_window,
    Warned.LAMP_CROP_AT_WINDOW: _lamp_crop,
    Warned.BENCH_TOO_COLD: _bench("too cold"),
    Warned.BENCH_TOO_HOT: _bench("too hot"),
    Warned.NO_FIGURE_AT_BENCH: _bench("no published figure at the temperature"),
}
