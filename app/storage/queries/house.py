"""What is set for the house."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.storage.models import House


def find_house(session: Session) -> House:
    """Return what is set for the house; as it is before anybody sets anything, not stored, where there is nothing."""
    return session.get(House, 1) or House(
        id=1,
        open_to_visitors=False,
        wifi_name=None,
        wifi_passphrase=None,
        keep_days=7,
        keep_weeks=4,
        keep_months=12,
        steps_hidden=False,
        holds_demo=False,
    )


def get_house(session: Session) -> House:
    """Return what is set for the house, to be changed; the row is made where there is none."""
    house = session.get(House, 1)
    if house is None:
        house = find_house(session)
        session.add(house)
    return house


def is_open_to_visitors(session: Session) -> bool:
    """Return whether whoever reaches the program may look at the shelf ledger and the weekly sheet."""
    return bool(session.scalar(select(House.open_to_visitors).where(House.id == 1)))
