"""Who gets the weekly letter, and which were sent."""

from typing import NamedTuple

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import Session

from app.storage.models import Account, Reminder


class Recipient(NamedTuple):
    """Somebody who wants the weekly letter."""

    account_id: int
    name: str
    email: str
    grower_id: int
    language: str | None


class LetterRow(NamedTuple):
    """A letter of a week as its page shows it; without a moment and a fault, nobody knows what became of it."""

    name: str
    week: str
    sent_at: float | None
    fault: str | None
    retry_at: float | None


def list_recipients(session: Session, week: str, now: float) -> list[Recipient]:
    """Return who is still to get the letter of a week, by name: those without one, and those whose last try failed.

    Args:
        session: Where to look.
        week: The week, such as `2027-W15`.
        now: The present moment. [s since 1970]
    """
    query = (
        select(Account.id, Account.name, Account.email, Account.grower_id, Account.language)
        .outerjoin(Reminder, and_(Reminder.account_id == Account.id, Reminder.week == week))
        .where(
            Account.email.is_not(None),
            Account.grower_id.is_not(None),
            Account.is_demo.is_(False),
            or_(Reminder.account_id.is_(None), and_(Reminder.sent_at.is_(None), Reminder.retry_at <= now)),
        )
        .order_by(Account.name_key)
    )
    return [Recipient._make(row) for row in session.execute(query)]


def count_recipients(session: Session) -> int:
    """Return how many want the weekly letter."""
    query = select(func.count(Account.id)).where(
        Account.email.is_not(None), Account.grower_id.is_not(None), Account.is_demo.is_(False)
    )
    return session.scalar(query) or 0


def find_reminder(session: Session, account_id: int, week: str) -> Reminder | None:
    """Return what became of somebody's letter of a week, or None where there was none."""
    return session.get(Reminder, (account_id, week))


def list_letters(session: Session, limit: int) -> list[LetterRow]:
    """Return what became of letters, the last week first, then by name."""
    query = (
        select(Account.name, Reminder.week, Reminder.sent_at, Reminder.fault, Reminder.retry_at)
        .join(Account, Account.id == Reminder.account_id)
        .order_by(Reminder.week.desc(), Account.name_key)
        .limit(limit)
    )
    return [LetterRow._make(row) for row in session.execute(query)]


def list_letters_of(session: Session, account_id: int) -> list[Reminder]:
    """Return the letters of an account, by week."""
    query = select(Reminder).where(Reminder.account_id == account_id).order_by(Reminder.week)
    return list(session.scalars(query))
