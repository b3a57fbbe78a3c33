"""The database itself refuses to give a cell, a position or a tray away twice, on either engine."""

from datetime import date
from itertools import product

import pytest
from sqlalchemy import delete, insert, update
from sqlalchemy.exc import IntegrityError

from app.core.words import CellState, Place
from app.storage.base import table_of
from app.storage.models import Cell, Stay, Tray
from tests import rows

BEGIN, END = date(2027, 4, 10), date(2027, 4, 20)
SOONER, LATER = date(2027, 4, 1), date(2027, 4, 30)
INSIDE = date(2027, 4, 15)


@pytest.fixture
def shelf(session):
    """Return the id of a shelf."""
    return rows.shelf(session).id


@pytest.fixture
def other_shelf(session):
    """Return the id of another shelf."""
    return rows.shelf(session, "Window sill", place=Place.WINDOW).id


@pytest.fixture
def trays(session):
    """Return the ids of three trays."""
    box = rows.container(session)
    made = [
        Tray(number=number, container_id=box.id, sow_on=SOONER, potted_on=False, pinned=False)
        for number in (11, 12, 13)
    ]
    session.add_all(made)
    session.flush()
    return [tray.id for tray in made]


@pytest.fixture
def sowings(session):
    """Return the ids of two sowings."""
    who, what = rows.grower(session), rows.crop(session, box=rows.container(session, "50-cell tray"))
    return [rows.sowing(session, who, what, name).id for name in ("S-0001", "S-0002")]


def put(session, tray, shelf=None, level=None, slot=None, begin=BEGIN, end=END, **changes):
    """Insert a stay and return its id."""
    fields = {"place": Place.LAMP, "pinned": False}
    position = {"shelf_id": shelf, "level": level, "slot": slot}
    days = {"begin_on": begin, "end_on": end}
    statement = insert(table_of(Stay)).values(**{"tray_id": tray, **fields, **position, **days} | changes)
    return session.execute(statement.returning(table_of(Stay).c.id)).scalar_one()


def change(session, stay, **changes):
    session.execute(update(table_of(Stay)).where(table_of(Stay).c.id == stay).values(**changes))


def fill(session, tray, row, column, sowing=None, state=CellState.EMPTY):
    fields = {"tray_id": tray, "row_number": row, "column_number": column, "sowing_id": sowing, "state": state}
    session.execute(insert(table_of(Cell)).values(**fields))


# Stretches that share a day with the ten days from BEGIN.
SHARED = {
    "the same days": (BEGIN, END),
    "the first day": (SOONER, date(2027, 4, 11)),
    "the last day": (date(2027, 4, 19), LATER),
    "a day within": (INSIDE, date(2027, 4, 16)),
    "all days and more": (SOONER, LATER),
}
# Stretches that share none: one tray leaves on the day on which the other comes.
APART = {"before": (SOONER, BEGIN), "after": (END, LATER)}


class TestPosition:
    @pytest.mark.parametrize(("begin", "end"), SHARED.values(), ids=SHARED)
    def test_holds_one_tray_a_day(self, session, shelf, trays, begin, end):
        put(session, trays[0], shelf, 1, 1)
        with pytest.raises(IntegrityError, match=r"the position is taken|ex_stay_position_once"):
            put(session, trays[1], shelf, 1, 1, begin, end)

    @pytest.mark.parametrize(("begin", "end"), SHARED.values(), ids=SHARED)
    def test_is_not_given_to_a_second_tray_by_new_days(self, session, shelf, trays, begin, end):
        put(session, trays[0], shelf, 1, 1)
        stay = put(session, trays[1], shelf, 1, 1, date(2027, 6, 1), date(2027, 6, 9))
        with pytest.raises(IntegrityError, match=r"the position is taken|ex_stay_position_once"):
            change(session, stay, begin_on=begin, end_on=end)

    def test_is_not_given_to_a_second_tray_by_a_move(self, session, shelf, trays):
        put(session, trays[0], shelf, 1, 1)
        stay = put(session, trays[1], shelf, 1, 2)
        with pytest.raises(IntegrityError, match=r"the position is taken|ex_stay_position_once"):
            change(session, stay, slot=1)

    def test_is_not_given_to_a_tray_that_waited(self, session, shelf, trays):
        put(session, trays[0], shelf, 1, 1)
        stay = put(session, trays[1])
        with pytest.raises(IntegrityError, match=r"the position is taken|ex_stay_position_once"):
            change(session, stay, shelf_id=shelf, level=1, slot=1)

    @pytest.mark.parametrize(("begin", "end"), APART.values(), ids=APART)
    def test_goes_from_tray_to_tray_on_one_day(self, session, shelf, trays, begin, end):
        put(session, trays[0], shelf, 1, 1)
        put(session, trays[1], shelf, 1, 1, begin, end)

    @pytest.mark.parametrize(("level", "slot"), [(1, 2), (2, 1), (50, 10_000)])
    def test_is_another_one_on_another_level_or_slot(self, session, shelf, trays, level, slot):
        put(session, trays[0], shelf, 1, 1)
        put(session, trays[1], shelf, level, slot)

    def test_is_another_one_on_every_shelf_level_and_slot(self, session, shelf, other_shelf, trays):
        box = session.get(Tray, trays[0]).container_id
        positions = list(product((shelf, other_shelf), range(1, 51), (1, 2, 9_999, 10_000)))
        for number, position in enumerate(positions, 100):
            tray = {"number": number, "container_id": box, "sow_on": SOONER, "potted_on": False, "pinned": False}
            made = session.execute(insert(table_of(Tray)).values(**tray).returning(table_of(Tray).c.id)).scalar_one()
            put(session, made, *position)

    def test_is_free_when_its_tray_is_gone(self, session, shelf, trays):
        put(session, trays[0], shelf, 1, 1)
        session.execute(delete(table_of(Tray)).where(table_of(Tray).c.id == trays[0]))
        put(session, trays[1], shelf, 1, 1)

    def test_is_whole(self, session, shelf, trays):
        with pytest.raises(IntegrityError, match="whole_position"):
            put(session, trays[0], shelf, 1)

    @pytest.mark.parametrize(("level", "slot"), [(0, 1), (1, 0)])
    def test_counts_from_1(self, session, shelf, trays, level, slot):
        with pytest.raises(IntegrityError, match="position_counts_from_1"):
            put(session, trays[0], shelf, level, slot)


