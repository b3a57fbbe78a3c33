"""A dealt garden, and what tests of the pages of trays do with it."""

from types import SimpleNamespace

from sqlalchemy import select

from app.core.words import Place
from app.services.filled import mark_filled
from app.storage import Session
from app.storage.models import Stay, Tray
from tests import dealing
from tests.conftest import TODAY
from tests.dealing import everything
from tests.web.filling import guards
from tests.web.pages import read_page
from tests.web.seasons import words

# As in tests/services/test_trays.py: trays 3 and 4 hold tomatoes that are sown on Saturday 1 May 2027, in heat until
# Friday 7 May and under lamps until they are potted on, on Friday 21 May; tray 5 cabbage, 6 to 10 pots.
WISHES = ((0, 0, 20), (1, 0, 30), (2, 0, 25), (0, 1, 30), (1, 1, 40), (0, 2, 10))
FREE = 4242


def dealt_garden(engine):
    """Add the garden, deal its season and return the ids of its rows."""
    with Session(engine) as session:
        made = dealing.dealt_garden(session, WISHES)
        return SimpleNamespace(
            growers=[grower.id for grower in made["growers"]],
            crops=[crop.id for crop in made["crops"]],
            boxes=[box.id for box in made["containers"]],
            shelves=[shelf.id for shelf in made["shelves"]],
            sowings={sowing.name: sowing.id for sowing in made["sowings"]},
        )


def change(engine, statement):
    with Session(engine) as session:
        session.execute(statement)
        session.commit()


def sown(engine, *numbers):
    with Session(engine) as session:
        mark_filled(session, numbers, TODAY, today=TODAY)
        session.commit()


def stored(engine):
    with Session(engine) as session:
        return everything(session)


def position(engine, number, place=Place.LAMP):
    with Session(engine) as session:
        where = select(Stay.shelf_id, Stay.level, Stay.slot).join(Tray)
        return tuple(session.execute(where.where(Tray.number == number, Stay.place == place)).one())


def listed(html):
    """Return the numbers of the trays in the list."""
    return [int(cell.text.split()[1]) for cell in read_page(html).all("th") if cell.attributes.get("scope") == "row"]


def post(client, path, page=None, **sent):
    """Send values with what protects the form that goes there, on a page that has it."""
    return client.post(path, data=guards(client, path, page) | sent)


def said_after(client, answer):
    assert answer.status_code == 302
    return words(client.get(answer.location).text)
