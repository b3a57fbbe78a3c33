"""What the first page tells of care rounds: whose today's is, and which nobody has done."""

from dataclasses import dataclass

from app.extensions import db
from app.language import _
from app.sheets.words import count_words, day_words
from app.storage.queries.rounds import RoundRow, list_missed_and_of
from app.web.access import current_person, is_coordinator
from app.web.context import current_day


@dataclass(frozen=True, kw_only=True)
class RoundsNotice:
    """Care rounds to mind.

    Attributes:
        now: Today's round; None where there is none.
        is_mine: It is of whoever looks.
        missed: Which rounds are not done, in words: all for coordinators, for others their own; empty where none.
        last: Id of the last one that is not done; None where none is.
    """

    now: RoundRow | None
    is_mine: bool
    missed: str
    last: int | None


def rounds_notice() -> RoundsNotice:
    """Return the care rounds that whoever sends the request is to mind."""
    today, person = current_day(), current_person()
    grower_id = None if person is None else person.grower_id
    found = list_missed_and_of(db.session, today)
    now = next((row for row in found if row.day == today), None)
    missed = [
        row for row in found if row.day < today and (is_coordinator() or (grower_id and row.grower_id == grower_id))
    ]
    words = ""
    if missed:
        day, rounds = day_words(missed[-1].day), count_words(len(missed), "care round", "care rounds")
        words = (
            _("%(rounds)s not done: that of %(day)s", rounds=rounds, day=day)
            if len(missed) == 1
            else _("%(rounds)s not done, the last on %(day)s", rounds=rounds, day=day)
        )
    return RoundsNotice(
        now=now,
        is_mine=now is not None and grower_id is not None and now.grower_id == grower_id,
        missed=words,
        last=missed[-1].id if missed else None,
    )
