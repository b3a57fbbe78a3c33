"""A search that does as it is told, in place of the real one: where only its running and its answer's way count.

It stands in for `level` in this process, or with `PYTHONPATH` set to the folder of `install` in processes that are
started.
"""

import time
from dataclasses import replace

import numpy as np

from app.core.fitting.answer import Answer, Choices, Extra, Goal, Phase, Progress, Reached, Stuck
from app.core.plan import make_plan

REACHED = (
    Reached(goal=Goal.SHARE, value=0.5, bound=0.75),
    Reached(goal=Goal.PLANTS, value=24.0, bound=24.0),
    Reached(goal=Goal.DAYS, value=42.0, bound=40.0),
    Reached(goal=Goal.TRAYS, value=2.0, bound=2.0),
)
STUCK = Stuck(place=1, first=738000, last=738003, over=2)
INSTALLED = """
import app.core.fitting.levelling as levelling
import tests.levelling as double
levelling.level = double.{name}
"""


def choices_of(garden):
    """Leave everything as it is."""
    now = garden.sowings
    return Choices(sow_on=now.sow_on, light=now.light, placed=now.placed)


def a_week_later(garden, *, seconds, report, is_stopped):
    """Sow every sowing a week after its best day, and place one plant fewer of the first one."""
    plan = make_plan(garden)
    report(Progress(phase=Phase.DAYS, reached=REACHED[:2]))
    later = np.where(plan.light_place >= 0, plan.timeline.sow_best + 7, garden.sowings.sow_on)
    placed = garden.sowings.placed.copy()
    placed[:1] = garden.sowings.plants[:1] - 1
    choices = Choices(sow_on=later, light=garden.sowings.light, placed=placed)
    extra = Extra(positions=(0, 3, 0, 1), bound=4, choices=replace(choices, placed=garden.sowings.placed))
    return Answer(garden=garden, choices=choices, reached=REACHED, extra=extra, stuck=(STUCK,), is_stopped=is_stopped())


def until_stopped(garden, *, seconds, report, is_stopped):
    """Look until somebody says stop, or for a minute, then give the same answer."""
    end = time.monotonic() + 60
    while not is_stopped() and time.monotonic() < end:
        report(Progress(phase=Phase.PLANTS, reached=REACHED[:1]))
        time.sleep(0.02)
    return a_week_later(garden, seconds=seconds, report=report, is_stopped=is_stopped)


def never_ends(garden, *, seconds, report, is_stopped):
    """Look on, whatever anybody says."""
    while True:
        time.sleep(0.02)


def breaks_off(garden, *, seconds, report, is_stopped):
    """End in an error that nobody foresaw."""
    raise ZeroDivisionError


def install(folder, name):
    """Make every Python that has a folder on its path take a function of this module for `level`; return the folder."""
    folder.mkdir(exist_ok=True)
    (folder / "sitecustomize.py").write_text(INSTALLED.format(name=name))
    return folder
