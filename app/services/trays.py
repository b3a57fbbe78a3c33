"""Trays by hand: exchanging sowings, pinning, marking as sown, starting, renumbering and removing them."""

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.core.dealing.apart import Differs, why_apart
from app.core.dealing.cells import NOBODY, in_order, rearrange
from app.core.dealing.deal import One
from app.core.space.grid import Cell, Grid, grid_of
from app.core.words import CellState
from app.services.deal import store_one
from app.services.plan import get_plan
from app.storage.errors import ClashError
from app.storage.history import note_history
from app.storage.models import Tray
from app.storage.numbers import note_numbers
from app.storage.queries.containers import get_container
from app.storage.queries.trays import (
    add_free_cells,
    add_tray,
    find_tray,
    get_cells,
    get_tray_model,
    leave_where_empty,
    set_number,
)
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from app.core.plan import Plan
    from app.storage import Session


class SownError(Exception):
    """What is sown is not moved to other cells, and its tray not removed."""


class CannotShareError(Exception):
    """Sowings that would be in one tray differ in what must be alike."""

    def __init__(self, differs: tuple[Differs, ...]) -> None:
        """Keep in what they differ."""
        super().__init__(", ".join(differs))
        self.differs = differs


class NoRoomError(Exception):
    """A tray has too few free cells."""

    def __init__(self, number: int, free: int, needed: int) -> None:
        """Keep the tray's number, the cells that would be free, and those that are needed."""
        super().__init__(f"Tray {number} has {free} free cells, {needed} are needed")
        self.number = number
        self.free = free
        self.needed = needed


class NumberTakenError(Exception):
    """A tray has this number already."""


class NotInTrayError(Exception):
    """The sowing has no cells in the tray."""


@dataclass(frozen=True, kw_only=True)
class Lot:
    """A sowing's cells in one tray."""

    number: int
    sowing_id: int


def exchange_sowings(session: "Session", one: Lot, number: int, other_id: int | None) -> None:
    """Let two sowings change trays, or put one into free cells of another tray; both trays are pinned.

    A tray in which nothing is left stands nowhere.

    Args:
        session: Its transaction takes it all.
        one: The sowing, and the tray that it leaves.
        number: The tray to which it goes.
        other_id: The sowing that comes from there in exchange; None for none.

    Raises:
        NotFoundError: There is no such tray.
        NotInTrayError: A sowing has no cells in its tray, or both trays are one.
        SownError: A sowing is sown already, in the tray that it leaves or the one to which it goes.
        CannotShareError: A sowing would be with others that it cannot share a tray with, or cells would be pots.
        NoRoomError: A tray has too few free cells.
    """
    hold_writes(session)
    plan = get_plan(session)
    here, there = get_tray_model(session, one.number), get_tray_model(session, number)
    if here.id == there.id:
        raise NotInTrayError
    if here.potted_on != there.potted_on:
        raise CannotShareError((Differs.POTTING_ON,))
    goes = _take_out(session, here, one.sowing_id)
    comes = 0 if other_id is None else _take_out(session, there, other_id)
    _put_in(session, plan, there, one.sowing_id, goes)
    if other_id is not None:
        _put_in(session, plan, here, other_id, comes)
    here.pinned = there.pinned = True
    session.flush()
    leave_where_empty(session, [here.id])
    for sowing_id, before, after in ((one.sowing_id, one.number, number), (other_id, number, one.number)):
        if sowing_id is not None:
            name = plan.garden.sowings.names[plan.index_of[sowing_id]]
            note_history(
                session,
                "sowing",
                "put into another tray",
                subject=name,
                subject_id=sowing_id,
                changes=[("tray", before, after)],
            )


def _take_out(session: "Session", tray: Tray, sowing_id: int) -> int:
    """Free the cells of a sowing that is not sown yet, and return how many they were."""
    mine = [cell for cell in get_cells(session, tray.id) if cell.sowing_id == sowing_id]
    if not mine:
        raise NotInTrayError
    if any(cell.state is not CellState.EMPTY for cell in mine):
        raise SownError
    for cell in mine:
        cell.sowing_id = None
    return len(mine)


