"""Calendar feeds: their secret addresses, and which of their events have changed since they were told last."""

import hashlib
import secrets
import time
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from app.services.accounts import digest_of
from app.storage import Session
from app.storage.models import Feed, FeedEvent
from app.storage.queries.feeds import end_feeds, find_feed_events, forget_cancelled, list_feed_events
from app.storage.queries.version import hold_writes

TOKEN_BYTES = 32
# An event that is no more is told as cancelled for so long: chosen, longer than any calendar waits between two looks.
KEPT_CANCELLED_S = 30 * 24 * 3600


@dataclass(frozen=True, kw_only=True)
class Told:
    """What an event says, before it is known whether it was told so already.

    Attributes:
        key: What it is of, in this garden.
        day: The whole day on which it is.
        summary: Its heading.
        description: What else belongs to it.
        link: Address of a page about it; None without one.
    """

    key: str
    day: date
    summary: str
    description: str = ""
    link: str | None = None

    @property
    def digest(self) -> str:
        """A digest of what a calendar shows."""
        said = repr((self.day.isoformat(), self.summary, self.description, self.link))
        return hashlib.sha256(said.encode()).hexdigest()


@dataclass(frozen=True, kw_only=True)
class Event:
    """An event as a calendar gets it.

    Attributes:
        told: What it says.
        uid: What calendars know it by; it stays, wherever the event goes.
        sequence: How often it was changed. [1]
        changed_at: When it was changed last. [s since 1970]
        is_cancelled: It does not come about any more.
    """

    told: Told
    uid: str
    sequence: int
    changed_at: float
    is_cancelled: bool = False


def make_feed(session: Session, account_id: int, *, whole_garden: bool) -> str:
    """Return the token of a new feed, which is kept as a digest alone; an earlier feed of the kind ends."""
    hold_writes(session)
    end_feeds(session, account_id, whole_garden=whole_garden)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    made_at = time.time()
    row = Feed(
        token=digest_of(token), account_id=account_id, whole_garden=whole_garden, made_at=made_at, fetched_at=None
    )
    session.add(row)
    session.flush()
    return token


def end_feed(session: Session, account_id: int, *, whole_garden: bool) -> bool:
    """End an account's feed of a kind, and return whether there was one."""
    hold_writes(session)
    return end_feeds(session, account_id, whole_garden=whole_garden) > 0


def as_told(session: Session, scope: str, told: Sequence[Told], now: float) -> list[Event] | None:
    """Return the events of a scope if all is as it was told last; None where `tell` has to write something down.

    Args:
        session: Where to look.
        scope: Whose dates they are.
        told: What they say now.
        now: The present moment. [s since 1970]
    """
    kept = {row.key: row for row in list_feed_events(session, scope)}
    for one in told:
        row = kept.get(one.key)
        if row is None or row.is_cancelled or row.digest != one.digest:
            return None
    wanted = {one.key for one in told}
    gone = [row for key, row in kept.items() if key not in wanted]
    if any(not row.is_cancelled or _is_over(row, now) for row in gone):
        return None
    return _events(told, kept, gone)


def tell(session: Session, scope: str, told: Sequence[Told], now: float) -> list[Event]:
    """Write down what the events of a scope say now, and return them with those that are cancelled.

    An event that changed, was cancelled or came back gets the next number of its sequence; one that is as it was keeps
    number and date.

    Args:
        session: Its transaction takes it.
        scope: Whose dates they are.
        told: What they say now.
        now: The present moment. [s since 1970]

    Source:
        RFC 5545, 3.8.7.4 (SEQUENCE), 3.8.7.2 (DTSTAMP), 3.8.1.11 (STATUS).
    """
    hold_writes(session)
    forget_cancelled(session, scope, now - KEPT_CANCELLED_S)
    kept = {row.key: row for row in list_feed_events(session, scope)}
    strange = [one.key for one in told if one.key not in kept]
    moved = find_feed_events(session, strange) if strange else {}  # a sowing that is somebody else's now
    for one in told:
        row = kept.get(one.key) or moved.get(one.key)
        if row is None:
            row = kept[one.key] = FeedEvent(key=one.key, uid=str(uuid.uuid4()), sequence=0, changed_at=now, digest="")
            session.add(row)
        elif row.is_cancelled or row.digest != one.digest:
            row.sequence, row.changed_at = row.sequence + 1, now
        kept[one.key] = row
        row.scope, row.day, row.summary = scope, one.day, one.summary
        row.digest, row.is_cancelled = one.digest, False
    wanted = {one.key for one in told}
    gone = [row for key, row in kept.items() if key not in wanted]
    for row in gone:
        if not row.is_cancelled:
            row.sequence, row.changed_at, row.is_cancelled = row.sequence + 1, now, True
    session.flush()
    return _events(told, kept, gone)


def _events(told: Sequence[Told], kept: dict[str, FeedEvent], gone: Sequence[FeedEvent]) -> list[Event]:
    events = [
        Event(told=one, uid=row.uid, sequence=row.sequence, changed_at=row.changed_at)
        for one in told
        for row in (kept[one.key],)
    ]
    for row in gone:
        if row.day >= datetime.fromtimestamp(row.changed_at, UTC).date():  # what was over by then is nobody's concern
            was = Told(key=row.key, day=row.day, summary=row.summary)
            events.append(
                Event(told=was, uid=row.uid, sequence=row.sequence, changed_at=row.changed_at, is_cancelled=True)
            )
    return events


def _is_over(row: FeedEvent, now: float) -> bool:
    return row.changed_at < now - KEPT_CANCELLED_S
