"""A garden in the database whose season can be dealt, and what is read back of it as plain rows. All is invented."""

from collections import Counter
from datetime import date, timedelta
from itertools import combinations

from sqlalchemy import select, text

from app.core.words import Light, Place
from app.services.deal import accept_deal, season_days
from app.services.plan import get_plan
from app.services.positions import Target
from app.storage import Session
from app.storage.models import Stay, Tray
from tests import rows
from tests.kept_gardens import kept

TODAY = date(2027, 3, 1)
LAMP_POSITIONS = 5
CLIENTS = 50
DAY = date(2027, 5, 1)
# All that ask for days of one window share a day; windows only touch.
WINDOWS = ((0, 10), (10, 20), (20, 30))


def garden_to_deal(session, wishes=((0, 0, 20), (1, 0, 30), (0, 1, 10)), *, lamp=LAMP_POSITIONS):
    """Add a garden of three growers and three crops, and a sowing of each wish, (grower, crop, plants).

    Tomatoes start in heat and are potted on, peppers start in heat, cabbages stand at a window.

    Returns:
        The rows by noun.
    """
    rows.garden(session)
    start, small, pots = (rows.container(session, f"{n}-cell tray", cells_per_tray=n) for n in (72, 24, 18))
    shelves = [
        rows.shelf(session, "Heat bench", place=Place.HEAT, positions=3),
        rows.shelf(session, "Lamp rack", place=Place.LAMP, positions=lamp),
        rows.shelf(session, "Lamp shelf", place=Place.LAMP, positions=1, levels=1),
        rows.shelf(session, "Window sill", place=Place.WINDOW, positions=4),
        rows.shelf(session, "Cold frame", place=Place.HARDENING, positions=8),
    ]
    tomato = {"heat": True, "pot_on_container_id": pots.id, "pot_on_after_days": 14}
    crops = [
        rows.crop(session, box=start, **tomato),
        rows.crop(session, "Pepper", box=start, heat=True, days_to_emerge=9, indoor_weeks_max=9.0),
        rows.crop(session, "Cabbage", box=small, light=Light.WINDOW, indoor_weeks_min=4.0, indoor_weeks_max=5.0),
    ]
    growers = [rows.grower(session, name) for name in ("Ines Moreau", "Ada Brook", "Jun Sato")]
    sowings = [
        rows.sowing(session, growers[grower], crops[crop], f"S-{number:04d}", plants=plants)
        for number, (grower, crop, plants) in enumerate(wishes, start=1)
    ]
    return {"shelves": shelves, "crops": crops, "growers": growers, "sowings": sowings, "containers": [start, small]}


def dealt_garden(session, wishes=((0, 0, 20), (1, 0, 30), (0, 1, 10))):
    """Add the garden of `garden_to_deal` with its season dealt, commit, and return its rows by noun."""
    made = kept(session, _dealt, wishes)
    session.commit()
    return {
        noun: session.scalars(select(model).where(model.id.in_(ids)).order_by(model.id)).all()
        for noun, (model, ids) in made.items()
    }


def _dealt(session, wishes):
    found = garden_to_deal(session, wishes)
    deal_season(session)
    return {noun: (type(made[0]), [row.id for row in made]) for noun, made in found.items()}


def deal_season(session, *, today=TODAY, mark=None):
    """Deal the whole season and return the proposal that was stored; None where nothing is to be dealt."""
    days = season_days(get_plan(session))
    return days and accept_deal(session, first=days[0], last=days[1], today=today, mark=mark)


def rows_of(session, table, order):
    """Return all rows of a table as the driver gives them."""
    return [tuple(row) for row in session.connection().execute(text(f"SELECT * FROM {table} ORDER BY {order}"))]


def everything(session):
    """Return all rows of dealt trays."""
    return {
        "tray": rows_of(session, "tray", "id"),
        "cell": rows_of(session, "cell", "tray_id, row_number, column_number"),
        "stay": rows_of(session, "stay", "id"),
    }


def cells_of_sowings(session):
    """Return the cells of each sowing in trays that are sown, and in trays of pots, by (sowing, potted on)."""
    query = text(
        "SELECT sowing_id, potted_on, count(*) FROM cell JOIN tray ON tray_id = id"
        " WHERE sowing_id IS NOT NULL GROUP BY 1, 2"
    )
    return Counter({(sowing, bool(potted)): n for sowing, potted, n in session.connection().execute(query)})


def filled_cells(session):
    """Return every cell with something in it, its sowing, its state and the day of its tray."""
    query = text(
        "SELECT tray_id, row_number, column_number, sowing_id, state, sow_on FROM cell JOIN tray ON tray_id = id"
        " WHERE state <> 'empty' ORDER BY 1, 2, 3"
    )
    return [tuple(row) for row in session.connection().execute(query)]


