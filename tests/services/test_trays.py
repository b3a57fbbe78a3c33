"""Trays by hand: what is exchanged, marked, started, renumbered and removed; and what depends on trays."""

from collections import Counter
from datetime import date

import numpy as np
import pytest
from sqlalchemy import select, update

from app.core.dealing.apart import Differs
from app.core.dealing.offers import NOBODY, list_offers
from app.core.log.rules import LogRuleError, Rule
from app.core.words import CellState, LogKind, Place
from app.services import trays as by_hand
from app.services.containers import ContainerValues, GridIsSownError, change_container, remove_container
from app.services.deal import StaleDealError
from app.services.filled import NotYetError, mark_filled, unmark_filled
from app.services.log import NewEntry, add_entries
from app.services.plan import get_plan
from app.services.removal import InUseError
from app.services.shelves import remove_shelf
from app.services.sowings import CropIsSownError, SowingValues, change_sowing, remove_sowing
from app.services.trays import (
    CannotShareError,
    Lot,
    NoRoomError,
    NotInTrayError,
    NumberTakenError,
    SownError,
    exchange_sowings,
    pin_tray,
    remove_tray,
    renumber_tray,
    start_empty_tray,
    start_planned_tray,
)
from app.storage.errors import NotFoundError
from app.storage.models import Cell, Sowing, Stay, Tray
from app.storage.queries.trays import get_tray, list_cells, list_stays, list_trays
from app.storage.queries.version import get_mark
from tests.dealing import TODAY, deal_season, dealt_garden, everything, garden_to_deal

# Dealt by hand count: peppers of 53 and 40 cells in trays 1 and 2; tomatoes of 28 and 40 in tray 3, of 34 in tray 4;
# cabbage of 14 in tray 5; trays 6 to 10 hold tomatoes in pots. Growers and crops are indices.
WISHES = ((0, 0, 20), (1, 0, 30), (2, 0, 25), (0, 1, 30), (1, 1, 40), (0, 2, 10))
POTS = (6, 7, 8, 9, 10)
DAY = date(2027, 5, 1)
LATER = date(2027, 8, 1)


@pytest.fixture
def garden(session):
    """Deal a season; sowings by key, the others by noun."""
    found = dealt_garden(session, WISHES)
    return found | {sowing.name: sowing.id for sowing in found["sowings"]}


def contents(session, number):
    """Return the cells of each sowing of a tray by its key."""
    return Counter(cell.sowing for cell in list_cells(session, [get_tray(session, number).id]))


def states(session, number):
    return {cell.state for cell in list_cells(session, [get_tray(session, number).id])}


def lot(garden, number, key):
    return Lot(number=number, sowing_id=garden[key])


def wish(session, key, **changes):
    row = session.scalars(select(Sowing).where(Sowing.name == key)).one()
    names = SowingValues.__dataclass_fields__
    return row.id, SowingValues(**{name: getattr(row, name) for name in names} | changes)


