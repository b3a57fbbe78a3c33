"""Gardens in which every page can be looked at, served as their users have them; all of them are invented.

`demo` is the demo garden with something of every kind that it lacks, `empty` has nothing but a name and frost dates,
and `large` is the first with 200 growers, over 1,300 sowings, and names as long as people have them.
"""

import os
import secrets
import subprocess
import sys
import time
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, insert, select, update
from sqlalchemy.orm import Session

from app import create_app
from app.core.fitting.answer import Answer, Choices, Extra, Goal, Reached
from app.core.house.label_sheets import StockPaper, cut_sheet
from app.core.words import LevellingState, LogKind, Place, Role, SlipKind
from app.services.accounts import add_sign_in, digest_of
from app.services.bring_in import take_in
from app.services.demo import DEMO_DAY, set_up_demo
from app.services.growers import GrowerValues
from app.services.levelling import start_levelling
from app.services.plan import get_plan
from app.settings import Settings
from app.storage.engine import make_engine
from app.storage.levelling import store_answer
from app.storage.models import (
    CareRound,
    Container,
    Crop,
    Draft,
    Feed,
    Garden,
    Grower,
    LabelStock,
    LogEntry,
    Printer,
    PublicAddress,
    SeedLot,
    SeedTest,
    Shelf,
    Slip,
    Sowing,
    SpareGift,
    SpareOffer,
    SpareRequest,
    Tray,
)
from app.storage.schema import upgrade
from app.web.access import TOKEN
from tests import rows
from tests.kept_gardens import kept
from tests.people import add_account
from tests.servers import free_port, wait_for
from tests.web.everything import addresses

KINDS = ("demo", "empty", "large")
HOST = "127.0.0.1"
SLIP = "a-one-time-link-for-pictures-001"
WORDS = {
    "way": "sheet", "week": "2027-W21", "place": "lamp", "table": "sowings", "token": SLIP, "page": "member",
    "name": "week.png",
}  # fmt: skip
IDS = (
    "account_id", "batch_id", "container_id", "crop_id", "draft_id", "entry_id", "gift_id", "grower_id", "number",
    "offer_id", "printer_id", "request_id", "round_id", "run_id", "seed_lot_id", "seed_test_id", "shelf_id",
    "sowing_id", "stock_id",
)  # fmt: skip
GROWERS = 200
SOWINGS_EACH = 6
LONG = (
    "Wilhelmina Featherstonehaugh-Cholmondeley",
    "Maria Concepción Fernández de la Torre y Villaverde",
    "Krzysztof Wawrzyńczak-Przybyszewski",
    "Oluwaseun Adebayo-Ogunlesi and family",
    "Friederike Schwarzenberger-Kaltenbrunner",
)
LONG_SHELF = "{} by the north wall of the long greenhouse, behind the door"
LONG_VARIETY = "Grandmother’s early striped climbing, saved since 1987"
# Pages that change much with what is asked of them.
MORE = {
    "week.index, busy": "/?week=2027-W21",
    "week.index, all of it": "/?week=2027-W15",
    "sowings.day, asked": "/sowings/8/day?light=lamp",
    "shelves.show, full": "/shelves/4?day=2027-05-08",
    "sheets.sowing, to fill": "/sheets/sowing?day=2027-05-15",
    "sheets.sowing, sown": "/sheets/sowing?day=2027-04-03",
    "moves.index, busy": "/moves?week=2027-W21",
    "trays.index, waiting": "/trays?place=lamp&week=2027-W21&waits=yes",
    "trays.show, to sow": "/trays/70",
    "trays.show, small cells": "/trays/1",
    "deal.index, of a day": "/trays/deal?day=2027-04-24",
    "notice.index, busy": "/notice?week=2027-W20",
    "labels.index, filled": "/labels?filled=2027-04-10",
    "labels.index, stakes": "/labels?kind=stake&trays=1-4",
    "labels.index, tags": "/labels?kind=tag&trays=1-50",
    "log.several, which": "/log",
    "log.tray, lost": "/trays/20/log?kind=lost",
    "log.tray, by cell": "/trays/20/log?kind=up&by=cell",
    "frost.index, plain": "/frost",
    "sowings.index, late": "/sowings?page=2",
    "printing.frame": "/labels/frame.pdf?stock=own-1",
    "errors.404": "/growers/999999",
}
MISSING = {"errors.404"}


