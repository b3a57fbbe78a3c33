"""Calendar feeds, what they told, and the rounds that stand in them."""

from datetime import date
from typing import NamedTuple

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from app.core.words import Role
from app.storage.models import Account, CareRound, Feed, FeedEvent, Grower


class OpenFeed(NamedTuple):
    """A feed and the account it is of, as they are now."""

    id: int
    whole_garden: bool
    fetched_at: float | None
    account_id: int
    role: Role
    grower_id: int | None
    is_demo: bool
    language: str | None


class RoundOfDay(NamedTuple):
    """Whose round of watering and airing a day's is."""

    date: date
    grower_id: int | None
    grower: str | None
    note: str | None


def find_feed(session: Session, token: str) -> OpenFeed | None:
    """Return the feed of a token's digest, or None."""
    query = (
        select(
            Feed.id,
            Feed.whole_garden,
            Feed.fetched_at,
            Account.id,
            Account.role,
            Account.grower_id,
            Account.is_demo,
            Account.language,
        )
        .join(Account, Account.id == Feed.account_id)
        .where(Feed.token == token)
    )
    row = session.execute(query).one_or_none()
    return None if row is None else OpenFeed._make(row)


def list_feeds(session: Session, account_id: int) -> list[Feed]:
    """Return the feeds of an account, its own dates first."""
    query = select(Feed).where(Feed.account_id == account_id).order_by(Feed.whole_garden, Feed.id)
    return list(session.scalars(query))


def end_feeds(session: Session, account_id: int, *, whole_garden: bool) -> int:
    """End an account's feeds of one kind; return how many there were."""
    done = session.execute(delete(Feed).where(Feed.account_id == account_id, Feed.whole_garden.is_(whole_garden)))
    return int(done.rowcount)  # type: ignore[attr-defined]  # a statement that changes rows has it


def touch_feed(session: Session, feed_id: int, at: float) -> None:
    """Note when a feed was last fetched. [s since 1970]"""
    session.execute(update(Feed).where(Feed.id == feed_id).values(fetched_at=at))


def list_feed_events(session: Session, scope: str) -> list[FeedEvent]:
    """Return what calendars were told of a scope, by day."""
    query = select(FeedEvent).where(FeedEvent.scope == scope).order_by(FeedEvent.day, FeedEvent.key)
    return list(session.scalars(query))


def find_feed_events(session: Session, keys: list[str]) -> dict[str, FeedEvent]:
    """Return what calendars were told of some events, by key, whoever it was told to."""
    return {row.key: row for row in session.scalars(select(FeedEvent).where(FeedEvent.key.in_(keys)))}


def forget_cancelled(session: Session, scope: str, before: float) -> None:
    """Forget the events of a scope that were cancelled before a moment. [s since 1970]"""
    gone = (FeedEvent.scope == scope, FeedEvent.is_cancelled, FeedEvent.changed_at < before)
    session.execute(delete(FeedEvent).where(*gone), execution_options={"synchronize_session": "fetch"})


def list_rounds_of(session: Session, grower_id: int | None = None) -> list[RoundOfDay]:
    """Return the rounds that are somebody's, by day; of one grower if one is given."""
    query = (
        select(CareRound.date, CareRound.grower_id, Grower.name, CareRound.note)
        .join(Grower, Grower.id == CareRound.grower_id)
        .order_by(CareRound.date)
    )
    if grower_id is not None:
        query = query.where(CareRound.grower_id == grower_id)
    return [RoundOfDay._make(row) for row in session.execute(query)]