class TestTray:
    @pytest.mark.parametrize(("begin", "end"), SHARED.values(), ids=SHARED)
    def test_stands_in_one_position_a_day(self, session, shelf, trays, begin, end):
        put(session, trays[0], shelf, 1, 1)
        with pytest.raises(IntegrityError, match=r"the tray stands elsewhere|ex_stay_tray_once"):
            put(session, trays[0], shelf, 1, 2, begin, end)

    @pytest.mark.parametrize(("begin", "end"), SHARED.values(), ids=SHARED)
    def test_does_not_wait_while_it_stands_somewhere(self, session, shelf, trays, begin, end):
        put(session, trays[0], shelf, 1, 1)
        with pytest.raises(IntegrityError, match=r"the tray stands elsewhere|ex_stay_tray_once"):
            put(session, trays[0], begin=begin, end=end)

    def test_is_not_in_two_positions_by_new_days(self, session, shelf, trays):
        put(session, trays[0], shelf, 1, 1)
        stay = put(session, trays[0], shelf, 1, 2, END, LATER)
        with pytest.raises(IntegrityError, match=r"the tray stands elsewhere|ex_stay_tray_once"):
            change(session, stay, begin_on=date(2027, 4, 19))

    def test_is_not_put_into_the_stay_of_another(self, session, shelf, trays):
        put(session, trays[0], shelf, 1, 1)
        stay = put(session, trays[1], shelf, 1, 2)
        with pytest.raises(IntegrityError, match=r"the tray stands elsewhere|ex_stay_tray_once"):
            change(session, stay, tray_id=trays[0])

    @pytest.mark.parametrize(("begin", "end"), APART.values(), ids=APART)
    def test_moves_on_the_day_on_which_it_leaves(self, session, shelf, trays, begin, end):
        put(session, trays[0], shelf, 1, 1)
        put(session, trays[0], shelf, 1, 2, begin, end)

    def test_waits_beside_any_number_of_others(self, session, trays):
        for tray in trays:
            put(session, tray)
        put(session, trays[0], begin=END, end=LATER)

    def test_stays_where_it_is_when_something_else_of_its_stay_changes(self, session, shelf, trays):
        stay = put(session, trays[0], shelf, 1, 1)
        change(session, stay, pinned=True)
        change(session, stay, end_on=LATER, slot=2)

    def test_is_pinned_to_a_position_alone(self, session, shelf, trays):
        put(session, trays[0], shelf, 1, 1, pinned=True)
        with pytest.raises(IntegrityError, match="pin_has_position"):
            put(session, trays[1], pinned=True)

    @pytest.mark.parametrize("end", [BEGIN, SOONER], ids=["the same day", "sooner"])
    def test_leaves_after_it_comes(self, session, shelf, trays, end):
        with pytest.raises(IntegrityError, match="lasts_a_day"):
            put(session, trays[0], shelf, 1, 1, BEGIN, end)

    def test_has_a_number_of_its_own(self, session, trays):
        number = update(table_of(Tray)).where(table_of(Tray).c.id == trays[0]).values(number=12)
        with pytest.raises(IntegrityError, match=r"tray\.number|uq_tray_number"):
            session.execute(number)


class TestCell:
    def test_belongs_to_one_sowing(self, session, trays, sowings):
        fill(session, trays[0], 1, 1, sowings[0])
        with pytest.raises(IntegrityError, match=r"cell\.tray_id|pk_cell"):
            fill(session, trays[0], 1, 1, sowings[1])

    def test_of_another_row_column_or_tray_is_another_one(self, session, trays, sowings):
        for tray, row, column in ((0, 1, 1), (0, 1, 2), (0, 2, 1), (1, 1, 1)):
            fill(session, trays[tray], row, column, sowings[0])

    @pytest.mark.parametrize("state", [state for state in CellState if state is not CellState.EMPTY])
    def test_holds_nothing_that_has_no_sowing(self, session, trays, sowings, state):
        fill(session, trays[0], 1, 1, sowings[0], state)
        with pytest.raises(IntegrityError, match="content_has_sowing"):
            fill(session, trays[0], 1, 2, None, state)

    def test_does_not_lose_its_sowing_while_it_is_sown(self, session, trays, sowings):
        fill(session, trays[0], 1, 1, sowings[0], CellState.SOWN)
        with pytest.raises(IntegrityError, match="content_has_sowing"):
            session.execute(update(table_of(Cell)).values(sowing_id=None))

    def test_is_free_or_kept_while_it_is_empty(self, session, trays, sowings):
        fill(session, trays[0], 1, 1)
        fill(session, trays[0], 1, 2, sowings[0])

    @pytest.mark.parametrize(("row", "column"), [(0, 1), (1, 0)])
    def test_counts_from_1(self, session, trays, row, column):
        with pytest.raises(IntegrityError, match="in_grid"):
            fill(session, trays[0], row, column)

    def test_goes_with_its_tray(self, session, trays, sowings):
        fill(session, trays[0], 1, 1, sowings[0])
        session.execute(delete(table_of(Tray)).where(table_of(Tray).c.id == trays[0]))
        assert session.query(Cell).count() == 0
