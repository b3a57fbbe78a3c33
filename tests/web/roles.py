"""A garden with people of each role, a client of each, and what its tables hold, for tests of who may do what."""

import hashlib
import time
from types import SimpleNamespace

import pytest
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from app.core.words import LogKind, Role
from app.extensions import db
from app.services import accounts
from app.services.accounts import add_bench, digest_of
from app.services.demo_account import ensure_demo_account
from app.services.passphrases import hash_secret
from app.storage.base import Base
from app.storage.models import (
    Account,
    Batch,
    CareRound,
    Draft,
    House,
    LabelStock,
    LogEntry,
    Printer,
    SeedTest,
    SignIn,
    SpareGift,
    SpareOffer,
    SpareRequest,
)
from tests import rows
from tests.conftest import TODAY
from tests.kept_gardens import kept
from tests.people import add_account
from tests.web.dealt import tomatoes

PASSPHRASE = "green tin watering can"
PIN = "4827"
FOUND, UNAUTHORISED, FORBIDDEN, GONE, TOO_MANY, BUSY = 302, 401, 403, 410, 429, 503
# What a device notes of itself on its way, also where it is refused.
SEEN = {"sign_in": {"seen_at", "acting_until"}}


@pytest.fixture(scope="session")
def hashes():
    """Return the hashes of the passphrase and the PIN, made once."""
    return SimpleNamespace(passphrase=hash_secret(PASSPHRASE), pin=hash_secret(PIN))


@pytest.fixture
def world(engine, hashes):
    """Return the ids of a garden with trays, people of each role, and one thing of each kind."""
    with Session(engine) as session:
        made = kept(session, _world, hashes.passphrase, hashes.pin)
        session.commit()
        return made


def _world(session, passphrase, pin):
    made = tomatoes(session)
    growers = [session.get_one(rows.Sowing, sowing).grower_id for sowing in made.sowings]
    draft = Draft(grower_id=growers[0], crop_id=made.crop, plants=6, brings_seed=False)
    made.draft = add(session, draft).id
    mine = CareRound(date=TODAY, grower_id=growers[0], is_offered=False, is_swapped=False)
    made.round = add(session, mine).id
    made.offer = add(session, SpareOffer(sowing_id=made.sowings[0], plants=3, date=TODAY)).id
    made.request = add(session, SpareRequest(grower_id=growers[0], crop_id=made.crop, plants=2, date=TODAY)).id
    made.gift = add(session, SpareGift(offer_id=made.offer, grower_id=growers[1], plants=1, date=TODAY)).id
    made.lot = rows.seed_lot(session, session.get_one(rows.Crop, made.crop)).id
    made.test = add(session, SeedTest(seed_lot_id=made.lot, date=TODAY, tried=20, up=15, days=10)).id
    entry = LogEntry(name="E-1", sowing_id=made.sowings[0], kind=LogKind.SOWN, date=TODAY, count=3)
    made.entry = add(session, entry).id
    made.box = session.scalars(select(rows.Container.id)).first()
    made.batch = add(session, Batch(at=1.5, what="growers pasted", rows=0, digest="")).id
    made.printer = add(session, printer()).id
    made.stock = add(session, stock()).id
    people = {
        "coordinator": ("Ruth Tan", Role.COORDINATOR, None),
        "member": ("Ada Brandt", Role.MEMBER, growers[0]),
        "other member": ("Ines Moreau", Role.MEMBER, growers[1]),
        "no grower": ("Tom Adler", Role.MEMBER, None),
    }
    made.accounts = {
        role: add_account(session, name, kind, grower, passphrase, pin).id
        for role, (name, kind, grower) in people.items()
    }
    made.growers = growers
    ensure_demo_account(session)
    session.commit()
    made.demo = session.scalars(select(Account.id).where(Account.is_demo)).one()
    return made


def add(session, row):
    session.add(row)
    session.flush()
    return row


def printer():
    return Printer(name="Hut", offset_x_mm=0, offset_y_mm=0, scale_percent=100, turned=False)


def stock():
    measures = {"columns": 2, "rows": 4, "label_width_mm": 90, "label_height_mm": 60}
    rest = {"left_mm": 10, "top_mm": 10, "pitch_across_mm": 95, "pitch_down_mm": 65}
    return LabelStock(name="Sheet", paper="a4", cut=False, **measures, **rest)


def as_role(app, world, role):
    """Return a fresh client of a role."""
    client = app.test_client()
    with app.app_context():
        house = db.session.get(House, 1) or House(id=1)
        house.open_to_visitors = role == "visitor"
        db.session.add(house)
        db.session.commit()
        if role in {"tablet", "at bench"}:
            token = add_bench(db.session, "Test")
            if role == "at bench":
                values = {"account_id": world.accounts["member"], "acting_until": time.time() + 60}
                db.session.execute(update(SignIn).where(SignIn.token == digest_of(token)).values(values))
            db.session.commit()
            with client.session_transaction() as cookie:
                cookie["token"] = token
        elif role in world.accounts:
            account = db.session.get_one(Account, world.accounts[role])
            token = accounts.add_sign_in(db.session, account, own_device=True, device="Test")
            db.session.commit()
            with client.session_transaction() as cookie:
                cookie["token"] = token
    return client


def fingerprint(engine):
    """Return a digest of every row of every table, but for when devices were seen."""
    digest = hashlib.sha256()
    with engine.connect() as connection:
        for table in Base.metadata.sorted_tables:
            columns = [column for column in table.c if column.name not in SEEN.get(table.name, set())]
            found = connection.execute(select(*columns)).all()
            digest.update(repr((table.name, sorted(map(repr, found)))).encode())
    return digest.hexdigest()
