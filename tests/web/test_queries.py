"""No page takes more than 14 queries, and two thousand sowings take no more than ten."""

from sqlalchemy import delete, insert, select

from app.core.fitting.answer import Choices
from app.core.house.label_sheets import StockPaper, single_label
from app.core.words import Place
from app.extensions import db
from app.services import plan
from app.services.deal import accept_deal, season_days
from app.services.filled import mark_filled
from app.services.folder import load_demo
from app.services.plan import get_plan
from app.storage.models import (
    Account,
    Batch,
    CareRound,
    Cell,
    Crop,
    Grower,
    LabelStock,
    LogEntry,
    Printer,
    SeedLot,
    SeedTest,
    Sowing,
    SpareOffer,
    SpareRequest,
    Stay,
    Tray,
)
from tests.conftest import TODAY
from tests.web.fitted import found
from tests.web.seasons import Statements

MOST_QUERIES = 14  # nine of them make the plan, where it is not kept
FEW, MANY = 10, 2_000  # the longest page of a list has 200 rows
# What stands for the variable parts of addresses; the demo garden has all of it.
VALUES = {
    "page": "coordinator",
    "name": "week.png",
    "grower_id": 1,
    "crop_id": 1,
    "batch_id": 1,
    "round_id": 1,
    "entry_id": 1,  # that a tray was sown; `fill` says which
    "sowing_id": 1,
    "container_id": 1,
    "shelf_id": 1,
    "seed_lot_id": 1,
    "seed_test_id": 1,
    "request_id": 1,
    "offer_id": 1,
    "printer_id": 1,
    "stock_id": 1,
    "way": "sheet",
    "week": "2027-W21",
    "place": "lamp",
    "table": "sowings",
    "run_id": 1,  # a levelling with an answer; `fill` says which
    "number": 1,  # a tray that stands under lamps; `fill` says which
}
UNUSED = 900_000
NO_PAGES = {"static", "sign_in.slip", "feeds.feed", "next_season.folder"}
# What calendars are told is written down the first time; tests/web/test_feeds.py counts the queries of the next.
NO_PAGES |= {"feeds.of_garden", "feeds.of_grower"}


def addresses(app):
    """Return every address that answers a GET by its rule, sheets as PDF left out: they ask what their pages ask."""
    found = {
        "/T of no tray": f"/T/{UNUSED}",
        "start": f"/trays/{UNUSED}/start",
        "what another day does": f"/sowings/{VALUES['sowing_id']}/day?placed=1",
    }
    with app.test_request_context():
        values = VALUES | {"account_id": db.session.scalar(select(Account.id))}
        for rule in app.url_map.iter_rules():
            if "GET" in (rule.methods or ()) and rule.endpoint not in NO_PAGES and not rule.rule.endswith(".pdf"):
                _, found[rule.rule] = rule.build({name: values[name] for name in rule.arguments})
    return found


def queries_of(app, client):
    """Return how many queries each page takes when nothing of it is kept, the plan's included."""
    statements, counts = Statements(app), {}
    for rule, address in addresses(app).items():
        app.extensions["kept_pages"]._pages.clear()
        plan._Keeper.kept = None
        statements.clear()
        # In a language in which a list by crop asks for the names first.
        answer = client.get(address, headers={"Accept-Language": "fr"})
        assert answer.status_code < 400, f"{address} answers {answer.status_code}"
        counts[rule] = len(statements)
    return counts


def fill(session, sowings):
    """Load the demo garden with other sowings: so many, from all growers, some of each crop card, one of a seed lot.

    All are dealt, and some trays sown.
    """
    load_demo(session, replace=True)
    session.merge(Printer(id=1, name="Office", offset_x_mm=0, offset_y_mm=0, scale_percent=100, turned=False))
    session.merge(LabelStock(id=1, name="Blue box", **vars(single_label(57, 32)) | {"paper": StockPaper.A4}))
    session.merge(Batch(id=1, at=1.5, what="growers pasted", rows=0, digest=""))
    session.merge(CareRound(id=1, date=TODAY, grower_id=1, is_offered=True, is_swapped=False))
    session.merge(SeedTest(id=1, seed_lot_id=VALUES["seed_lot_id"], date=TODAY, tried=20, up=15, days=10))
    session.execute(delete(Sowing))
    growers, crops = (session.scalars(select(model.id).order_by(model.id)).all() for model in (Grower, Crop))
    of_lot = session.get(SeedLot, VALUES["seed_lot_id"]).crop_id
    wishes = [
        {
            "id": number,
            "name": f"S{number}",
            "grower_id": growers[(number - 1) % len(growers)],
            "crop_id": of_lot if number == 1 else crops[(number - 2) % len(crops)],
            "seed_lot_id": VALUES["seed_lot_id"] if number == 1 else None,
            "plants": number % 12 + 1,
        }
        for number in range(1, sowings + 1)
    ]
    session.execute(insert(Sowing), wishes)
    session.commit()
    session.merge(SpareRequest(id=1, grower_id=growers[1], crop_id=of_lot, plants=3, date=TODAY))
    session.merge(SpareOffer(id=1, sowing_id=1, plants=3, date=TODAY))
    session.commit()
    deal_all(session)
    of_first = select(Cell.tray_id).where(Cell.sowing_id == 1)
    under_lamps = select(Tray.number).join(Stay).where(Stay.place == Place.LAMP, Tray.id.not_in(of_first))
    mark_filled(session, session.scalars(under_lamps.limit(2)).all(), TODAY, today=TODAY)
    session.commit()
    deal_all(session)
    # One that is not sown yet, so that its sowings can change trays.
    VALUES["entry_id"] = session.scalar(select(LogEntry.id).order_by(LogEntry.id).limit(1))
    VALUES["run_id"] = found(session, one_plant_fewer(session))
    VALUES["number"] = session.scalar(under_lamps.where(Tray.sow_on > TODAY).order_by(Tray.number).limit(1))
    session.rollback()


def one_plant_fewer(session):
    """Return the choices that take a plant off every sowing."""
    sowings = get_plan(session).garden.sowings
    return Choices(sow_on=sowings.sow_on, light=sowings.light, placed=sowings.plants - 1)


def deal_all(session):
    first, last = season_days(get_plan(session))
    accept_deal(session, first=first, last=last, today=TODAY)
    session.commit()


def test_no_page_takes_more_queries_for_many_sowings_than_for_few(app, client, session):
    fill(session, FEW)
    client.get("/")  # what is asked once in a while, such as the age of the last backup, is asked now
    for_few = queries_of(app, client)
    assert len(for_few) > 30
    fill(session, MANY)
    assert queries_of(app, client) == for_few
    assert {address: count for address, count in for_few.items() if count > MOST_QUERIES} == {}
