"""What is put back is what was made, in every table, whatever became of it in between; SQLAlchemy reads the rows."""

import copy
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.words import LogKind
from app.services.demo import set_up_demo
from app.services.levelling import get_levelling
from app.storage.base import Base
from app.storage.models import Grower, LogEntry, SpareOffer
from app.storage.queries.version import get_mark
from tests.backups import fill, rows_of
from tests.conftest import TODAY
from tests.kept_gardens import kept
from tests.web import everything

NAMES = {9: "=1+1", 3: "Ünal\t“Öz”\n\\N"}


def small_garden(session):
    """Add growers with names that a file of rows must protect; commit."""
    session.add_all(Grower(id=number, name=name) for number, name in NAMES.items())
    session.commit()
    return {"growers": [9, 3]}


def empty(engine):
    with Session(engine) as session:
        for table in reversed(Base.metadata.sorted_tables):
            if table.name != "data_version":
                session.execute(table.delete())
        session.commit()


def test_everything_comes_back_as_it_was_made(engine):
    with Session(engine) as session:
        kept(session, set_up_demo)  # as another test before this one might have
        session.commit()
    empty(engine)
    made, marks = None, []
    for _ in range(3):
        fill(engine)
        found = rows_of(engine, without={"data_version"})
        made = made or copy.deepcopy(found)
        assert found == made
        with Session(engine) as session:
            marks.append(get_mark(session))
            entry, offer = session.scalars(select(LogEntry)).first(), session.scalars(select(SpareOffer)).first()
            # Ids of new rows are free, and an entry may refer to one that was put back.
            right = LogEntry(
                name="again", sowing_id=entry.sowing_id, kind=LogKind.SOWN, date=date(2027, 4, 9), count=1,
                supersedes_id=entry.id,
            )  # fmt: skip
            offer.plants += 1
            session.add_all([right, Grower(name="Came Later")])
            session.commit()
            assert right.id == session.scalar(select(func.max(LogEntry.id)))
        empty(engine)
    assert len(made) > 30
    assert len(set(marks)) == 3


def test_what_it_returned_cannot_be_changed_for_the_next(engine):
    for _ in range(2):
        with Session(engine) as session:
            made = kept(session, small_garden)
            session.commit()
        assert made == {"growers": [9, 3]}
        made["growers"].clear()
        with Session(engine) as session:
            assert dict(session.execute(select(Grower.id, Grower.name)).all()) == NAMES
        empty(engine)


def test_beside_other_rows_it_is_made_anew(engine):
    for name in ("Ada Brandt", "Jun Sato"):
        with Session(engine) as session:
            session.add(Grower(id=1, name=name))
            session.commit()
            assert kept(session, small_garden) == {"growers": [9, 3]}
            assert set(session.scalars(select(Grower.name))) == {name, *NAMES.values()}
        empty(engine)


def test_what_is_not_committed_goes_with_its_transaction(engine):
    for _ in range(2):
        with Session(engine) as session:
            kept(session, uncommitted)
            session.rollback()
        assert rows_of(engine, without={"data_version"}) == {}


def uncommitted(session):
    session.add(Grower(name="Ines Moreau"))


def test_a_plan_that_was_found_still_belongs_to_its_garden(engine):
    """A levelling notes the mark of the data that it is for; `everything` has one."""
    for _ in range(2):
        ids = everything.fill(engine)
        with Session(engine) as session:
            assert get_levelling(session, ids["run_id"], today=TODAY).can_be_accepted
        empty(engine)
