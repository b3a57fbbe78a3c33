"""Gardens of one server never meet (OWASP ASVS 5.0.0, 8.4.1): the same numbers in both, and the cookie of the other."""

import pytest
from sqlalchemy.orm import Session

from app import create_app
from app.extensions import db
from app.settings import Settings
from app.storage.engine import make_engine
from app.storage.schema import upgrade
from tests import rows
from tests.conftest import TODAY
from tests.people import sign_in_as

COOKIE = "traymates"


@pytest.fixture
def gardens(tmp_path):
    """Return the applications of two gardens on one server, each with a database and a folder of its own."""
    made = {}
    for who in ("Ines Moreau", "Jun Sato"):
        folder = tmp_path / who
        url = f"sqlite:///{folder / 'garden.sqlite3'}"
        folder.mkdir()
        engine = make_engine(url)
        upgrade(engine)
        with Session(engine) as session:
            rows.garden(session)
            box = rows.container(session)
            rows.sowing(session, rows.grower(session, who), rows.crop(session, box=box), plants=6)
            session.commit()
        engine.dispose()
        made[who] = create_app(Settings(database_url=url, instance=folder, today=TODAY))
    yield made
    for app in made.values():
        with app.app_context():
            db.engine.dispose()


def addresses(app):
    """Return an address of each page that is looked at, by the numbers that both gardens have."""
    with app.test_request_context():
        adapter = app.url_map.bind("localhost")
        for rule in app.url_map.iter_rules():
            if "GET" in rule.methods and rule.endpoint != "static" and set(rule._converters) <= NUMBERED:
                yield adapter.build(rule.endpoint, dict.fromkeys(rule.arguments, 1))


NUMBERED = {"sowing_id", "grower_id", "crop_id", "shelf_id", "number", "container_id", "account_id", "lot_id"}


def test_the_cookie_of_one_garden_opens_nothing_of_another(gardens):
    here, there = gardens.values()
    own = here.test_client()
    sign_in_as(own)
    guest = there.test_client()
    guest.set_cookie(COOKIE, own.get_cookie(COOKIE).value)
    nobody = there.test_client()
    asked = list(addresses(there))
    assert len(asked) > 40
    for address in asked:
        answers = [client.get(address) for client in (guest, nobody)]
        assert answers[0].status_code == answers[1].status_code, address
        assert b"Jun Sato" not in answers[0].data, address
    assert own.get("/growers").status_code == 200


def test_whoever_is_in_one_garden_sees_that_one_alone(gardens):
    for who, app in gardens.items():
        client = app.test_client()
        sign_in_as(client)
        (other,) = set(gardens) - {who}
        pages = [client.get(address, buffered=True).data for address in addresses(app)]
        assert any(who.encode() in page for page in pages)
        assert [page for page in pages if other.encode() in page] == []
