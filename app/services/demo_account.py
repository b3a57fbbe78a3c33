"""The account of the demo garden, which goes when the garden is no longer the demo."""

import time

from app.core.words import Role
from app.services.passphrases import comparable
from app.storage import Session
from app.storage.models import Account
from app.storage.queries.people import find_account, find_demo_account
from app.storage.queries.version import hold_writes

DEMO_NAME = "Demo coordinator"


def ensure_demo_account(session: Session) -> None:
    """Add the account by which the demo garden is looked at from its own machine."""
    hold_writes(session)
    if find_demo_account(session) is None and find_account(session, comparable(DEMO_NAME)) is None:
        session.add(
            Account(
                name=DEMO_NAME,
                name_key=comparable(DEMO_NAME),
                role=Role.COORDINATOR,
                is_demo=True,
                made_at=time.time(),
            )
        )
        session.flush()


def remove_demo_account(session: Session) -> None:
    """Remove the demo's account: the garden is no longer the demo."""
    account = find_demo_account(session)
    if account is not None:
        session.delete(account)
        session.flush()
