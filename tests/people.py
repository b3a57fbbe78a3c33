"""People who are signed in, without the pages by which they came in. Names are invented."""

import time

from app.core.words import Role
from app.extensions import db
from app.services.accounts import add_sign_in
from app.services.passphrases import comparable
from app.storage.models import Account
from app.storage.queries.people import find_account
from app.web.access import TOKEN


def add_account(session, name="Odile Brandt", role=Role.COORDINATOR, grower_id=None, passphrase=None, pin=None):
    """Return an account; what is given for its passphrase is taken for the hash."""
    account = Account(
        name=name,
        name_key=comparable(name),
        role=role,
        grower_id=grower_id,
        passphrase=passphrase or "no hash, so nobody signs in by it",
        pin=pin,
        is_demo=False,
        made_at=time.time(),
    )
    session.add(account)
    session.flush()
    return account


def sign_in_as(client, name="Odile Brandt", role=Role.COORDINATOR, grower_id=None):
    """Sign a client in as somebody, whose account is made if it is not there; return the account's id."""
    with client.application.app_context():
        account = find_account(db.session, comparable(name)) or add_account(db.session, name, role, grower_id)
        token, account_id = add_sign_in(db.session, account, own_device=True, device="Test"), account.id
        db.session.commit()
    with client.session_transaction() as session:
        session[TOKEN] = token
    return account_id
