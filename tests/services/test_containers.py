import pytest

from app.services.containers import (
    ContainerValues,
    RowsAndColumnsError,
    add_container,
    change_container,
    remove_container,
)
from app.services.names import NameTakenError
from app.services.removal import InUseError
from app.storage.queries.containers import list_containers
from tests import rows


def values(**changes):
    fields = {"name": "72-cell tray", "cells_per_tray": 72, "cell_volume_ml": 40.0, "rows": 6, "columns": 12}
    return ContainerValues(**fields | changes)


@pytest.mark.parametrize("shape", [(6, 12), (None, None)], ids=["in rows", "without rows"])
def test_a_container_is_added(session, shape):
    down, across = shape
    assert add_container(session, values(rows=down, columns=across)).id > 0


@pytest.mark.parametrize("shape", [(6, 11), (6, None), (None, 12)], ids=["66 cells", "no columns", "no rows"])
def test_rows_and_columns_make_up_the_cells_or_are_both_left_out(session, shape):
    down, across = shape
    with pytest.raises(RowsAndColumnsError):
        add_container(session, values(rows=down, columns=across))


def test_a_name_belongs_to_one_container(session):
    add_container(session, values())
    with pytest.raises(NameTakenError):
        add_container(session, values())


def test_a_container_is_changed_and_removed(session):
    container = add_container(session, values())
    assert change_container(session, container.id, values(cell_volume_ml=44.0)).cell_volume_ml == 44.0
    assert remove_container(session, container.id) == "72-cell tray"
    assert list_containers(session) == []


def test_a_container_that_cards_use_stays(session):
    start, pot = rows.container(session, "tray"), rows.container(session, "pot")
    rows.crop(session, "Basil", box=start)
    rows.crop(session, "Tomato", box=start, pot_on_container_id=pot.id, pot_on_after_days=21)
    for box, names in ((start, ["Basil", "Tomato"]), (pot, ["Tomato"])):
        with pytest.raises(InUseError) as refused:
            remove_container(session, box.id)
        assert [use.name for use in refused.value.uses[0].first] == names


def test_containers_are_listed_with_the_cards_that_use_them_each_card_once(session):
    tray = rows.container(session, "tray", cells_per_tray=128)
    pot = rows.container(session, "pot", cells_per_tray=18)
    rows.crop(session, "Tomato", box=tray, pot_on_container_id=pot.id, pot_on_after_days=21)
    rows.crop(session, "Leek", box=tray, pot_on_container_id=tray.id, pot_on_after_days=21)
    assert [(row.name, row.crops) for row in list_containers(session)] == [("tray", 2), ("pot", 1)]
