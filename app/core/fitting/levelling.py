"""Levelling: the plan of a garden made to fit its places."""

from app.core.cards import Garden
from app.core.fitting.answer import Answer, Choices, Extra, Goal, IsStopped, Phase, Progress, Reached, Report
from app.core.plan import make_plan
import numpy as np


def level(garden: Garden, *, today: int, seconds: float, report: Report, is_stopped: IsStopped) -> Answer:
    """Return a plan that fits, as good as can be found in a time.

    Args:
        garden: The garden; what is sown or in pinned trays stays as it is.
        today: Sowings that are not sown yet are not moved to a day before it. [day number]
        seconds: When to stop looking. [s]
        report: Is told how far it is.
        is_stopped: Asked now and again; once it says yes, the best so far is the answer.
    """
    raise NotImplementedError
