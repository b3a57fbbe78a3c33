"""What is said beside a sowing whose plan wants attention, for pages, sheets and commands alike."""

from collections.abc import Callable
from datetime import date

from app.core.plan import Plan, Warned
from app.core.words import PLACES
from app.language import N_, _
from app.sheets.fixed_words import say
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
    last = _day(plan.timeline.last_chance[sowing])
    return _("too long here: its last chance is %(day)s, before its window begins", day=last)


def _early_plant_out(plan: Plan, sowing: int) -> str:
    number = int(plan.timeline.plant_out[sowing])
    chance = plan.garden.frost.chance_on_or_after(date.fromordinal(number))
    percent = f"{chance * 100:.0f}"
    return _(
        "plants out early: the chance of a freeze on %(day)s or later is %(percent)s%%",
        day=_day(number),
        percent=percent,
    )


def _outside_window(plan: Plan, sowing: int) -> str:
    first, last = _day(plan.timeline.sow_from[sowing]), _day(plan.timeline.sow_by[sowing])
    return _("the sowing day set lies outside its window, %(first)s to %(last)s", first=first, last=last)


def _lamp_crop(_plan: Plan, _sowing: int) -> str:
    return _("a lamp crop planned for a window, where it grows thin and pale")


def _bench(words: str) -> _Say:
    def tell(plan: Plan, sowing: int) -> str:
        return _(words, place=say(PLACES[int(plan.first_place[sowing])]))

    return tell


_SAY: dict[Warned, _Say] = {
    Warned.TOO_LONG: _too_long,
    Warned.EARLY_PLANT_OUT: _early_plant_out,
    Warned.SET_DAY_OUTSIDE_WINDOW: _outside_window,
    Warned.LAMP_CROP_AT_WINDOW: _lamp_crop,
    Warned.BENCH_TOO_COLD: _bench(
        N_("too cold on the %(place)s shelves for this crop: its card's days to emergence are used")
    ),
    Warned.BENCH_TOO_HOT: _bench(
        N_("too hot on the %(place)s shelves for this crop: its card's days to emergence are used")
    ),
    Warned.NO_FIGURE_AT_BENCH: _bench(
        N_(
            "no published figure at the temperature on the %(place)s shelves for this crop: its card's days to "
            "emergence are used"
        )
    ),
}
