"""Looking back on a small garden whose every figure is counted by hand beside it.

All four sowings are to be planted out on 19 June 2027, so they are foreseen to be sown on 1 May, to come up on 7 May
and to go out to harden on 12 June. What then happened is invented.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from app.core.calendar import as_day
from app.core.cards import GrowerCard
from app.core.dealing.placing import DealtStays
from app.core.log.entries import CAUSES, HANDED_OUT, HARDENED, LOST, NO_CAUSE, SOWN, UP
from app.core.plan import make_plan
from app.core.review.dates import STEPS, lateness
from app.core.review.season import look_back
from app.core.review.shares import ENDINGS, Ended
from app.core.space.dealt import Dealt
from app.core.words import HARDENING, HEAT, LAMP, WINDOW, Cause, Place
from app.core.work.spares import Given
from tests.core.log.test_logged import log_of
from tests.factories import card, container, garden, shelf, sowing

OUT = date(2027, 6, 19)
TODAY = date(2027, 8, 1)
# Sowing, kind, month, day, count, cause.
HAPPENED = (
    (0, SOWN, 5, 3, 12, None),
    (0, UP, 5, 9, 10, None),
    (0, HARDENED, 6, 12, 1, None),
    (0, LOST, 6, 15, 2, Cause.MICE),
    (0, HANDED_OUT, 6, 19, 8, None),
    (1, SOWN, 5, 1, 6, None),
    (1, LOST, 5, 8, 1, Cause.DAMPING_OFF),
    (1, UP, 5, 12, 5, None),
    (1, HARDENED, 6, 12, 1, None),
    (1, HANDED_OUT, 7, 3, 5, None),
    (3, SOWN, 5, 1, 4, None),
    (3, UP, 5, 7, 3, None),
    (3, LOST, 5, 20, 3, None),
)


def happened(entries=HAPPENED, season=2027):
    rows = [
        (number, sowing_, kind, as_day(date(season, month, day)), count, 0, 0, 0)
        for number, (sowing_, kind, month, day, count, _) in enumerate(entries, start=1)
    ]
    causes = [NO_CAUSE if entry[5] is None else CAUSES.index(entry[5]) for entry in entries]
    return replace(log_of(rows), cause=np.array(causes, dtype=np.int64))


def small(today=TODAY, entries=HAPPENED):
    """Return the review of the small garden; the third sowing was never sown."""
    wished = [
        sowing(grower=grower, plants=plants, plant_out=as_day(OUT))
        for grower, plants in ((0, 10), (1, 4), (1, 6), (0, 3))
    ]
    log = happened(entries)
    growers = (GrowerCard(id=1, name="Ines Moreau", plot="14"), GrowerCard(id=2, name="Bo Reed", plot="2"))
    made = garden(wished, growers=growers, log=log, today=as_day(today))
    return look_back(make_plan(made))


@pytest.fixture(scope="module")
def review():
    return small()


def test_foreseen_days_are_those_of_the_plan_without_a_log(review):
    foreseen = [[date.fromordinal(int(day)) for day in row[[0, 1, 3]]] for row in review.dates.foreseen]
    assert foreseen == [[date(2027, 5, 1), date(2027, 5, 7), OUT]] * 4


def test_steps_are_as_late_as_counted_by_hand(review):
    days, known = review.dates.late_days, review.dates.is_known
    late = {step: days[known[:, at], at].tolist() for at, step in enumerate(STEPS)}
    assert late == {"sown": [2, 0, 0], "came up": [2, 5, 0], "potted on": [], "handed out": [0, 14]}
    everything = review.shares.is_counted
    up = lateness(review.dates, 1, everything)
    assert (up.n, up.mean_days, up.median_days, up.earliest_days, up.latest_days) == (3, pytest.approx(7 / 3), 2, 0, 5)
    assert up.in_time == 2
    assert lateness(review.dates, 2, everything) is None


def test_losses_by_cause_place_and_week(review):
    losses = review.losses
    assert losses.by_cause() == {Cause.UNKNOWN: 3, Cause.MICE: 2, Cause.DAMPING_OFF: 1}
    # The cell of the second sowing was given up on the heat, where it was until it came up on 12 May.
    assert losses.by_place() == {Place.LAMP: 3, Place.HARDENING: 2, Place.HEAT: 1}
    weeks = {date.fromordinal(week * 7 + 1): lost for week, lost in losses.by_week().items()}
    assert weeks == {date(2027, 5, 3): 1, date(2027, 5, 17): 3, date(2027, 6, 14): 2}


def test_what_became_of_each_sowing(review):
    shares = review.shares
    assert [ENDINGS[at] for at in shares.ended] == [Ended.PART, Ended.WHOLE, Ended.TOO_LATE, Ended.FAILED]
    assert shares.is_late.tolist() == [False, True, False, False]
    assert review.is_over


def test_shares_count_no_sowing_for_more_than_was_wished_of_it(review):
    # 8 of 10 and 0 of 3; 5 for 4, which count as 4, and 0 of 6.
    assert review.shares.share(0) == pytest.approx(8 / 13)
    assert review.shares.share(1) == pytest.approx(4 / 10)
    assert review.shares.share(7) is None


def test_places_hold_what_was_sown_from_its_day_to_its_last(review):
    """Each of the three that were sown has a tray of its own; days are half-open.

    Heat: 3 to 9 May, 1 to 12 May, 1 to 7 May. Lamp: 9 May to 12 June, 12 May to 12 June, 7 to 20 May. Hardening: 12 to
    19 June, and 12 June to 3 July.
    """
    heat, lamp, window, hardening = review.used.places
    assert (heat.fullest, lamp.fullest, window.fullest, hardening.fullest) == (3, 3, 0, 2)
    assert heat.tray_weeks * 7 == pytest.approx(6 + 11 + 6)
    assert lamp.tray_weeks * 7 == pytest.approx(34 + 31 + 13)
    assert hardening.tray_weeks * 7 == pytest.approx(7 + 21)
    assert date.fromordinal(heat.fullest_week * 7 + 1) == date(2027, 5, 3)
    assert (heat.weeks, lamp.weeks, hardening.weeks) == (3, 6, 4)
    assert lamp.used_fraction == pytest.approx(78 / (8 * 6 * 7))
    assert heat.over_weeks == 0


def test_place_is_over_full_where_it_was(review):
    positions = tuple(shelf(place, positions=2 if place is Place.LAMP else 8) for place in Place)
    tight = look_back(make_plan(replace(review.plan.garden, shelves=positions)))
    # Three trays from 12 to 20 May: in the weeks of 10 and of 17 May.
    assert tight.used.places[LAMP].over_weeks == 2


def test_seed_of_a_crop_is_that_of_all_its_sowings(review):
    (crop,) = review.crops
    # The cell that damped off before anything was up says nothing of the seed.
    assert (crop.sowings, crop.tried, crop.up, crop.stated) == (3, 12 + 5 + 4, 10 + 5 + 3, 0.75)
    # 18 of 22 cells of two seeds: 1 - (1 - g)^2 = 18/22 gives g = 0.57, between which and 0.75 it lies.
    assert 0.57 < crop.known.mean < 0.75
    assert crop.known.low < crop.known.mean < crop.known.high


def test_in_the_middle_of_the_season_it_reaches_to_today():
    today = date(2027, 5, 10)
    review = small(today, [entry for entry in HAPPENED if date(2027, *entry[2:4]) <= today])
    assert not review.is_over
    # The third one's last chance has passed: 30 August less 74 days until all is picked and 42 indoors is 6 May.
    assert [ENDINGS[at] for at in review.shares.ended] == [Ended.GROWING, Ended.GROWING, Ended.TOO_LATE, Ended.GROWING]
    # The second, not yet come up by the log, shares a tray with the fourth: on the heat for 9 days, under lamps today.
    heat, lamp, _, hardening = review.used.places
    assert heat.tray_weeks * 7 == pytest.approx(6 + 9)
    assert lamp.tray_weeks * 7 == pytest.approx(2 + 1)
    assert hardening.fullest == 0
    assert review.used.ledger.weeks.stop == (as_day(today) - 1) // 7 + 1


def test_without_a_log_it_is_empty_and_nothing_stood_anywhere():
    review = small(entries=())
    assert review.is_empty
    assert sum(use.fullest for use in review.used.places) == 0
    assert review.losses.by_cause() == {}
    assert review.crops == ()


def test_what_was_sown_and_never_spoken_of_again_is_not_said():
    review = small(entries=HAPPENED[:2])
    assert ENDINGS[review.shares.ended[0]] is Ended.SILENT


def test_sowings_outside_have_no_share():
    outside = card(start_container=None, direct_sow_weeks=0.0, light=None, heat=False)
    review = look_back(make_plan(garden(cards=(outside,), today=as_day(TODAY))))
    assert not review.shares.is_counted.any()
    assert review.shares.share(0) is None


def test_garden_of_nothing_is_looked_back_on():
    review = look_back(make_plan(garden([], containers=(container(),), today=as_day(TODAY))))
    assert review.is_empty
    assert review.used.places[HEAT].used_fraction is None
    assert review.used.places[HARDENING].fullest_week is None


def test_spare_plants_leave_the_share_of_who_gave_and_fill_up_that_of_who_got(review):
    """Of the 8 that the first grower's sowing gave, 3 went to the second, who has 4 of 10 and lacks 6 of the crop."""
    given = (Given(sowing=0, grower=1, plants=3),)
    shares = look_back(review.plan, given=given).shares
    assert (shares.got.tolist(), shares.given.tolist()) == ([5, 5, 0, 0], [3, 0, 0, 0])
    assert shares.share(0) == pytest.approx(5 / 13)
    assert shares.share(1) == pytest.approx((4 + 3) / 10)
    assert (shares.spare_got(0), shares.spare_got(1)) == (0, 3)
    # What became of the sowing is the same: its plants were handed out.
    assert shares.ended.tolist() == review.shares.ended.tolist()