class TestExchange:
    def test_two_sowings_change_trays_and_both_trays_are_pinned(self, session, garden):
        assert contents(session, 3) == {"S-0001": 28, "S-0002": 40}
        exchange_sowings(session, lot(garden, 3, "S-0002"), 4, garden["S-0003"])
        assert [tray.pinned for tray in list_trays(session)][2:4] == [True, True]
        for _ in range(2):
            assert contents(session, 3) == {"S-0001": 28, "S-0003": 34}
            assert contents(session, 4) == {"S-0002": 40}
            deal_season(session)

    def test_a_sowing_goes_into_free_cells_beside_others_that_keep_theirs(self, session, garden):
        before = {(cell.row, cell.column) for cell in list_cells(session, [get_tray(session, 4).id])}
        exchange_sowings(session, lot(garden, 3, "S-0001"), 4, None)
        assert contents(session, 3) == {"S-0002": 40}
        cells = list_cells(session, [get_tray(session, 4).id])
        assert {(cell.row, cell.column) for cell in cells if cell.sowing == "S-0003"} == before
        assert len(cells) == 28 + 34

    def test_a_tray_that_is_left_empty_stands_nowhere_any_more(self, session, garden):
        exchange_sowings(session, lot(garden, 3, "S-0001"), 4, None)
        start_empty_tray(session, 50, garden["containers"][0].id, DAY)
        exchange_sowings(session, lot(garden, 3, "S-0002"), 50, None)
        assert list_stays(session, [get_tray(session, 3).id]) == []
        remove_tray(session, 3)
        deal_season(session)
        assert contents(session, 50) == {"S-0002": 40}
        assert len(list_stays(session, [get_tray(session, 50).id])) == 2  # in heat, and under lamps

    def test_too_few_free_cells_are_said_and_nothing_is_moved(self, session, garden):
        with pytest.raises(NoRoomError) as refused:
            exchange_sowings(session, lot(garden, 4, "S-0003"), 3, None)
        assert (refused.value.number, refused.value.free, refused.value.needed) == (3, 4, 34)
        session.rollback()
        assert contents(session, 4) == {"S-0003": 34}

    @pytest.mark.parametrize(
        ("goes", "to", "differs"),
        [
            # Peppers are sown a week before tomatoes and are not potted on; both are up within 10 days.
            ((1, "S-0005"), 4, {Differs.DAY, Differs.POTTING_ON, Differs.LEAVING}),
            ((5, "S-0006"), 4, {Differs.CONTAINER}),
            ((6, "S-0001"), 3, {Differs.POTTING_ON}),  # pots are no cells
        ],
        ids=["another day", "another container", "pots"],
    )
    def test_what_cannot_share_is_refused_with_the_reason(self, session, garden, goes, to, differs):
        with pytest.raises(CannotShareError) as refused:
            exchange_sowings(session, lot(garden, *goes), to, None)
        assert set(refused.value.differs) == differs

    def test_what_is_sown_stays_in_its_cells(self, session, garden):
        mark_filled(session, [3], DAY, today=DAY)
        for goes, to, comes in (((3, "S-0001"), 4, None), ((4, "S-0003"), 3, garden["S-0001"])):
            with pytest.raises(SownError):
                exchange_sowings(session, lot(garden, *goes), to, comes)
            session.rollback()
            mark_filled(session, [3], DAY, today=DAY)

    def test_cells_that_are_sown_are_not_unsown_by_others_of_their_sowing(self, session, garden):
        query = update(Cell).where(Cell.tray_id == get_tray(session, 4).id, Cell.sowing_id == garden["S-0003"])
        session.execute(query.where(Cell.column_number <= 2).values(sowing_id=garden["S-0002"], state=CellState.SOWN))
        with pytest.raises(SownError):
            exchange_sowings(session, lot(garden, 3, "S-0002"), 4, None)

    @pytest.mark.parametrize(("number", "key", "to"), [(3, "S-0003", 4), (3, "S-0001", 3)])
    def test_a_sowing_that_is_not_there_does_not_go(self, session, garden, number, key, to):
        with pytest.raises(NotInTrayError):
            exchange_sowings(session, lot(garden, number, key), to, None)

    def test_a_tray_that_is_not_there_is_not_found(self, session, garden):
        with pytest.raises(NotFoundError):
            exchange_sowings(session, lot(garden, 3, "S-0001"), 99, None)

    def test_exactly_what_is_offered_is_taken(self, session, garden):
        """Every way to change trays is tried: into each tray, and for each sowing in it."""
        start_empty_tray(session, 50, garden["containers"][0].id, DAY)
        mark_filled(session, [2], DAY, today=DAY)
        session.commit()
        plan = get_plan(session)
        dealt, ids = plan.garden.dealt, plan.garden.sowings.ids
        offered = {
            (int(dealt.number[tray]), int(ids[lot]), int(dealt.number[offer.tray]), offer.lot)
            for tray, lot in zip(dealt.part_tray.tolist(), dealt.part_lot.tolist(), strict=True)
            for offer in list_offers(plan, tray, lot)
        }
        taken = set()
        for tray, goes in zip(dealt.part_tray.tolist(), dealt.part_lot.tolist(), strict=True):
            for to in range(len(dealt)):
                for comes in (NOBODY, *dealt.part_lot[dealt.part_tray == to].tolist()):
                    way = (int(dealt.number[tray]), int(ids[goes]), int(dealt.number[to]))
                    other = None if comes == NOBODY else int(ids[comes])
                    if comes != goes and self.is_taken(session, way, other):
                        taken.add((*way, comes))
        # By hand, whole trays of different days could be exchanged with one another; that is not offered.
        alike = {way for way in taken if way[3] == NOBODY or way in offered or not self.are_apart(plan, way)}
        assert offered == alike
        assert len(offered) > 10

    @staticmethod
    def is_taken(session, way, other):
        number, sowing, to = way
        try:
            exchange_sowings(session, Lot(number=number, sowing_id=sowing), to, other)
        except (CannotShareError, NoRoomError, NotInTrayError, SownError):
            return False
        finally:
            session.rollback()
        return True

    @staticmethod
    def are_apart(plan, way):
        """Tell whether two sowings differ in their day of sowing."""
        return plan.timeline.sow_on[plan.index_of[way[1]]] != plan.timeline.sow_on[way[3]]


