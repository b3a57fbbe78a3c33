import pytest

from app.core.words import Origin
from app.services.names import NameTakenError
from app.services.removal import InUseError
from app.services.seed_lots import (
    CropOfUsedLotError,
    NumberAsNameError,
    SeedLotValues,
    add_seed_lot,
    change_seed_lot,
    remove_seed_lot,
)
from app.storage.errors import NotFoundError
from app.storage.queries.seed_lots import list_seed_lots
from tests import rows


@pytest.fixture
def tomato(session):
    return rows.crop(session, "Tomato", botanical="Solanum lycopersicum")


def values(crop, **changes):
    fields = {"name": "TOM-A", "variety": "Little Amber", "germination": 0.8, "origin": Origin.BOUGHT, "year": 2026}
    return SeedLotValues(crop_id=crop.id, **fields | changes)


def test_a_seed_lot_is_added_and_listed(session, tomato):
    lot = add_seed_lot(session, values(tomato))
    grower = rows.grower(session)
    rows.sowing(session, grower, tomato, seed_lot_id=lot.id)
    (row,) = list_seed_lots(session)
    assert (row.name, row.crop, row.germination, row.sowings) == ("TOM-A", "Tomato", 0.8, 1)


def test_a_name_that_a_spreadsheet_would_rewrite_is_refused(session, tomato):
    with pytest.raises(NumberAsNameError):
        add_seed_lot(session, values(tomato, name="22.5"))


def test_such_a_name_from_a_folder_can_still_be_saved(session, tomato):
    lot = rows.seed_lot(session, tomato, "2026")
    assert change_seed_lot(session, lot.id, values(tomato, name="2026", year=2025)).year == 2025


def test_a_name_belongs_to_one_seed_lot(session, tomato):
    add_seed_lot(session, values(tomato))
    with pytest.raises(NameTakenError):
        add_seed_lot(session, values(tomato))


def test_there_must_be_such_a_crop(session, tomato):
    with pytest.raises(NotFoundError):
        add_seed_lot(session, SeedLotValues(**{**vars(values(tomato)), "crop_id": tomato.id + 1}))


def test_a_lot_changes_its_crop_only_while_no_sowing_takes_it(session, tomato):
    leek = rows.crop(session, "Leek")
    lot = add_seed_lot(session, values(tomato))
    change_seed_lot(session, lot.id, values(leek))
    sowing = rows.sowing(session, rows.grower(session), leek, seed_lot_id=lot.id)
    with pytest.raises(CropOfUsedLotError):
        change_seed_lot(session, lot.id, values(tomato))
    with pytest.raises(InUseError) as refused:
        remove_seed_lot(session, lot.id)
    assert [use.id for use in refused.value.uses[0].first] == [sowing.id]


def test_a_lot_that_nothing_takes_is_removed(session, tomato):
    lot = add_seed_lot(session, values(tomato))
    assert remove_seed_lot(session, lot.id) == "TOM-A"
    assert list_seed_lots(session) == []