@dataclass(frozen=True, kw_only=True)
class Made:
    """A garden that is made: where it is, a coordinator's cookie, and the addresses of its pages and PDF files."""

    kind: str
    settings: Settings
    cookie: str
    pages: dict[str, str]
    papers: dict[str, str]


def make_garden(kind, folder, is_wanted=lambda _name: True):
    """Make a garden in a folder; of its addresses, those that are wanted by name."""
    settings = Settings(
        database_url=f"sqlite:///{folder / 'garden.sqlite3'}",
        instance=folder,
        port=free_port(),
        today=DEMO_DAY,
        secret_key=secrets.token_hex(),
    )
    engine = make_engine(settings.database_url)
    upgrade(engine)
    with Session(engine) as session:
        if kind == "empty":
            rows.garden(session)
            values = WORDS | dict.fromkeys(IDS, 1)
        else:
            kept(session, set_up_demo)
            if kind == "large":
                enlarge(session)
            values = complete(session)
        ruth = add_account(session, "Ruth Tan", Role.COORDINATOR)
        token = add_sign_in(session, ruth, own_device=True, device="Linux computer")
        session.commit()
        if kind != "empty":
            values["run_id"] = fitted(session)
    engine.dispose()
    app = create_app(settings)
    cookie = app.session_interface.get_signing_serializer(app).dumps({TOKEN: token})
    return Made(kind=kind, settings=settings, cookie=cookie, **sorted_addresses(app, cookie, values, kind, is_wanted))


def sorted_addresses(app, cookie, values, kind, is_wanted):
    """Return the addresses that answer with a page, and those of PDF files; each GET route has one, and some have more.

    The empty garden has no objects, so those of an object lead nowhere.
    """
    client, found = app.test_client(), {"text/html": {}, "application/pdf": {}}
    client.set_cookie(app.config["SESSION_COOKIE_NAME"], cookie)
    for name, address in (addresses(app, values, "GET") | MORE).items():
        if not is_wanted(name):
            continue
        answer = client.get(address, buffered=True)  # a backup is a file that is to be closed again
        if name in MISSING:
            assert answer.status_code == 404
        elif answer.status_code == 302 or (kind == "empty" and answer.status_code in {403, 404, 409, 410}):
            continue
        else:
            assert answer.status_code == 200, f"{name}: {address}: {answer.status_code}"
        found.get(answer.mimetype, {})[name] = address
    return {"pages": found["text/html"], "papers": found["application/pdf"]}


def enlarge(session):
    """Add growers and sowings, and make names long."""
    columns = [
        column for column in Sowing.__table__.columns if column.name not in ("id", "name", "grower_id", "placed")
    ]
    patterns = [dict(row) for row in session.execute(select(*columns)).mappings()]
    more = GROWERS - session.scalar(select(func.count()).select_from(Grower))
    session.execute(insert(Grower), [{"name": f"New grower {number}", "plot": f"N{number}"} for number in range(more)])
    growers = list(session.scalars(select(Grower).order_by(Grower.id)))
    added = [
        patterns[(at * SOWINGS_EACH + number) % len(patterns)]
        | {"name": f"X{at:03d}-{number}", "grower_id": grower.id, "placed": None}
        for at, grower in enumerate(growers[-more:])
        for number in range(SOWINGS_EACH)
    ]
    session.execute(insert(Sowing), added)
    for at, grower in enumerate(growers):
        grower.name = f"{LONG[at % len(LONG)]} {at // len(LONG) + 1}"
        grower.contact = "the blue house behind the old mill, knock loudly, or leave word with the neighbours"
    for shelf in session.scalars(select(Shelf)):
        shelf.name = LONG_SHELF.format(shelf.name)
    session.execute(update(Sowing).where(Sowing.id % 3 == 0).values(variety=LONG_VARIETY))
    session.execute(
        update(Garden).values(name="The Allotment Holders’ Association of Upper Wrenmoor and Saltmarsh End")
    )
    session.flush()