@pytest.mark.usefixtures("garden")
class TestFilled:
    def test_a_tray_is_marked_as_sown_on_its_day_and_that_is_taken_back(self, session):
        mark_filled(session, [3], date(2027, 5, 3), today=DAY.replace(day=3))
        assert states(session, 3) == {CellState.SOWN}
        assert get_tray(session, 3).sow_on == date(2027, 5, 3)
        unmark_filled(session, 3, today=LATER)
        assert states(session, 3) == {CellState.EMPTY}

    # Tray 3 was to be sown on 1 May, in heat until 7 May, and under lamps until 21 May; later, all of it is later.
    @pytest.mark.parametrize(
        ("day", "places"),
        [
            (date(2027, 5, 1), [(Place.HEAT, 1, 7), (Place.LAMP, 7, 21)]),
            (date(2027, 5, 4), [(Place.HEAT, 4, 10), (Place.LAMP, 10, 21)]),
            (date(2027, 5, 9), [(Place.HEAT, 9, 15), (Place.LAMP, 15, 21)]),  # pots come to its position
        ],
    )
    def test_a_tray_that_is_sown_late_was_nowhere_before_that_day(self, session, day, places):
        mark_filled(session, [3], day, today=day)
        stays = list_stays(session, [get_tray(session, 3).id])
        assert [(stay.place, stay.begin_on.day, stay.end_on.day) for stay in stays] == places
        deal_season(session, today=day)
        first = list_stays(session, [get_tray(session, 3).id])[0]
        assert (first.place, first.begin_on) == (Place.HEAT, day)
        assert (first.end_on - day).days == 6  # as the crop card says

    def test_a_tray_that_is_sown_in_part_keeps_its_day(self, session):
        mark_filled(session, [3], DAY, today=DAY)
        session.execute(
            update(Cell)
            .where(Cell.tray_id == get_tray(session, 3).id, Cell.column_number == 1)
            .values(state=CellState.EMPTY)
        )
        mark_filled(session, [3], LATER, today=LATER)
        assert states(session, 3) == {CellState.SOWN}
        assert get_tray(session, 3).sow_on == DAY

    def test_pots_are_up_once_they_are_filled(self, session):
        with pytest.raises(LogRuleError):  # nothing of them is sown
            mark_filled(session, POTS[:1], LATER, today=LATER)
        session.rollback()
        mark_filled(session, [3, 4], DAY, today=DAY)
        mark_filled(session, POTS[:1], LATER, today=LATER)
        assert states(session, POTS[0]) == {CellState.UP}
        unmark_filled(session, POTS[0], today=LATER)
        assert states(session, POTS[0]) == {CellState.EMPTY}

    def test_free_cells_stay_free(self, session):
        mark_filled(session, [5], DAY, today=DAY)
        tray = get_tray(session, 5).id
        query = select(Cell.state).where(Cell.tray_id == tray, Cell.sowing_id.is_(None))
        assert set(session.scalars(query)) == {CellState.EMPTY}

    def test_what_came_up_or_was_lost_since_is_not_taken_back(self, session):
        mark_filled(session, [3], DAY, today=DAY)
        tray = get_tray(session, 3).id
        one = select(Cell).where(Cell.tray_id == tray, Cell.sowing_id.is_not(None)).limit(1)
        cell = session.scalars(one).one()
        lost = NewEntry(
            sowing_id=cell.sowing_id,
            kind=LogKind.LOST,
            date=DAY,
            count=1,
            tray=3,
            cells=((cell.row_number, cell.column_number),),
        )
        add_entries(session, [lost], today=LATER, account_id=None)
        with pytest.raises(LogRuleError, match=Rule.NOT_SOWN):
            unmark_filled(session, 3, today=LATER)
        session.refresh(cell)
        assert cell.state is CellState.LOST

    def test_a_day_to_come_is_refused(self, session):
        with pytest.raises(NotYetError):
            mark_filled(session, [3], DAY, today=TODAY)


