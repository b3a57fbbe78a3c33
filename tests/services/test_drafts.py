import pytest

from app.services.drafts import keep_draft, leave_out_draft
from app.storage.errors import NotFoundError
from app.storage.models import Draft, Sowing
from app.storage.queries.drafts import count_drafts, list_drafts
from tests import rows


@pytest.fixture
def made(session):
    rows.garden(session)
    rows.shelf(session)
    tomato = rows.crop(session, box=rows.container(session))
    lot = rows.seed_lot(session, tomato)
    draft = Draft(
        grower_id=rows.grower(session).id,
        crop_id=tomato.id,
        seed_lot_id=lot.id,
        plants=7,
        variety="Round",
        days_to_maturity=58,
        priority=1,
        brings_seed=True,
        got=5,
    )
    session.add(draft)
    session.flush()
    return draft


def test_what_is_kept_becomes_a_sowing_like_it(session, made):
    wanted = {name: getattr(made, name) for name in ("grower_id", "crop_id", "seed_lot_id", "plants", "variety")}
    wanted |= {"days_to_maturity": 58, "priority": 1, "brings_seed": True, "sow_on": None, "placed": None}
    sowing = keep_draft(session, made.id)
    assert {name: getattr(sowing, name) for name in wanted} == wanted
    assert count_drafts(session) == 0


def test_what_is_left_out_waits_no_longer(session, made):
    (row,) = list_drafts(session, grower_id=made.grower_id)
    assert (row.crop, row.plants, row.got, row.seed_lot) == ("Tomato", 7, 5, "Packet A")
    assert list_drafts(session, grower_id=made.grower_id + 1) == []
    leave_out_draft(session, made.id)
    assert (count_drafts(session), session.query(Sowing).count()) == (0, 0)
    with pytest.raises(NotFoundError):
        leave_out_draft(session, made.id)


def test_a_lot_that_holds_another_crop_by_now_is_not_taken_over(session, made):
    lot = session.get_one(rows.SeedLot, made.seed_lot_id)
    lot.crop_id = rows.crop(session, "Leek").id
    session.flush()
    assert keep_draft(session, made.id).seed_lot_id is None
