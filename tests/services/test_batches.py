"""Batches: changes that are made together are undone together, or not at all."""

import pytest
from sqlalchemy import select

from app.core.words import LogKind
from app.services.batches import BatchStandsError, BatchUndoneError, one_batch, undo_batch
from app.services.bring_in import NewGrower, take_in
from app.services.drafts import keep_all_drafts
from app.services.growers import GrowerValues, add_grower, change_grower, remove_grower
from app.services.log import NewEntry, add_entries
from app.services.sowings import SowingValues
from app.storage.history import note_history
from app.storage.models import Batch, Draft, Grower, Sowing
from app.storage.queries.batches import list_nets
from tests import rows
from tests.conftest import TODAY


def values(name, plot=None):
    return GrowerValues(name=name, plot=plot, contact=None, days=None)


def wish(grower, crop, plants=6):
    rest = dict.fromkeys(("seed_lot_id", "variety", "days_to_maturity", "priority", "plant_out", "risk", "sow_on"))
    return SowingValues(grower_id=grower, crop_id=crop.id, plants=plants, light=None, placed=None, **rest)


def names(session, model=Grower):
    session.expire_all()
    return session.scalars(select(model.name).order_by(model.name)).all()


def reasons(error):
    return [(row.noun, row.name, row.why) for row in error.value.rows]


@pytest.fixture
def garden(session):
    rows.garden(session)
    return rows.crop(session, box=rows.container(session))


def test_added_changed_and_removed_rows_are_all_as_they_were(session, garden):
    kept, gone = rows.grower(session, "Ada Brook"), rows.grower(session, "Mo Adler", days="monday")
    before = {(g.id, g.name, g.plot, g.days) for g in session.scalars(select(Grower))}
    with one_batch(session, "growers put in order") as batch:
        change_grower(session, kept.id, values("Ada Lane", "3"))
        change_grower(session, kept.id, values("Ada Lane", "4"))
        remove_grower(session, gone.id)
        added = add_grower(session, values("Tomas Lind"))
        change_grower(session, added.id, values("Tomas Lind", "9"))
    session.commit()
    assert names(session) == ["Ada Lane", "Tomas Lind"]
    assert undo_batch(session, batch.id) == 3
    session.commit()
    assert {(g.id, g.name, g.plot, g.days) for g in session.scalars(select(Grower))} == before
    with pytest.raises(BatchUndoneError):
        undo_batch(session, batch.id)


def test_wishes_of_last_season_that_were_kept_at_once_wait_again(session, garden):
    grower = rows.grower(session)
    for plants in (6, 9):
        session.add(Draft(grower_id=grower.id, crop_id=garden.id, plants=plants, brings_seed=True, got=5))
    session.flush()
    before = [(d.id, d.plants, d.brings_seed, d.got) for d in session.scalars(select(Draft).order_by(Draft.id))]
    keep_all_drafts(session, grower.id)
    session.commit()
    [batch] = session.scalars(select(Batch)).all()
    assert (batch.rows, len(names(session, Sowing))) == (2, 2)
    undo_batch(session, batch.id)
    session.commit()
    assert names(session, Sowing) == []
    assert [(d.id, d.plants, d.brings_seed, d.got) for d in session.scalars(select(Draft).order_by(Draft.id))] == before
    # keys stand on paper
    assert take_in(session, "again", [wish(grower.id, garden)]).added == (0,)
    assert names(session, Sowing) == ["S-0003"]


def test_growers_made_along_go_with_the_sowings_and_only_where_one_was_added(session, garden):
    far = wish(NewGrower(name="Far"), garden)
    far = type(far)(**{**vars(far), "plant_out": TODAY.replace(year=2099)})
    taken = take_in(session, "sowings pasted", [wish(NewGrower(name="Nia"), garden), far])
    session.commit()
    assert (taken.added, list(taken.refused), taken.growers) == ((0,), [1], ("Nia",))
    assert names(session) == ["Nia"]
    assert {net.noun for net in list_nets(session, taken.batch_id)} == {"grower", "sowing"}
    undo_batch(session, taken.batch_id)
    session.commit()
    assert names(session) == names(session, Sowing) == []


def test_what_was_logged_of_a_sowing_stands_in_the_way_of_all(session, garden):
    grower = rows.grower(session)
    taken = take_in(session, "sowings pasted", [wish(grower.id, garden), wish(grower.id, garden, 9)])
    first = session.scalars(select(Sowing).order_by(Sowing.id)).first()
    entry = NewEntry(sowing_id=first.id, kind=LogKind.SOWN, date=TODAY, count=4)
    add_entries(session, [entry], today=TODAY, account_id=None)
    session.commit()
    with pytest.raises(BatchStandsError) as error:
        undo_batch(session, taken.batch_id)
    assert reasons(error) == [("sowing", "S-0001", "is used by an entry of the log")]
    session.rollback()
    assert len(names(session, Sowing)) == 2


def test_a_name_that_was_taken_since_is_no_row_of_the_batch(session, garden):
    gone = rows.grower(session, "Mo Adler")
    with one_batch(session, "growers put in order") as batch:
        remove_grower(session, gone.id)
    session.commit()
    rows.grower(session, "Mo Adler")
    session.commit()
    with pytest.raises(BatchStandsError) as error:
        undo_batch(session, batch.id)
    assert reasons(error) == [("grower", "Mo Adler", "has a name that another one has by now")]


def test_a_row_that_was_changed_unseen_stands_in_the_way(session, garden):
    taken = take_in(session, "growers pasted", [values("Ada Brook", "3")])
    session.commit()
    session.connection().exec_driver_sql("UPDATE grower SET plot = '4'")
    session.commit()
    with pytest.raises(BatchStandsError) as error:
        undo_batch(session, taken.batch_id)
    assert reasons(error) == [("grower", "Ada Brook", "was changed since")]


@pytest.mark.parametrize("action", ["loaded from a folder", "carried into the next season", "cleared"])
def test_batches_of_before_stand_where_the_garden_is_another(session, garden, action):
    taken = take_in(session, "growers pasted", [values("Ada Brook")])
    note_history(session, "garden", action)
    session.commit()
    with pytest.raises(BatchStandsError) as error:
        undo_batch(session, taken.batch_id)
    assert reasons(error) == [("garden", "", f"was {action} since")]