class TestNumbers:
    def test_an_empty_tray_has_all_its_cells_and_no_place_and_is_pinned(self, session, garden):
        start_empty_tray(session, 7_000, garden["containers"][0].id, DAY)
        tray = get_tray(session, 7_000)
        assert tray.pinned
        assert (tray.sow_on, tray.container) == (DAY, "72-cell tray")
        cells = session.execute(select(Cell.row_number, Cell.column_number).where(Cell.tray_id == tray.id)).all()
        assert {tuple(cell) for cell in cells} == {(row, column) for row in range(1, 7) for column in range(1, 13)}
        assert list_stays(session, [tray.id]) == []

    def test_dealing_leaves_an_empty_tray_alone(self, session, garden):
        start_empty_tray(session, 7_000, garden["containers"][0].id, DAY)
        before = everything(session)
        deal_season(session)
        assert everything(session) == before

    def test_one_tray_of_the_plan_is_dealt_under_the_number_of_a_tag(self, session):
        garden_to_deal(session, WISHES)
        session.commit()
        plan = get_plan(session)
        planned = int(np.flatnonzero(plan.trays.part_lot == 4)[0])
        tray = int(plan.trays.part_tray[planned])
        start_planned_tray(session, 812, tray, get_mark(session), today=TODAY)
        assert [row.number for row in list_trays(session)] == [812]
        assert contents(session, 812) == {"S-0005": 53}
        session.commit()
        deal_season(session)
        assert contents(session, 812) == {"S-0005": 53}

    @pytest.mark.parametrize("change", ["mark", "index"])
    @pytest.mark.usefixtures("garden")
    def test_a_tray_that_the_plan_no_longer_has_is_not_started(self, session, change):
        mark = "" if change == "mark" else get_mark(session)
        with pytest.raises(StaleDealError):
            start_planned_tray(session, 812, 0 if change == "mark" else 9_999, mark, today=TODAY)

    def test_a_number_has_one_tray(self, session, garden):
        box = garden["containers"][0].id
        for task in (
            lambda: start_empty_tray(session, 3, box, DAY),
            lambda: start_planned_tray(session, 3, 0, get_mark(session), today=TODAY),
            lambda: renumber_tray(session, 4, 3),
        ):
            with pytest.raises(NumberTakenError):
                task()

    def test_a_number_that_somebody_took_in_between_is_taken(self, session, garden, monkeypatch):
        # As if another had written it after the look, which the lock forbids.
        monkeypatch.setattr(by_hand, "find_tray", lambda *_: None)
        before, box = everything(session), garden["containers"][0].id
        with pytest.raises(NumberTakenError):
            start_empty_tray(session, 3, box, DAY)
        with pytest.raises(NumberTakenError):
            renumber_tray(session, 4, 3)
        assert everything(session) == before  # the transaction goes on

    @pytest.mark.usefixtures("garden")
    def test_a_tray_takes_the_number_of_another_tag(self, session):
        renumber_tray(session, 3, 900)
        renumber_tray(session, 900, 900)
        assert contents(session, 900) == {"S-0001": 28, "S-0002": 40}
        with pytest.raises(NotFoundError):
            get_tray(session, 3)

    def test_a_tray_with_sowings_is_not_removed_and_an_empty_one_is(self, session, garden):
        with pytest.raises(SownError):
            remove_tray(session, 3)
        start_empty_tray(session, 50, garden["containers"][0].id, DAY)
        remove_tray(session, 50)
        assert 50 not in session.scalars(select(Tray.number)).all()

    @pytest.mark.usefixtures("garden")
    def test_a_tray_is_pinned_and_let_go(self, session):
        for pinned in (True, False):
            pin_tray(session, 3, pinned=pinned)
            assert get_tray(session, 3).pinned is pinned


