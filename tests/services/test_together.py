"""Several people at once: what is looked up before writing still holds when it is written."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from app.services.growers import GrowerValues, add_grower, change_grower, remove_grower
from app.services.names import NameTakenError
from app.services.removal import InUseError
from app.services.sowings import SowingValues, add_sowing
from app.storage import Session
from app.storage.errors import NotFoundError
from app.storage.queries.growers import get_grower
from app.storage.queries.sowings import list_sowings
from tests import rows

PEOPLE = 8


def together(engine, *tasks):
    """Run tasks at the same moment, each with a session of its own that is committed; return what each gave."""
    start = Barrier(len(tasks))

    def run(task):
        start.wait()
        with Session(engine) as session:
            try:
                result = task(session)
                session.commit()
            except (InUseError, NameTakenError, NotFoundError) as error:
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


def test_sowings_added_at_once_have_keys_of_their_own(engine):
    grower, crop = made(engine)
    together(engine, *[lambda session: add_sowing(session, wish(grower, crop)).name for _ in range(PEOPLE)])
    with Session(engine) as session:
        assert [row.name for row in list_sowings(session)] == [f"S-{number:04d}" for number in range(1, PEOPLE + 1)]


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
