"""A small garden that has something of every kind, the addresses in it, and the forms on its pages.

Names and figures are invented. A view with a part in its address that `fill` does not know fails: it needs a value.
"""

import hashlib
import re
import time
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlsplit

from sqlalchemy import delete, insert, select
from sqlalchemy.orm import Session
from werkzeug.exceptions import HTTPException
from wtforms import FormField
from wtforms.fields.core import Field
from wtforms.form import BaseForm

from app.core.house.label_sheets import StockPaper, cut_sheet
from app.core.words import LogKind, Origin, Place, Role, SlipKind
from app.services.accounts import add_sign_in, digest_of
from app.services.bring_in import take_in
from app.services.growers import GrowerValues
from app.services.plan import get_plan
from app.storage.base import Base
from app.storage.models import (
    CareRound,
    DataVersion,
    Draft,
    Feed,
    LabelStock,
    LogEntry,
    Printer,
    PublicAddress,
    SeedTest,
    Slip,
    SpareGift,
    SpareOffer,
    SpareRequest,
    Stay,
    Tray,
)
from tests import rows
from tests.kept_gardens import kept
from tests.people import add_account
from tests.web.dealt import deal, tomatoes
from tests.web.filling import _sent
from tests.web.fitted import by_hand, found
from tests.web.pages import read_page

# Rows that come and go without anybody's changing anything: when a device was last seen, wrong tries, and what
# calendars were told.
PASSING = {"sign_in", "failed_try", "feed_event"}
SLIP = "a-one-time-link-for-tests-only-01"
UNUSED = 900_000
# Addresses that show their forms only when they are asked for something.
ASKED = {
    "log.several": "?kind=sown&day=2027-05-01",
    "sowings.day": "?placed=1",
    "frost.index": "?risk=20&autumn_risk=50&frost_law=normal",
    "labels.index": "?trays={number}",
}


def fill(engine):
    """Add the garden, and return what stands for the variable parts of addresses."""
    with Session(engine) as session:
        values = kept(session, _garden)
        session.commit()
        return values


def _garden(session):
    made = tomatoes(session, dealt=False)
    pot = rows.container(session, "9 cm pot", cells_per_tray=18, cell_volume_ml=415.0, rows=3, columns=6)
    outside = rows.crop(session, "Squash", source="days_to_maturity: common practice")
    lot = rows.seed_lot(session, outside, germination=0.8, origin=Origin.SAVED, year=2026, variety="Musquee")
    sill = rows.shelf(session, "South sill", place=Place.WINDOW, levels=1, positions=3)
    grower = rows.grower(session, "Odile Keel", contact="by the gate", days="monday saturday")
    rows.sowing(session, grower, outside, "S-0002", seed_lot_id=lot.id, variety="Butternut")
    printer = Printer(name="Office", offset_x_mm=0, offset_y_mm=0, scale_percent=100, turned=False)
    stock = LabelStock(name="Blue box", **vars(cut_sheet(StockPaper.A4, 57, 32)))
    session.add_all([printer, stock, PublicAddress(id=1, address="http://shed.lan:5000")])
    now = time.time()
    session.add(Slip(token=digest_of(SLIP), kind=SlipKind.FIRST, account_id=None, made_at=now, expires_at=now + 86_400))
    test = rows._add(session, SeedTest(seed_lot_id=lot.id, date=date(2027, 3, 1), tried=20, up=15, days=10))
    draft = rows._add(session, Draft(grower_id=grower.id, crop_id=made.crop, plants=6, brings_seed=False))
    mine = CareRound(date=date(2027, 4, 10), grower_id=grower.id, is_offered=False, is_swapped=False)
    care = rows._add(session, mine)
    sown = LogEntry(name="E-1", sowing_id=made.sowings[1], kind=LogKind.SOWN, date=date(2027, 4, 9), count=20)
    entry = rows._add(session, sown)
    member = add_account(session, "Ilse Varga", Role.MEMBER, grower.id, pin="no hash, so nobody comes in by it")
    add_sign_in(session, member, own_device=True, device="Phone")
    values = GrowerValues(name="Tomas Lind", plot="7b", contact=None, days=None)
    pasted = take_in(session, "growers pasted", [values])
    ids = {
        "account_id": member.id,
        "batch_id": pasted.batch_id,
        "grower_id": grower.id,
        "crop_id": made.crop,
        "sowing_id": made.sowings[0],
        "container_id": pot.id,
        "shelf_id": sill.id,
        "seed_lot_id": lot.id,
        "entry_id": entry.id,
        "seed_test_id": test.id,
        "draft_id": draft.id,
        "round_id": care.id,
        **spares(session, made, grower),
        "printer_id": printer.id,
        "stock_id": stock.id,
        "way": "sheet",
        "week": "2027-W21",
        "place": "lamp",
        "table": "sowings",
        "token": SLIP,
        "page": "member",
        "name": "week.png",
    }
    session.add(Feed(token=digest_of(SLIP), account_id=member.id, whole_garden=False, made_at=now, fetched_at=now))
    session.commit()
    deal(session)
    lamps = select(Tray.number).join(Stay).where(Stay.place == Place.LAMP).order_by(Tray.number)
    ids["number"] = session.scalars(lamps).all()[-1]
    session.rollback()
    ids["run_id"] = found(session, by_hand(get_plan(session).garden))
    session.commit()
    return ids