def complete(session):
    """Add one of everything that the demo garden lacks, and return what stands for the variable parts of addresses."""
    now, day = time.time(), date(2027, 4, 1)
    sowing = session.scalars(select(Sowing).where(Sowing.crop_id.in_(select(Crop.id))).order_by(Sowing.id)).first()
    grower = session.get(Grower, sowing.grower_id)
    other = session.scalars(select(Grower).where(Grower.id != grower.id).order_by(Grower.id)).first()
    printer = Printer(name="Office", offset_x_mm=0, offset_y_mm=0, scale_percent=100, turned=False)
    stock = LabelStock(name="Blue box", **vars(cut_sheet(StockPaper.A4, 57, 32)))
    first = Slip(token=digest_of(SLIP), kind=SlipKind.FIRST, account_id=None, made_at=now, expires_at=now + 86_400)
    session.add_all([printer, stock, PublicAddress(id=1, address="http://shed.lan:5000"), first])
    draft = rows._add(session, Draft(grower_id=grower.id, crop_id=sowing.crop_id, plants=6, brings_seed=False))
    offer = rows._add(session, SpareOffer(sowing_id=sowing.id, plants=3, date=day))
    asked = rows._add(session, SpareRequest(grower_id=other.id, crop_id=sowing.crop_id, plants=4, date=day))
    gift = rows._add(session, SpareGift(offer_id=offer.id, request_id=asked.id, grower_id=other.id, plants=1, date=day))
    member = add_account(session, grower.name, Role.MEMBER, grower.id)
    add_sign_in(session, member, own_device=True, device="Android device")
    feed = Feed(token=digest_of(SLIP), account_id=member.id, whole_garden=False, made_at=now, fetched_at=now)
    session.add(feed)
    pasted = take_in(session, "growers pasted", [GrowerValues(name="Tomas Lind", plot="7b", contact=None, days=None)])
    session.flush()

    def first_id(model, *where):
        return session.scalars(select(model.id).where(*where).order_by(model.id)).first()

    return WORDS | {
        "account_id": member.id,
        "batch_id": pasted.batch_id,
        "grower_id": grower.id,
        "crop_id": sowing.crop_id,
        "sowing_id": sowing.id,
        "container_id": first_id(Container),
        "shelf_id": first_id(Shelf, Shelf.place == Place.LAMP),
        "seed_lot_id": session.scalars(select(SeedTest.seed_lot_id)).first() or first_id(SeedLot),
        "seed_test_id": first_id(SeedTest),
        "entry_id": first_id(LogEntry, LogEntry.kind == LogKind.UP),
        "draft_id": draft.id,
        "round_id": first_id(CareRound, CareRound.date >= DEMO_DAY),
        "offer_id": offer.id,
        "request_id": asked.id,
        "gift_id": gift.id,
        "printer_id": printer.id,
        "stock_id": stock.id,
        "number": session.scalars(select(Tray.number).order_by(Tray.number)).all()[19],
    }


def fitted(session):
    """Store an answer made by hand that changes very many sowings; return its id. Its goals are invented."""
    plan = get_plan(session)
    garden, sowings = plan.garden, plan.garden.sowings
    sow_on = sowings.sow_on.copy()
    is_later = (plan.due.sow_on > DEMO_DAY.toordinal()) & (plan.due.last_chance > plan.due.sow_on + 7)
    sow_on[is_later] = plan.due.sow_on[is_later] + 7
    placed = sowings.placed.copy()
    placed[5::40] = 0
    choices = Choices(sow_on=sow_on, light=sowings.light, placed=placed)
    reached = tuple(
        Reached(goal=goal, value=value, bound=bound)
        for goal, value, bound in (
            (Goal.SHARE, 0.94, 0.95),
            (Goal.PLANTS, 160.0, 160.0),
            (Goal.DAYS, 280.0, 270.0),
            (Goal.TRAYS, 2.0, 2.0),
        )
    )
    extra = Extra(
        positions=(0, 1, 0, 0), bound=1, choices=Choices(sow_on=sow_on, light=sowings.light, placed=sowings.placed)
    )
    answer = Answer(garden=garden, choices=choices, reached=reached, extra=extra, stuck=(), is_stopped=False)
    run = start_levelling(session, seconds=30, today=DEMO_DAY, extra=None)
    store_answer(session, run, answer, today=DEMO_DAY, now=time.time(), state=LevellingState.FINISHED)
    session.commit()
    return run


@contextmanager
def served(made):
    """Serve a garden by the program's own command; give the address of its pages."""
    settings = made.settings
    environ = os.environ | {
        "DATABASE_URL": settings.database_url,
        "TRAYMATES_INSTANCE": str(settings.instance),
        "TRAYMATES_SECRET_KEY": settings.secret_key,
        "PORT": str(settings.port),
    }
    command = [sys.executable, "-c", "from app.cli import main; main()", "serve", "--today", DEMO_DAY.isoformat()]
    process = subprocess.Popen(command, env=environ, stdout=subprocess.DEVNULL)
    try:
        wait_for(settings.port)
        yield f"http://{HOST}:{settings.port}"
    finally:
        process.terminate()
        process.wait(timeout=20)
