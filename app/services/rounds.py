"""Care rounds: sharing them out, handing them on, and writing down that they were done."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import as_day
from app.core.words import Weekday
from app.core.work.rounds import NOBODY, days_of_rounds, quotas_of, share_rounds, shelves_to_water, tray_days
from app.services.plan import get_plan
from app.storage.history import note_history
from app.storage.queries.growers import get_grower
from app.storage.queries.rounds import (
    Coming,
    RoundRow,
    get_round,
    list_coming,
    list_rounds,
    remove_rounds,
    store_rounds,
)
from app.storage.queries.version import get_mark, hold_writes

if TYPE_CHECKING:
    from collections.abc import Collection

    from app.core.plan import Plan
    from app.storage import Session
    from app.storage.models import CareRound

Ints = NDArray[np.int64]

BY_HAND_DAYS = 1  # how long a shelf without pans can wait, unless told otherwise
MOST_BY_HAND_DAYS = 7
EARLY = timedelta(days=7)  # a round is done so long before its day at the earliest


class StaleRoundsError(Exception):
    """Something has changed since the rounds were shown."""


class RoundDoneError(Exception):
    """The round is done, so that it is nobody's to hand on."""


class RoundOverError(Exception):
    """The day of the round is over."""


class NotOfferedError(Exception):
    """The round is somebody's who does not ask to be relieved of it."""


class RoundDayError(Exception):
    """A round was not done on this day: it has not come yet, or lies long before the round."""


@dataclass(frozen=True, kw_only=True)
class SharedRound:
    """A round as it would be shared out.

    Attributes:
        day: Its day.
        grower_id: Whose it would be; None where nobody can come.
        grower: Their name; None likewise.
        before: Whose it is now by name; None for nobody's.
        is_new: There is none on this day so far.
        is_kept: It stays whatever happens: it was handed over by hand, or is done.
    """

    day: date
    grower_id: int | None
    grower: str | None
    before: str | None
    is_new: bool
    is_kept: bool

    @property
    def is_other(self) -> bool:
        """Whether sharing out changes it."""
        return self.is_new or self.grower != self.before


@dataclass(frozen=True, kw_only=True)
class Part:
    """What falls to one grower.

    Attributes:
        grower_id: The grower.
        name: Their name.
        days: The weekdays they can come, separated by spaces; None for any.
        tray_days: Days of their trays on the shelves. [tray d]
        quota: Their part of the season's rounds, not whole. [1]
        done: Rounds that they have done already, or keep. [1]
        rounds: Their rounds in all. [1]
    """

    grower_id: int
    name: str
    days: str | None
    tray_days: float
    quota: float
    done: int
    rounds: int


@dataclass(frozen=True, kw_only=True)
class SharedOut:
    """Rounds as they would be shared out.

    Attributes:
        rounds: From today on, by day.
        parts: What falls to whom, by name.
        gone: Days on which a round is not needed any more.
        mark: The mark of the data that it is made from.
    """

    rounds: tuple[SharedRound, ...]
    parts: tuple[Part, ...]
    gone: tuple[date, ...]
    mark: str

    @property
    def is_other(self) -> bool:
        """Whether anything would change."""
        return bool(self.gone) or any(one.is_other for one in self.rounds)


def propose_rounds(
    session: "Session", *, today: date, by_hand_days: int = BY_HAND_DAYS, without: "Collection[int]" = ()
) -> SharedOut:
    """Return how the rounds from today on would be shared out among those with trays on the shelves.

    Rounds that are done stay, and those that were handed over by hand; whoever offered theirs can't come on that day.

    Args:
        session: Where the garden is.
        today: The first day that is shared out.
        by_hand_days: How long a shelf without pans can wait. [d, 1 to 7]
        without: Ids of growers who take no part.
    """
    return _Sharing(session, today, by_hand_days, without).answer()


def share_out_rounds(
    session: "Session", *, today: date, by_hand_days: int, without: "Collection[int]", mark: str
) -> SharedOut:
    """Store the rounds as they were shown; arguments as `propose_rounds`.

    Raises:
        StaleRoundsError: The data is not what was shown.
    """
    hold_writes(session)
    if mark != get_mark(session):
        raise StaleRoundsError
    shared = propose_rounds(session, today=today, by_hand_days=by_hand_days, without=without)
    there = {row.day: row for row in list_rounds(session)}
    if shared.gone:
        remove_rounds(session, [there[day].id for day in shared.gone])
    changed = [one for one in shared.rounds if one.is_other or (not one.is_kept and there[one.day].is_offered)]
    store_rounds(
        session,
        [(one.day, one.grower_id) for one in changed if one.is_new],
        [(there[one.day].id, one.grower_id) for one in changed if not one.is_new],
    )
    if changed or shared.gone:
        days = [one.day for one in changed] + list(shared.gone)
        subject = f"{min(days).isoformat()} – {max(days).isoformat()}"
        note_history(session, "care round", "shared out", subject=subject, changes=[("rounds", None, len(days))])
    session.flush()
    return shared


