"""Why two sowings cannot share a tray."""

from enum import StrEnum

import numpy as np

from app.core.calendar import NO_DAY, week_number
from app.core.plan import Plan
from app.core.space.standing import speed_of


class Differs(StrEnum):
    """In what two sowings differ that would have to be alike."""

    CONTAINER = "container"
    DAY = "day"
    PLACE = "place"
    LIGHT = "light"
    SPEED = "speed"
    POTTING_ON = "potting on"
    LEAVING = "leaving"


def why_apart(plan: Plan, one: int, other: int, *, potted_on: bool) -> tuple[Differs, ...]:
    """Return in what two sowings differ that would have to be alike for them to share a tray.

    Args:
        plan: The plan.
        one: Index of a sowing.
        other: Index of another.
        potted_on: Whether it is trays of pots that they would share.
    """
    times, both = plan.timeline, [one, other]
    is_potted = times.pot_on[both] != NO_DAY
    if potted_on:
        alike = {
            Differs.CONTAINER: plan.pot_container[both],
            Differs.LIGHT: plan.light_place[both],
            Differs.DAY: week_number(times.pot_on[both]),
            Differs.LEAVING: week_number(times.harden[both]),
        }
    else:
        alike = {
            Differs.CONTAINER: plan.container[both],
            Differs.DAY: times.sow_on[both],
            Differs.PLACE: plan.first_place[both],
            Differs.LIGHT: plan.light_place[both],
            Differs.SPEED: speed_of(times.emerges[both] - times.sow_on[both]),
            Differs.POTTING_ON: is_potted,
            Differs.LEAVING: week_number(np.where(is_potted, times.pot_on[both], times.harden[both])),
        }
    return tuple(name for name, pair in alike.items() if pair[0] != pair[1])