def _put_in(session: "Session", plan: "Plan", tray: Tray, sowing_id: int, n: int) -> None:
    """Give a sowing cells of a tray, side by side where that can be, beside those who have theirs."""
    models = get_cells(session, tray.id)
    if any(cell.sowing_id == sowing_id and cell.state is not CellState.EMPTY for cell in models):
        raise SownError
    owners = Counter(cell.sowing_id for cell in models if cell.sowing_id is not None)
    _require_alike(plan, tray, sowing_id, owners)
    free = len(models) - owners.total()
    if n > free:
        raise NoRoomError(tray.number, free, n)
    had = {
        Cell(cell.row_number, cell.column_number): (NOBODY if cell.sowing_id is None else cell.sowing_id, cell.state)
        for cell in models
    }
    owners[sowing_id] += n
    walk = [cell for cell in in_order(_grid_of(plan, tray)) if cell in had]
    laid = rearrange(had, list(owners.items()), walk, is_firm=True) or had
    for cell in models:
        owner, cell.state = laid[Cell(cell.row_number, cell.column_number)]
        cell.sowing_id = None if owner == NOBODY else owner


def _grid_of(plan: "Plan", tray: Tray) -> Grid:
    box = next(box for box in plan.garden.containers if box.id == tray.container_id)
    return grid_of(box.cells_per_tray, box.rows, box.columns)


def _require_alike(plan: "Plan", tray: Tray, sowing_id: int, owners: "Iterable[int]") -> None:
    """Raise where a sowing does not go with a tray, or with those who have cells in it."""
    lot = plan.index_of[sowing_id]
    box = int((plan.pot_container if tray.potted_on else plan.container)[lot])
    if box < 0 or plan.garden.containers[box].id != tray.container_id:
        raise CannotShareError((Differs.CONTAINER,))
    differs = {
        name
        for owner in owners
        if owner != sowing_id
        for name in why_apart(plan, lot, plan.index_of[owner], potted_on=tray.potted_on)
    }
    if differs:
        raise CannotShareError(tuple(name for name in Differs if name in differs))


def pin_tray(session: "Session", number: int, *, pinned: bool) -> None:
    """Let whoever is in a tray stay in it when trays are dealt anew, or not; raises NotFoundError."""
    hold_writes(session)
    get_tray_model(session, number).pinned = pinned
    session.flush()


def start_empty_tray(session: "Session", number: int, container_id: int, day: "date") -> None:
    """Start a tray without sowings under a free number; what is put into it by hand stays.

    Raises:
        NotFoundError: There is no such container.
        NumberTakenError: A tray has the number.
    """
    hold_writes(session)
    _require_free(session, number)
    box = get_container(session, container_id)
    tray = Tray(number=number, container_id=box.id, sow_on=day, potted_on=False, pinned=True)
    try:
        add_tray(session, tray)
    except ClashError as error:
        raise NumberTakenError from error
    add_free_cells(session, tray.id, in_order(grid_of(box.cells_per_tray, box.rows, box.columns)))


def start_planned_tray(session: "Session", number: int, planned: int, mark: str, *, today: "date") -> None:
    """Deal one tray of the plan under a free number.

    Args:
        session: Its transaction takes it all.
        number: The number on the tag.
        planned: Index of the tray into the plan's trays; one that is not dealt yet.
        mark: The mark of the data in which the plan had this index.
        today: The day that is taken for today.

    Raises:
        NumberTakenError: A tray has the number.
        StaleDealError: The data has changed since, or there is no such tray.
    """
    hold_writes(session)
    _require_free(session, number)
    store_one(session, One(planned, number), mark, today=today)


def renumber_tray(session: "Session", number: int, new: int) -> None:
    """Give a tray the number of another tag.

    Raises:
        NotFoundError: There is no such tray.
        NumberTakenError: Another tray has the number.
    """
    hold_writes(session)
    tray = get_tray_model(session, number)
    if new != number:
        _require_free(session, new)
    note_numbers(session)
    try:
        set_number(session, tray, new)
    except ClashError as error:
        raise NumberTakenError from error


def remove_tray(session: "Session", number: int) -> None:
    """Remove a tray without sowings.

    Raises:
        NotFoundError: There is no such tray.
        SownError: Sowings have cells in it.
    """
    hold_writes(session)
    tray = get_tray_model(session, number)
    if any(cell.sowing_id is not None for cell in get_cells(session, tray.id)):
        raise SownError
    note_numbers(session)
    session.delete(tray)
    session.flush()


def _require_free(session: "Session", number: int) -> None:
    if find_tray(session, number) is not None:
        raise NumberTakenError