def offer_round(session: "Session", round_id: int, *, today: date, offered: bool) -> "CareRound":
    """Ask for somebody to take over a round, or let that be.

    Raises:
        NotFoundError: There is no such round.
        RoundDoneError: It is done.
        RoundOverError: Its day is over.
    """
    hold_writes(session)
    one = _open_round(session, round_id, today)
    one.is_offered = offered
    session.flush()
    return one


def take_round(session: "Session", round_id: int, grower_id: int, *, today: date) -> "CareRound":
    """Take over a round that somebody offers, or that is nobody's.

    Raises:
        NotFoundError: There is no such round or grower.
        NotOfferedError: It is somebody else's, who does not offer it.
        RoundDoneError: It is done.
        RoundOverError: Its day is over.
    """
    hold_writes(session)
    one = _open_round(session, round_id, today)
    if one.grower_id is not None and not one.is_offered:
        raise NotOfferedError
    _give(session, one, grower_id)
    return one


def give_round(session: "Session", round_id: int, grower_id: int, *, today: date) -> "CareRound":
    """Give a round to somebody by hand.

    Raises:
        NotFoundError: There is no such round or grower.
        RoundDoneError: It is done.
        RoundOverError: Its day is over.
    """
    hold_writes(session)
    one = _open_round(session, round_id, today)
    _give(session, one, grower_id)
    return one


def swap_rounds(session: "Session", round_id: int, other_id: int, *, today: date) -> tuple["CareRound", "CareRound"]:
    """Let two exchange their rounds.

    Raises:
        NotFoundError: One of them is not there.
        RoundDoneError: One of them is done.
        RoundOverError: The day of one is over.
    """
    hold_writes(session)
    one, other = _open_round(session, round_id, today), _open_round(session, other_id, today)
    one.grower_id, other.grower_id = other.grower_id, one.grower_id
    for each in (one, other):
        each.is_offered, each.is_swapped = False, each.grower_id is not None
    session.flush()
    return one, other


def finish_round(
    session: "Session", round_id: int, *, done_on: date, done_by_id: int | None, note: str | None, today: date
) -> "CareRound":
    """Write down that a round was done.

    Args:
        session: Its transaction takes it.
        round_id: Which round.
        done_on: On which day.
        done_by_id: Who did it; None where that is nobody's concern.
        note: What was noticed.
        today: The latest day that can be given.

    Raises:
        NotFoundError: There is no such round or grower.
        RoundDayError: The day has not come yet, or lies more than a week before that of the round.
    """
    hold_writes(session)
    one = get_round(session, round_id)
    if not one.date - EARLY <= done_on <= today:
        raise RoundDayError
    if done_by_id is not None:
        get_grower(session, done_by_id)
    one.done_on, one.done_by_id, one.note, one.is_offered = done_on, done_by_id, note, False
    session.flush()
    return one


def reopen_round(session: "Session", round_id: int) -> "CareRound":
    """Take back that a round was done; the note stays. Raises NotFoundError."""
    hold_writes(session)
    one = get_round(session, round_id)
    one.done_on = one.done_by_id = None
    session.flush()
    return one


def can_come(who: Coming, day: date) -> bool:
    """Return whether a grower can come on a day: on all, where they have named none."""
    return not who.days or list(Weekday)[day.weekday()].value in who.days.split()


def _open_round(session: "Session", round_id: int, today: date) -> "CareRound":
    one = get_round(session, round_id)
    if one.done_on is not None:
        raise RoundDoneError
    if one.date < today:
        raise RoundOverError
    return one


def _give(session: "Session", one: "CareRound", grower_id: int) -> None:
    get_grower(session, grower_id)
    one.grower_id, one.is_offered, one.is_swapped = grower_id, False, True
    session.flush()


