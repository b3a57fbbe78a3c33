"""Several people at once: what is looked up before writing still holds when it is written."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from functools import partial
from threading import Barrier

import pytest

from app.core.words import Place, Role, Units
from app.services import accounts
from app.services.accounts import invite
from app.services.containers import ContainerValues, add_container
from app.services.copying import copy_garden
from app.services.folder import NotEmptyError, load_folder
from app.services.garden import GardenThereError, StartValues, start_garden
from app.services.growers import GrowerValues, add_grower, change_grower, remove_grower
from app.services.levelling import NoAnswerError, accept_levelling
from app.services.names import NameTakenError
from app.services.printing import PrinterValues, add_printer
from app.services.removal import InUseError
from app.services.shelves import ShelfValues, add_shelf
from app.services.sowings import SowingValues, add_sowing
from app.services.trays import NumberTakenError, renumber_tray, start_empty_tray
from app.storage import Session
from app.storage.engine import make_engine, reading
from app.storage.errors import NotFoundError
from app.storage.queries.growers import get_grower
from app.storage.queries.sowings import list_sowing_ids, list_sowings
from app.storage.queries.trays import list_trays
from app.storage.schema import upgrade
from tests import rows
from tests.conftest import TODAY
from tests.services.levelling_steps import run
from tests.storage.small_folder import FILES, write_files

PEOPLE = 8
REFUSALS = (
    GardenThereError,
    InUseError,
    NameTakenError,
    NoAnswerError,
    NotEmptyError,
    NotFoundError,
    NumberTakenError,
    accounts.NameTakenError,
)


def together(engine, *tasks):
    """Run tasks at the same moment, each with a session of its own that is committed; return what each gave."""
    start = Barrier(len(tasks))

    def run(task):
        start.wait()
        with Session(engine) as session:
            try:
                result = task(session)
                session.commit()
            except REFUSALS as error:
                session.rollback()
                return type(error)
            return result

    with ThreadPoolExecutor(len(tasks)) as pool:
        return list(pool.map(run, tasks))


def values(name="Ada Brook", **changes):
    return GrowerValues(name=name, **{"plot": None, "contact": None, "days": None} | changes)


def wish(grower, crop):
    nothing = dict.fromkeys(
        ("seed_lot_id", "variety", "days_to_maturity", "priority", "plant_out", "risk", "sow_on", "light", "placed")
    )
    return SowingValues(grower_id=grower, crop_id=crop, plants=6, **nothing)


def made(engine):
    """Return the ids of a grower and a crop of a garden."""
    with Session(engine) as session:
        rows.garden(session)
        ids = rows.grower(session).id, rows.crop(session).id
        session.commit()
    return ids


def test_a_name_goes_to_one_of_many_who_ask_for_it_at_once(engine):
    made(engine)
    results = together(engine, *[lambda session: add_grower(session, values()).id for _ in range(PEOPLE)])
    assert results.count(NameTakenError) == PEOPLE - 1


def shelf(name):
    nothing = dict.fromkeys(("positions", "bench_temp_c", "ppfd", "hours_per_day", "watts", "pan_depth_mm", "fan"))
    return ShelfValues(name=name, place=Place.LAMP, width_cm=122.0, depth_cm=61.0, levels=2, **nothing)


def box(name):
    return ContainerValues(name=name, cells_per_tray=72, cell_volume_ml=40.0, rows=None, columns=None)


def printer(name):
    return PrinterValues(name=name, offset_x_mm=0.0, offset_y_mm=0.0, scale_percent=100.0, turned=False)


# What has names of its own, and how one of it is added.
NAMED = {
    "container": lambda session, name: add_container(session, box(name)),
    "printer": lambda session, name: add_printer(session, printer(name)),
    "shelf": lambda session, name: add_shelf(session, shelf(name)),
    "account": lambda session, name: invite(session, name, Role.MEMBER, None),
}


@pytest.mark.parametrize("noun", NAMED)
def test_each_noun_gives_a_name_once_capital_letters_or_not(engine, noun):
    names = ["Ada", "ada", "ADA", "Ada"] * 2
    results = together(engine, *[lambda session, name=name: NAMED[noun](session, name).id for name in names])
    assert sum(isinstance(result, int) for result in results) == 1
    assert {result.__name__ for result in results if not isinstance(result, int)} == {"NameTakenError"}


def test_two_that_get_the_same_name_at_once_do_not_both_keep_it(engine):
    with Session(engine) as session:
        ids = [rows.grower(session, name).id for name in ("One", "Two", "Three")]
        session.commit()
    results = together(engine, *[lambda session, at=at: change_grower(session, at, values("Same")).id for at in ids])
    assert results.count(NameTakenError) == 2


def test_a_garden_is_set_up_once(engine):
    start = StartValues(name="Wrenmoor", season=2027, units=Units.METRIC, latitude=47.1, last="05-10", first="09-26")
    results = together(engine, *[lambda session: start_garden(session, start).id for _ in range(PEOPLE)])
    assert results.count(GardenThereError) == PEOPLE - 1


def test_one_of_many_folders_is_loaded_into_an_empty_database(engine, tmp_path):
    folder = write_files(tmp_path / "garden", FILES)
    results = together(engine, *[lambda session: load_folder(session, folder) for _ in range(4)])
    assert results.count(NotEmptyError) == 3
    with Session(engine) as session:
        assert len(list_sowing_ids(session)) == next(one for one in results if isinstance(one, dict))["sowings.csv"]


def test_a_garden_is_copied_once_into_one_database(engine, tmp_path):
    made(engine)
    target = make_engine(f"sqlite:///{tmp_path / 'target.sqlite3'}")
    upgrade(target)

    def copy(session):
        with Session(engine) as source:
            with reading():
                source.connection()
            return copy_garden(source, session)

    assert together(target, *[copy] * 3).count(NotEmptyError) == 2
    target.dispose()


def test_a_number_goes_to_one_tray_of_many(engine):
    with Session(engine) as session:
        container = rows.container(session).id
        session.commit()
    start = partial(start_empty_tray, number=7, container_id=container, day=date(2027, 3, 6))
    assert together(engine, *[start] * PEOPLE).count(NumberTakenError) == PEOPLE - 1
    with Session(engine) as session:
        for number in (1, 2, 3):
            start_empty_tray(session, number, container, date(2027, 3, 6))
        session.commit()
    results = together(engine, *[partial(renumber_tray, number=number, new=9) for number in (1, 2, 3)])
    assert results.count(NumberTakenError) == 2
    with Session(engine) as session:
        assert sorted(tray.number for tray in list_trays(session))[-2:] == [7, 9]


def test_an_answer_is_accepted_once(engine, session, tomatoes, search):
    levelling = run(session)
    session.rollback()
    accept = partial(accept_levelling, levelling_id=levelling, today=TODAY)
    results = together(engine, *[accept] * 4)
    assert 3 in results
    assert results.count(NoAnswerError) == 3


def test_sowings_added_at_once_have_keys_of_their_own(engine):
    grower, crop = made(engine)
    together(engine, *[lambda session: add_sowing(session, wish(grower, crop)).name for _ in range(PEOPLE)])
    with Session(engine) as session:
        found = list_sowings(session, list_sowing_ids(session))
        assert [row.name for row in found] == [f"S-{number:04d}" for number in range(1, PEOPLE + 1)]


def test_a_grower_who_is_removed_while_they_get_a_sowing_is_either_gone_or_stays_with_it(engine):
    _, crop = made(engine)
    for number in range(5):
        with Session(engine) as session:
            grower = rows.grower(session, f"Passing {number}").id
            session.commit()
        added, removed = together(
            engine,
            lambda session, grower=grower: add_sowing(session, wish(grower, crop)).name,
            lambda session, grower=grower: remove_grower(session, grower),
        )
        assert (added is NotFoundError) is (removed == f"Passing {number}")
        assert (removed is InUseError) is isinstance(added, str)


def test_a_grower_removed_by_somebody_else_is_not_found_on_saving(engine):
    grower, _ = made(engine)
    seen, gone = Barrier(2), Barrier(2)

    def change(session):
        if engine.dialect.name == "postgresql":
            get_grower(session, grower)  # opened before the other one removes it
        seen.wait()
        gone.wait()
        return change_grower(session, grower, values("Late")).id

    def remove(session):
        seen.wait()
        name = remove_grower(session, grower)
        session.commit()
        gone.wait()
        return name

    assert together(engine, change, remove) == [NotFoundError, "Ines Moreau"]
