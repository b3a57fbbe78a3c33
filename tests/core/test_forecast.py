"""What is foreseen beside a log: the same as a plain walk, sowing by sowing and day by day, by docs/method.md."""

from dataclasses import dataclass, fields
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.dates.timeline import Indoors, Timeline, indoor_timeline

NONE = 0
MARCH = date(2027, 3, 1).toordinal()


@dataclass
class Walk:
    """One sowing, walked through by the rules of sections 6 and 14; nothing of the program is called."""

    given: dict
    sowing_weekday: int
    hand_out_weekday: int
    today: int

    def on(self, day, weekday):
        """Return the first such weekday on or after a day."""
        while date.fromordinal(day).weekday() != weekday:
            day += 1
        return day

    def dates(self):
        """Return its dates as they are reckoned with, and whether it is too late."""
        of = self.given
        plant_out = of["own_plant_out"] or self.on(of["start"], self.hand_out_weekday)
        shortest, longest = (of[f"indoor_{end}_days"] + of["delay_days"] for end in ("min", "max"))
        last_chance = of["season_end"] - of["ripe_days"] - shortest
        sow_from, latest = plant_out - longest, plant_out - shortest
        sow_by, best = latest, sow_from + (latest - sow_from) // 2
        if last_chance >= sow_from:
            sow_by, best = min(sow_by, last_chance), min(best, last_chance)
        in_window = [d for d in range(sow_from, sow_by + 1) if date.fromordinal(d).weekday() == self.sowing_weekday]
        sow_on = min(in_window, key=lambda day: (abs(day - best), day), default=best)
        sow_on = of["own_sow_on"] or sow_on
        is_sown, too_late, waits = bool(of["sown_on"]), False, False
        if is_sown:
            sow_on = of["sown_on"]
        elif self.today and sow_on < self.today:
            waits, following = True, self.on(self.today, self.sowing_weekday)
            too_late = following > last_chance
            sow_on = sow_on if too_late else following
        if self.today and (is_sown or waits) and sow_on > latest:
            plant_out = max(plant_out, self.on(sow_on + shortest, self.hand_out_weekday))
        found = self.steps(sow_on, plant_out)
        window = {"sow_from": sow_from, "sow_best": best, "sow_by": sow_by, "last_chance": last_chance}
        return found | window | {"sow_on": sow_on}, too_late

    def steps(self, sow_on, plant_out):
        of = self.given
        emerges = self.come(sow_on + of["emerge_days"], of["up_on"])
        hardens = of["hardened_on"] or max(plant_out - of["hardening_days"], emerges)
        foreseen = emerges + of["pot_on_after_days"]
        is_potted = bool(of["potted_on"]) or (of["pot_on_after_days"] >= 0 and foreseen < hardens)
        found = {
            "emerges": emerges,
            "thin": emerges + 7 if of["is_thinned"] else NONE,
            "pot_on": self.come(foreseen, of["potted_on"]) if is_potted else NONE,
            "harden": self.come(hardens, of["hardened_on"]),
            "plant_out": self.come(plant_out, NONE),
        }
        over = of["over_on"]
        if over:
            found |= {name: min(found[name], over) for name in ("emerges", "harden")}
            found |= {"plant_out": over, "pot_on": NONE if found["pot_on"] > over else found["pot_on"]}
        return found

    def come(self, day, written):
        """Return a logged day, or else the foreseen one, for which a sown lot waits until today."""
        if written:
            return written
        while self.given["sown_on"] and day < self.today:
            day += 1
        return day


@st.composite
def lots(draw):
    days = st.integers(MARCH - 30, MARCH + 150)
    start = draw(days)
    least = draw(st.integers(0, 70))
    sown = draw(st.just(NONE) | days)
    after = st.just(NONE) if sown == NONE else st.just(NONE) | st.integers(sown, sown + 120)
    return {
        "start": start,
        "own_plant_out": draw(st.just(NONE) | days),
        "own_sow_on": draw(st.just(NONE) | days),
        "sown_on": sown,
        "up_on": draw(after),
        "potted_on": draw(after),
        "hardened_on": draw(after),
        "over_on": draw(after),
        "season_end": start + draw(st.integers(20, 200)),
        "ripe_days": draw(st.integers(10, 150)),
        "indoor_min_days": least,
        "indoor_max_days": least + draw(st.integers(0, 40)),
        "emerge_days": draw(st.integers(1, 30)),
        "delay_days": draw(st.integers(-5, 20)),
        "hardening_days": draw(st.integers(0, 20)),
        "pot_on_after_days": draw(st.integers(-1, 40)),
        "is_thinned": draw(st.booleans()),
    }


def indoors(rows):
    return Indoors(**{field.name: np.array([row[field.name] for row in rows]) for field in fields(Indoors)})


@given(
    rows=st.lists(lots(), min_size=1, max_size=4),
    weekdays=st.tuples(st.integers(0, 6), st.integers(0, 6)),
    today=st.just(NONE) | st.integers(MARCH - 40, MARCH + 250),
)
def test_every_date_is_what_a_walk_by_the_rules_gives(rows, weekdays, today):
    forecast = indoor_timeline(indoors(rows), *weekdays, today=today)
    for index, row in enumerate(rows):
        wanted, too_late = Walk(row, *weekdays, today).dates()
        found = {field.name: int(getattr(forecast.now, field.name)[index]) for field in fields(Timeline)}
        assert found == wanted
        assert bool(forecast.is_too_late[index]) is too_late


# The example of docs/method.md, section 14, worked out there apart from the program.
TOMATO = {
    "start": date(2027, 6, 13), "own_plant_out": NONE, "own_sow_on": NONE, "sown_on": date(2027, 5, 8), "up_on": NONE,
    "potted_on": NONE, "hardened_on": NONE, "over_on": NONE, "season_end": date(2027, 8, 30), "ripe_days": 69,
    "indoor_min_days": 35, "indoor_max_days": 49, "emerge_days": 8, "delay_days": 2, "hardening_days": 7,
    "pot_on_after_days": 14, "is_thinned": True,
}  # fmt: skip
SATURDAY = 5


@pytest.mark.parametrize(
    ("today", "log", "dates"),
    [
        ((5, 8), {}, {"emerges": (5, 16), "thin": (5, 23), "pot_on": (5, 30), "harden": (6, 12), "plant_out": (6, 19)}),
        ((5, 20), {}, {"emerges": (5, 20), "thin": (5, 27), "pot_on": (6, 3)}),
        ((5, 21), {"up_on": date(2027, 5, 18)}, {"thin": (5, 25), "pot_on": (6, 1), "plant_out": (6, 19)}),
        ((5, 15), {"sown_on": date(2027, 5, 15)}, {"plant_out": (6, 26)}),
        ((5, 10), {"sown_on": NONE}, {"sow_on": (5, 15), "plant_out": (6, 26)}),
        ((5, 16), {"sown_on": NONE}, {"sow_on": (5, 8), "last_chance": (5, 16)}),
    ],
)  # fmt: skip
def test_the_example_of_the_method_comes_out(today, log, dates):
    row = {name: value.toordinal() if isinstance(value, date) else value for name, value in (TOMATO | log).items()}
    forecast = indoor_timeline(indoors([row]), SATURDAY, SATURDAY, today=date(2027, *today).toordinal())
    found = {name: date.fromordinal(int(getattr(forecast.now, name)[0])) for name in dates}
    assert found == {name: date(2027, *day) for name, day in dates.items()}
    assert bool(forecast.is_too_late[0]) is (today == (5, 16))