class _Sharing:
    """One sharing out: the days, who may have them, and what stays."""

    def __init__(self, session: "Session", today: date, by_hand_days: int, without: "Collection[int]") -> None:
        self._today, self._mark = today, get_mark(session)
        self._plan = get_plan(session)
        self._there = list_rounds(session)
        self._shelves = shelves_to_water(self._plan, by_hand_days=by_hand_days)
        weight_of = self._weights(self._plan)
        self._members = [
            one for one in list_coming(session) if weight_of.get(one.id, 0) > 0 and one.id not in set(without)
        ]
        self._weights_of_members = np.array([weight_of[one.id] for one in self._members])

    def answer(self) -> SharedOut:
        ahead = {row.day: row for row in self._there if row.day >= self._today}
        kept = {day: row for day, row in ahead.items() if _stays(row)}
        days = [day for day in self._days(kept) if day not in kept]
        can = np.array(
            [[can_come(one, day) and not _offers(ahead.get(day), one) for one in self._members] for day in days],
            dtype=np.bool_,
        ).reshape(len(days), len(self._members))
        index = {one.id: at for at, one in enumerate(self._members)}
        done = self._done(index, kept)
        has = (ahead[day].grower_id if day in ahead else None for day in days)
        before = np.array([index.get(who or 0, NOBODY) for who in has], dtype=np.int64)
        owner = share_rounds(self._weights_of_members, can, done=done, before=before)
        found = [self._shared(day, at, ahead.get(day)) for day, at in zip(days, owner.tolist(), strict=True)]
        found += [_kept(row) for row in kept.values()]
        return SharedOut(
            rounds=tuple(sorted(found, key=lambda one: one.day)),
            parts=tuple(self._parts(done, owner)),
            gone=tuple(day for day in ahead if day not in kept and day not in set(days)),
            mark=self._mark,
        )

    def _weights(self, plan: "Plan") -> dict[int, float]:
        growers = plan.garden.growers
        return {card.id: days for card, days in zip(growers, tray_days(plan).tolist(), strict=True)}

    def _days(self, kept: dict[date, RoundRow]) -> list[date]:
        """Return the days from today on that need a round, besides those that stay."""
        first, n_days = self._shelves.first, self._shelves.used.shape[1]
        start = max(0, as_day(self._today) - first)
        all_days = [date.fromordinal(first + at) for at in range(n_days)]
        is_coming = np.array([any(can_come(one, day) for one in self._members) for day in all_days], dtype=np.bool_)
        fixed = {as_day(day) - first for day in kept}
        past = [as_day(row.day) - first for row in self._there if row.day < self._today and row.done_on is not None]
        last = max((at for at in past if 0 <= at < min(start, n_days)), default=None)
        found = days_of_rounds(
            self._shelves, is_coming, start=start, last=last, fixed=[at for at in fixed if start <= at < n_days]
        )
        return [all_days[at] for at in found]

    def _done(self, index: dict[int, int], kept: dict[date, RoundRow]) -> Ints:
        """Return the rounds that each has done already, or keeps. Shape (n_members,). [1]"""
        done = np.zeros(len(index), dtype=np.int64)
        for row in self._there:
            is_counted = row.done_on is not None or row.day in kept
            who = row.done_by_id or row.grower_id if row.done_on is not None else row.grower_id
            if is_counted and who in index:
                done[index[who]] += 1
        return done

    def _shared(self, day: date, at: int, row: RoundRow | None) -> SharedRound:
        who = None if at == NOBODY else self._members[at]
        return SharedRound(
            day=day,
            grower_id=None if who is None else who.id,
            grower=None if who is None else who.name,
            before=None if row is None else row.grower,
            is_new=row is None,
            is_kept=False,
        )

    def _parts(self, done: Ints, owner: Ints) -> list[Part]:
        given = np.bincount(owner[owner != NOBODY], minlength=len(self._members))
        quotas = quotas_of(self._weights_of_members, int(done.sum() + given.sum()))
        return [
            Part(
                grower_id=one.id,
                name=one.name,
                days=one.days,
                tray_days=float(self._weights_of_members[at]),
                quota=float(quotas[at]),
                done=int(done[at]),
                rounds=int(done[at] + given[at]),
            )
            for at, one in enumerate(self._members)
        ]


def _stays(row: RoundRow) -> bool:
    return row.done_on is not None or (row.is_swapped and not row.is_offered and row.grower_id is not None)


def _offers(row: RoundRow | None, who: Coming) -> bool:
    return row is not None and row.is_offered and row.grower_id == who.id


def _kept(row: RoundRow) -> SharedRound:
    return SharedRound(
        day=row.day, grower_id=row.grower_id, grower=row.grower, before=row.grower, is_new=False, is_kept=True
    )