def spares(session, made, grower):
    """Add plants that are offered, asked for and given, and return the ids of all three."""
    day = date(2027, 4, 1)
    offer = rows._add(session, SpareOffer(sowing_id=made.sowings[0], plants=3, date=day))
    asked = rows._add(session, SpareRequest(grower_id=grower.id, crop_id=made.crop, plants=4, date=day))
    gift = SpareGift(offer_id=offer.id, request_id=asked.id, grower_id=grower.id, plants=1, date=day)
    return {"offer_id": offer.id, "request_id": asked.id, "gift_id": rows._add(session, gift).id}


def addresses(app, values, method):
    """Return an address of every rule that answers a method, by endpoint; files of the program's own left out."""
    made = {}
    with app.test_request_context():
        for rule in app.url_map.iter_rules():
            if method in rule.methods and rule.endpoint != "static":
                parts = values | ({"number": UNUSED} if rule.endpoint == "trays.start" else {})
                _, made[rule.endpoint] = rule.build({name: parts[name] for name in rule.arguments})
                made[rule.endpoint] += ASKED.get(rule.endpoint, "").format(**values) if method == "GET" else ""
    return made


def sent_values(page, form):
    """Return what a browser would send for a form of a page, by name."""
    values = {}
    for element in page.all("input", "textarea", "select"):
        if element.within("form") is form and element.attributes.get("name"):
            for value in _sent(page, element):
                values.setdefault(element.attributes["name"], []).append(value)
    return values


@dataclass(frozen=True, kw_only=True)
class FoundForm:
    """A form of a page: where it is sent, how, what a browser would send, and the fields behind it."""

    page: str
    method: str
    action: str
    values: dict[str, list[str]]
    fields: dict[str, Field]


def find_forms(client, address):
    """Return every form of a page."""
    fields, process = {}, BaseForm.process

    def note(form, *args, **kwargs):
        process(form, *args, **kwargs)
        fields.update({one.name: one for one in form._fields.values() if not isinstance(one, FormField)})

    BaseForm.process = note  # whichever forms the view makes
    try:
        answer = client.get(address)
    finally:
        BaseForm.process = process
    if answer.mimetype != "text/html" or answer.status_code != 200:
        return []
    page = read_page(answer.text)
    return [
        FoundForm(
            page=address,
            method=(form.attributes.get("method") or "get").lower(),
            action=form.attributes.get("action") or address,
            values=sent_values(page, form),
            fields={
                element.attributes["name"]: fields[element.attributes["name"]]
                for element in page.all("input", "select", "textarea")
                if element.within("form") is form and element.attributes.get("name") in fields
            },
        )
        for form in page.all("form")
    ]


def endpoint_of(app, address, method="POST"):
    """Return the endpoint that an address leads to."""
    try:
        return app.url_map.bind("localhost").match(urlsplit(address).path, method=method)[0]
    except HTTPException:
        return None


def find_all_forms(app, client, values, is_wanted=lambda _endpoint: True):
    """Return every form of every page that is wanted, each kind once: by method, endpoint and names of its fields."""
    forms = {}
    for page, address in addresses(app, values, "GET").items():
        if re.search(r"\.(pdf|csv)($|\?)", address) or not is_wanted(page):
            continue
        for form in find_forms(client, address):
            endpoint = endpoint_of(app, form.action, form.method.upper())
            forms.setdefault((form.method, endpoint, tuple(sorted(form.values))), form)
    return forms


def contents(engine, without=PASSING):
    """Return a digest of every row of every table but those that pass."""
    digest = hashlib.blake2b(digest_size=16)
    with engine.connect() as connection:
        for table in Base.metadata.sorted_tables:
            if table.name not in without:
                rows_of = connection.exec_driver_sql(f'SELECT * FROM "{table.name}"').all()
                digest.update(repr((table.name, sorted(map(repr, rows_of)))).encode())
    return digest.hexdigest()


def keep(engine):
    """Return every row of every table, to be put back by `put_back`."""
    with engine.connect() as connection:
        return {
            table.name: [dict(row) for row in connection.execute(select(table)).mappings()]
            for table in Base.metadata.sorted_tables
        }


def put_back(engine, kept):
    """Make the database hold what was kept, and nothing else."""
    tables = Base.metadata.sorted_tables
    with engine.begin() as connection:
        for table in reversed(tables):
            if table is not DataVersion.__table__:
                connection.execute(delete(table))
        for table in tables:
            if table is DataVersion.__table__:
                mark = kept[table.name][0]["mark"]
                connection.exec_driver_sql(f"UPDATE data_version SET mark = '{mark}'")
            elif kept[table.name]:
                connection.execute(insert(table), kept[table.name])