def test_more_spare_plants_than_are_missing_of_their_crop_do_not_count(review):
    given = (Given(sowing=1, grower=0, plants=5), Given(sowing=0, grower=-1, plants=1))
    shares = look_back(review.plan, given=given).shares
    # 7 of 10 and 0 of 3 of their own: 6 are missing, and 5 spare plants came.
    assert shares.share(0) == pytest.approx((7 + 5) / 13)
    assert shares.given.tolist() == [1, 5, 0, 0]


def stays_of(*rows):
    """Return stays given as tray, place, first day and the day after the last; each has a position of its own."""
    tray, place, begin, end = (np.array(column, dtype=np.int64) for column in zip(*rows, strict=True))
    nth = np.arange(1, len(rows) + 1)
    return DealtStays(
        tray=tray, place=place, shelf=np.zeros(len(rows), dtype=np.int64), level=nth, slot=nth,
        begin=begin, end=end, is_pinned=np.zeros(len(rows), dtype=bool),
    )  # fmt: skip


def test_a_loss_is_counted_where_its_tray_stood_and_not_where_the_plan_had_it(review):
    """By the plan 3 of the last sowing were lost under lamps on 20 May, and 2 of the first outside on 15 June."""
    made = review.plan.garden
    parts = {"part_tray": [0, 1, 1], "part_lot": [0, 3, 1], "part_cells": [12, 4, 6], "part_filled": [12, 4, 6]}
    trays = {"ids": [70, 71], "number": [1, 2], "container": [0, 0], "filled": [as_day(date(2027, 5, 1))] * 2}
    columns = {name: np.array(column, dtype=np.int64) for name, column in (parts | trays).items()}
    flags = {"is_potted_on": np.zeros(2, dtype=bool), "is_pinned": np.zeros(2, dtype=bool)}
    plan = replace(review.plan, garden=replace(made, dealt=Dealt(**columns, **flags)))

    def day(month, number):
        return as_day(date(2027, month, number))

    stays = stays_of(
        (0, HEAT, day(5, 1), day(5, 10)), (0, LAMP, day(5, 10), day(6, 20)),
        (1, WINDOW, day(5, 1), day(5, 20)),
    )  # fmt: skip
    losses = look_back(plan, stays).losses
    # The first tray was never carried out; of the second, 20 May is the day on which it left the window.
    assert losses.by_place() == {Place.WINDOW: 4, Place.LAMP: 2}
    waiting = replace(stays, shelf=np.full(3, -1))
    assert look_back(plan, waiting).losses.by_place() == review.losses.by_place()