class TestWhatDependsOnTrays:
    def test_cells_of_a_sowing_that_is_removed_are_free(self, session, garden):
        remove_sowing(session, garden["S-0001"])
        assert contents(session, 3) == {"S-0002": 40}
        assert "S-0001" not in contents(session, 10)
        # Tray 6 held nothing else, and stands nowhere; the others stand where they stood.
        assert list_stays(session, [get_tray(session, 6).id]) == []
        assert list_stays(session, [get_tray(session, 3).id]) != []

    def test_a_sowing_that_is_sown_is_not_removed(self, session, garden):
        mark_filled(session, [3, POTS[0]], DAY, today=DAY)
        with pytest.raises(InUseError) as refused:
            remove_sowing(session, garden["S-0001"])
        (uses,) = refused.value.uses
        assert (uses.noun, [use.id for use in uses.first]) == ("trays", [3, POTS[0]])

    def test_a_sowing_that_is_sown_stays_of_its_crop_and_may_change_otherwise(self, session, garden):
        pepper = garden["crops"][1].id
        mark_filled(session, [3], DAY, today=DAY)
        with pytest.raises(CropIsSownError):
            change_sowing(session, *wish(session, "S-0001", crop_id=pepper))
        change_sowing(session, *wish(session, "S-0001", plants=3))
        change_sowing(session, *wish(session, "S-0003", crop_id=pepper))  # not sown yet

    @pytest.mark.usefixtures("garden")
    def test_a_day_is_set_for_a_sowing_while_others_are_sown(self, session):
        mark_filled(session, [3, 5], DAY, today=DAY)
        change_sowing(session, *wish(session, "S-0003", sow_on=date(2027, 4, 24)))

    def test_a_container_of_trays_is_not_removed(self, session, garden):
        box = garden["containers"][1].id
        session.execute(update(garden["crops"][2].__class__).values(start_container_id=garden["containers"][0].id))
        with pytest.raises(InUseError) as refused:
            remove_container(session, box)
        (uses,) = refused.value.uses
        assert (uses.noun, [use.name for use in uses.first]) == ("trays", ["Tray 5"])

    def test_a_container_keeps_its_cells_once_a_tray_of_it_is_sown(self, session, garden):
        box = garden["containers"][1]
        values = {"name": box.name, "cell_volume_ml": 55.0, "rows": None, "columns": None}
        change_container(session, box.id, ContainerValues(cells_per_tray=20, **values))
        change_container(session, box.id, ContainerValues(cells_per_tray=24, **values))
        mark_filled(session, [5], DAY, today=DAY)
        change_container(session, box.id, ContainerValues(cells_per_tray=24, **values | {"cell_volume_ml": 60.0}))
        for grid in ({"cells_per_tray": 20}, {"cells_per_tray": 24, "rows": 2, "columns": 12}):
            with pytest.raises(GridIsSownError) as refused:
                change_container(session, box.id, ContainerValues(**values | grid))
            assert [use.id for use in refused.value.trays.first] == [5]

    def test_a_shelf_on_which_trays_stand_or_will_is_not_removed(self, session, garden):
        rack = garden["shelves"][1]
        last = max(session.scalars(select(Stay.end_on).where(Stay.shelf_id == rack.id)))
        with pytest.raises(InUseError) as refused:
            remove_shelf(session, rack.id, today=last.replace(day=last.day - 1))
        assert refused.value.uses[0].noun == "trays"
        before = len(everything(session)["stay"])
        remove_shelf(session, rack.id, today=last)
        assert len(everything(session)["stay"]) == before
