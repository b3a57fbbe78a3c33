"""When something was last written down, to tell whether the clock has gone back since."""

from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.storage.models import Account, History, LabelPrint, Levelling, SignIn


def find_newest_moment(session: Session) -> float | None:
    """Return the newest moment that any change, search or sign-in bears; None where there is none. [s since 1970]"""
    columns = (History.at, Levelling.started_at, Levelling.ended_at, Account.made_at, SignIn.made_at, SignIn.seen_at)
    row = session.execute(select(*(select(func.max(column)).scalar_subquery() for column in columns))).one()
    return max((moment for moment in row if moment is not None), default=None)


def find_newest_label_day(session: Session) -> date | None:
    """Return the newest day on which a label was made; None where there is none."""
    return session.scalar(select(func.max(LabelPrint.made_on)))