def stays_of(session):
    """Return (tray, position or None, first day, day after the last) of each stay."""
    query = text("SELECT tray_id, shelf_id, level, slot, begin_on, end_on FROM stay ORDER BY id")
    return [
        (tray, None if shelf is None else (shelf, level, slot), str(begin), str(end))
        for tray, shelf, level, slot, begin, end in session.connection().execute(query)
    ]


def clashes(session):
    """Return the pairs of stays that share a position and a day, or a tray and a day."""
    return [
        (one, other)
        for one, other in combinations(stays_of(session), 2)
        if max(one[2], other[2]) < min(one[3], other[3])
        and (one[0] == other[0] or (one[1] is not None and one[1] == other[1]))
    ]


def _tray_under_lamps(session, box, number, days, position):
    tray = Tray(number=number, container_id=box.id, sow_on=DAY, potted_on=False, pinned=False)
    session.add(tray)
    session.flush()
    begin, end = (DAY + timedelta(days=day) for day in days)
    where = dict(zip(("shelf_id", "level", "slot"), position, strict=True))
    stay = Stay(tray_id=tray.id, place=Place.LAMP, begin_on=begin, end_on=end, pinned=False, **where)
    session.add(stay)
    session.flush()
    return stay.id


def ask_for_one_position(engine):
    """Add fifty trays, half of which stand elsewhere, half wait, for days of three windows; commit.

    Returns:
        Their stays, and the one position that all are to ask for.
    """
    with Session(engine) as session:
        rows.garden(session)
        box = rows.container(session)
        last = rows.shelf(session, "Last one", positions=1, levels=1).id
        store = rows.shelf(session, "Long bench", positions=CLIENTS, levels=1).id
        stays = []
        for number in range(CLIENTS):
            first, end = WINDOWS[number % len(WINDOWS)]
            position = (store, 1, number + 1) if number % 2 else (None, None, None)
            days = first + number % 5, end - number % 4
            stays.append(_tray_under_lamps(session, box, number + 1, days, position))
        session.commit()
    return stays, Target(shelf_id=last, level=1, slot=1)


def fifty_that_wait(engine, positions):
    """Add fifty trays that wait on the same days, and a shelf of some positions; commit, return stays and shelf."""
    with Session(engine) as session:
        rows.garden(session)
        box, shelf = rows.container(session), rows.shelf(session, positions=positions, levels=1).id
        stays = [
            _tray_under_lamps(session, box, number, (0, 30), (None, None, None)) for number in range(1, CLIENTS + 1)
        ]
        session.commit()
    return stays, shelf


def three_trays(engine):
    """Add three trays on three positions under the lamps; commit, and return their stays and the shelf."""
    with Session(engine) as session:
        rows.garden(session)
        box, shelf = rows.container(session), rows.shelf(session, positions=3, levels=1).id
        stays = [_tray_under_lamps(session, box, slot, (0, 30), (shelf, 1, slot)) for slot in (1, 2, 3)]
        session.commit()
    return stays, shelf


def slots_of(engine, stays):
    """Return the slots on which some stays are; None for those that wait."""
    with Session(engine) as session:
        slot_of = {row[0]: row[5] for row in everything(session)["stay"]}
    return [slot_of[stay] for stay in stays]


def wrong_winners(engine, before, stays, won):
    """Return what is wrong after all asked for one position: two there on a day, two winners, somebody half moved.

    Args:
        engine: The database.
        before: The rows of stays before, by id.
        stays: Who asked.
        won: The stays of those who were told that they got it.
    """
    with Session(engine) as session:
        found = [("clash", *pair) for pair in clashes(session)]
        after = {row[0]: row for row in everything(session)["stay"]}
    windows = [stays.index(stay) % len(WINDOWS) for stay in won]
    found += [("won twice", window) for window in set(windows) if windows.count(window) > 1]
    found += [("changed", stay) for stay in stays if stay not in won and after[stay] != before[stay]]
    return found + [("not moved", stay) for stay in won if after[stay][3:6] == before[stay][3:6]]


def wrong_deal(engine):
    """Return what is wrong with a season that is dealt: cells twice or missing, numbers twice, clashes."""
    with Session(engine) as session:
        found = [("clash", *pair) for pair in clashes(session)]
        plan, there = get_plan(session), cells_of_sowings(session)
        for index, sowing in enumerate(plan.garden.sowings.ids.tolist()):
            wanted = {(sowing, False): plan.cells[index], (sowing, True): plan.pots[index]}
            found += [("cells", *key) for key, n in wanted.items() if there[key] != n]
        numbers = [row[1] for row in everything(session)["tray"]]
        found += [("number", number) for number in set(numbers) if numbers.count(number) > 1]
        cells = {row[0] for row in everything(session)["cell"]}
        found += [("no cells", row[0]) for row in everything(session)["tray"] if row[0] not in cells]
    return found
