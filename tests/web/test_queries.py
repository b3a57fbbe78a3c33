"""No page takes more than 12 queries, and ten thousand sowings take no more than ten."""

from sqlalchemy import delete, insert, select

from app.core.label_sheets import StockPaper, single_label
from app.services import plan
from app.services.folder import load_demo
from app.storage.models import Crop, Grower, LabelStock, Printer, SeedLot, Sowing
from tests.web.seasons import Statements

MOST_QUERIES = 12
FEW, MANY = 10, 10_000
# What stands for the variable parts of addresses; the demo garden has all of it.
VALUES = {
    "grower_id": 1,
    "crop_id": 1,
    "sowing_id": 1,
    "container_id": 1,
    "shelf_id": 1,
    "seed_lot_id": 1,
    "printer_id": 1,
    "stock_id": 1,
    "way": "sheet",
    "week": "2027-W21",
}
NO_PAGES = {"static"}


def addresses(app):
    """Return every address that answers a GET, sheets as PDF left out: they ask what their pages ask."""
    found = []
    with app.test_request_context():
        for rule in app.url_map.iter_rules():
            if "GET" in (rule.methods or ()) and rule.endpoint not in NO_PAGES and not rule.rule.endswith(".pdf"):
                _, address = rule.build({name: VALUES[name] for name in rule.arguments})
                found.append(address)
    return sorted(found)


def queries_of(app, client):
    """Return how many queries each page takes when nothing of it is kept, the plan's included."""
    statements, counts = Statements(app), {}
    for address in addresses(app):
        app.extensions["kept_pages"]._pages.clear()
        plan._Keeper.kept = None
        statements.clear()
        answer = client.get(address)
        assert answer.status_code < 400, f"{address} answers {answer.status_code}"
        counts[address] = len(statements)
    return counts


def fill(session, sowings):
    """Load the demo garden with other sowings: so many, from all growers, some of each crop card, one of a seed lot."""
    load_demo(session, replace=True)
    session.merge(Printer(id=1, name="Office", offset_x_mm=0, offset_y_mm=0, scale_percent=100, turned=False))
    session.merge(LabelStock(id=1, name="Blue box", **vars(single_label(57, 32)) | {"paper": StockPaper.A4}))
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


def test_no_page_takes_more_queries_for_many_sowings_than_for_few(app, client, session):
    fill(session, FEW)
    for_few = queries_of(app, client)
    assert len(for_few) > 30
    fill(session, MANY)
    assert queries_of(app, client) == for_few
    assert {address: count for address, count in for_few.items() if count > MOST_QUERIES} == {}
