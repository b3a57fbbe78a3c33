from datetime import date

import pytest

from app.core.words import CellState
from app.services.containers import (
    ContainerValues,
    RowsAndColumnsError,
    add_container,
    change_container,
    remove_container,
)
from app.services.names import NameTakenError
from app.services.removal import InUseError
from app.storage.models import Cell, Tray
from app.storage.queries.containers import list_containers
from app.storage.queries.trays import get_cells
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


def test_trays_that_are_not_sown_follow_the_grid_of_their_container(session):
    box = rows.container(session, cells_per_tray=6, rows=2, columns=3)
    wish = rows.sowing(session, rows.grower(session), rows.crop(session, box=box))
    tray = Tray(number=1, container_id=box.id, sow_on=date(2027, 4, 10), potted_on=False, pinned=False)
    session.add(tray)
    session.flush()
    session.add_all(
        Cell(tray_id=tray.id, row_number=row, column_number=column, sowing_id=owner, state=CellState.EMPTY)
        for row, column, owner in ((1, 1, wish.id), (2, 1, wish.id), (2, 2, wish.id), (1, 2, None))
    )
    change_container(session, box.id, values(name=box.name, cells_per_tray=8, rows=2, columns=4))
    owners = {(cell.row_number, cell.column_number): cell.sowing_id for cell in get_cells(session, tray.id)}
    assert set(owners) == {(row, column) for row in (1, 2) for column in (1, 2, 3, 4)}
    assert {cell for cell, owner in owners.items() if owner == wish.id} == {(1, 1), (2, 1), (2, 2)}
