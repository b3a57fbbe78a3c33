from dataclasses import fields

import pytest

from app.core.plants.card_rules import CardError
from app.core.words import CountedFrom, Hardiness, Light, Transplanting
from app.services.crops import CropValues, add_crop, change_crop, remove_crop
from app.services.names import NameTakenError
from app.services.removal import InUseError
from app.storage.errors import NotFoundError
from app.storage.models import Crop
from app.storage.queries.crops import list_crops
from tests import rows


def values(box=None, **changes):
    given = dict.fromkeys(field.name for field in fields(CropValues))
    given |= {
        "name": "Tomato",
        "hardiness": Hardiness.TENDER,
        "days_to_maturity": 65,
        "counted_from": CountedFrom.TRANSPLANT,
        "days_to_emerge": 6,
        "heat": False,
        "seeds_per_cell": 2,
        "direct_sow_weeks": 1.0,
    }
    if box is not None:
        given |= {
            "start_container_id": box.id,
            "plant_out_weeks": 1.0,
            "indoor_weeks_min": 6.0,
            "indoor_weeks_max": 8.0,
            "light": Light.LAMP,
        }
    return CropValues(**given | changes)


def test_the_values_of_a_card_are_its_columns():
    columns = {column.name for column in Crop.__table__.columns} - {"id"}
    assert {field.name for field in fields(CropValues)} == columns


def test_a_card_is_added_for_a_crop_started_indoors_and_for_one_sown_outside(session):
    box = rows.container(session)
    add_crop(session, values(box))
    add_crop(session, values(name="Carrot"))
    assert [(row.name, row.container) for row in list_crops(session)] == [("Carrot", None), ("Tomato", box.name)]


def test_every_fault_of_a_card_is_named_at_once(session):
    box = rows.container(session)
    wrong = values(
        box,
        indoor_weeks_max=5.0,
        transplanting=Transplanting.RESENTS,
        pot_on_container_id=box.id,
        pot_on_after_days=20,
    )
    with pytest.raises(CardError) as refused:
        add_crop(session, wrong)
    assert [fault.column for fault in refused.value.faults] == ["indoor_weeks_max", "pot_on_container"]


def test_a_card_needs_a_container_that_is_there(session):
    box = rows.container(session)
    with pytest.raises(NotFoundError):
        add_crop(session, values(box, start_container_id=box.id + 1))


def test_a_name_belongs_to_one_card(session):
    add_crop(session, values())
    with pytest.raises(NameTakenError):
        add_crop(session, values(name="tomato"))


def test_a_refused_change_leaves_the_card_as_it_was(session):
    crop = add_crop(session, values(rows.container(session)))
    with pytest.raises(CardError):
        change_crop(session, crop.id, values(name="Other", direct_sow_weeks=None))
    assert crop.name == "Tomato"
    assert not session.dirty


def test_a_card_with_sowings_and_seed_lots_stays(session):
    crop = add_crop(session, values())
    rows.sowing(session, rows.grower(session), crop)
    rows.seed_lot(session, crop)
    with pytest.raises(InUseError) as refused:
        remove_crop(session, crop.id)
    assert [(uses.noun, uses.count) for uses in refused.value.uses] == [("sowings", 1), ("seed_lots", 1)]


def test_a_card_that_nothing_depends_on_is_removed(session):
    crop = add_crop(session, values())
    assert remove_crop(session, crop.id) == "Tomato"
    assert list_crops(session) == []
