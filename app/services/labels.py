"""What the labels of trays say, and which of those that were made no longer hold."""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Any

from app.core.house.label_sheets import LabelKind
from app.core.space.grid import Cell
from app.core.words import Place
from app.storage.history import note_history
from app.storage.models import LabelPrint
from app.storage.queries.printing import (
    PrintRow,
    find_prints,
    list_plots,
    list_prints,
    list_prints_in_use,
    list_unlabelled,
)
from app.storage.queries.trays import CellRow, StayRow, TrayRow, list_cells, list_stays, list_trays
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.storage import Session


@dataclass(frozen=True, kw_only=True)
class LotOnLabel:
    """What one grower has of one crop and variety in a tray.

    Attributes:
        crop: Name of the crop.
        variety: Its variety, empty where none is given.
        grower: Name of the grower.
        plot: The grower's plot, empty where none is given.
        cells: The cells, by row and column.
    """

    crop: str
    variety: str
    grower: str
    plot: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, kw_only=True)
class NextMove:
    """When a tray leaves the place where it stands, and where to.

    Attributes:
        day: The day it leaves.
        origin: The place it leaves.
        goal: The place where it goes; None when it goes out or is potted on.
        shelf: The shelf there, empty where it has no position.
    """

    day: date
    origin: Place
    goal: Place | None
    shelf: str


@dataclass(frozen=True, kw_only=True)
class TrayOnLabel:
    """What is known of a tray for its labels.

    Attributes:
        number: Its number.
        container: Name of the container.
        sow_on: The day it is sown, or filled with pots.
        potted_on: It holds pots that were potted on.
        lots: Who has what in it, by first cell.
        move: Its next move; None where it has left or stands nowhere.
    """

    number: int
    container: str
    sow_on: date
    potted_on: bool
    lots: tuple[LotOnLabel, ...]
    move: NextMove | None


@dataclass(frozen=True, kw_only=True)
class WornLabel:
    """A label that was made and no longer holds.

    Attributes:
        number: The tray's number.
        kind: What kind of label.
        made_on: The day it was made.
        address: The address that its code holds; None where it has none.
        is_elsewhere: The garden's address is another now.
        is_changed: What it says has changed.
    """

    number: int
    kind: LabelKind
    made_on: date
    address: str | None
    is_elsewhere: bool
    is_changed: bool


def list_trays_on_labels(session: "Session", numbers: Iterable[int], today: date) -> list[TrayOnLabel]:
    """Return what the labels of these trays say, by number; numbers without a tray are left out.

    Args:
        session: Where to look.
        numbers: Numbers of trays.
        today: The next move is the first after this day, or after the day the tray is filled.
    """
    reader = _Reader(session, sorted(set(numbers)))
    return [reader.tray(row, today) for row in reader.trays]


def note_labels(
    session: "Session", kind: LabelKind, contents: Mapping[int, TrayOnLabel | None], address: str | None, today: date
) -> None:
    """Remember that labels were made.

    Args:
        session: Its transaction takes it.
        kind: What kind of label.
        contents: What each tray's label says, by number; None for tags.
        address: The address that their codes hold; None where they have none.
        today: The day on which they are made.
    """
    hold_writes(session)
    there = find_prints(session, kind, contents)
    for number, tray in contents.items():
        row = there.get(number) or LabelPrint(number=number, kind=kind)
        row.address, row.made_on = address, today
        row.contents = "" if tray is None else digest(kind, tray)
        session.add(row)
    session.flush()
    said = [("numbers", None, sorted(contents)), ("address", None, address)]
    note_history(session, "labels", "made", subject=kind.value, changes=said)


def list_missing_labels(session: "Session", today: date) -> list[tuple[date, tuple[int, ...]]]:
    """Return the trays without a label that stand somewhere after this day, by the day they are filled."""
    by_day = groupby(list_unlabelled(session, today), key=lambda pair: pair[1])
    return [(day, tuple(number for number, _ in pairs)) for day, pairs in by_day]


def list_worn_labels(session: "Session", address: str | None, today: date) -> list[WornLabel]:
    """Return the labels that no longer hold, by kind and number.

    Args:
        session: Where to look.
        address: The garden's present address; None where there is none.
        today: Trays that left on or before this day do not count.
    """
    prints = list_prints_in_use(session, today)
    reader = _Reader(session, sorted({row.number for row in prints}))
    trays = {row.number: row for row in reader.trays}
    worn = [_worn(row, address, reader.tray(trays[row.number], row.made_on)) for row in prints]
    worn += [_worn(row, address, None) for row in list_prints(session, LabelKind.TAG)]
    order = list(LabelKind)
    return sorted(
        (label for label in worn if label.is_elsewhere or label.is_changed),
        key=lambda label: (order.index(label.kind), label.number),
    )


def digest(kind: LabelKind, tray: TrayOnLabel) -> str:
    """Return a short mark of what a label says; equal words have equal marks."""
    lots: list[Any] = [[lot.crop, lot.variety, lot.grower, lot.plot] for lot in tray.lots]
    said: list[Any] = [tray.number, lots]
    if kind is LabelKind.TRAY:
        move = tray.move
        lots = [[lot.crop, lot.variety, lot.grower, lot.cells] for lot in tray.lots]
        said = [tray.number, tray.container, tray.sow_on.isoformat(), tray.potted_on, lots]
        said += [] if move is None else [move.day.isoformat(), move.origin, move.goal, move.shelf]
    return hashlib.blake2b(json.dumps(said).encode(), digest_size=16).hexdigest()


def _worn(row: PrintRow, address: str | None, tray: TrayOnLabel | None) -> WornLabel:
    is_without = row.kind is LabelKind.STAKE and row.address is None  # stakes need no code
    return WornLabel(
        number=row.number,
        kind=row.kind,
        made_on=row.made_on,
        address=row.address,
        is_elsewhere=address is not None and row.address != address and not is_without,
        is_changed=tray is not None and row.contents != digest(row.kind, tray),
    )


class _Reader:
    """Reads trays with everything on their labels in a few queries, however many they are."""

    def __init__(self, session: "Session", numbers: Sequence[int]) -> None:
        self.trays: list[TrayRow] = list_trays(session, numbers) if numbers else []
        ids = [row.id for row in self.trays]
        self._cells: dict[int, list[CellRow]] = {}
        self._stays: dict[int, list[StayRow]] = {}
        for cell in list_cells(session, ids) if ids else ():
            self._cells.setdefault(cell.tray_id, []).append(cell)
        for stay in list_stays(session, ids) if ids else ():
            self._stays.setdefault(stay.tray_id, []).append(stay)
        growers = {cell.grower_id for cells in self._cells.values() for cell in cells}
        self._plots = list_plots(session, growers) if growers else {}

    def tray(self, row: TrayRow, today: date) -> TrayOnLabel:
        return TrayOnLabel(
            number=row.number,
            container=row.container,
            sow_on=row.sow_on,
            potted_on=row.potted_on,
            lots=self._lots(row.id),
            move=_next_move(self._stays.get(row.id, []), max(today, row.sow_on)),
        )

    def _lots(self, tray_id: int) -> tuple[LotOnLabel, ...]:
        found: dict[tuple[str, str, int], list[CellRow]] = {}
        for cell in self._cells.get(tray_id, ()):
            found.setdefault((cell.crop, cell.variety or "", cell.grower_id), []).append(cell)
        return tuple(
            LotOnLabel(
                crop=crop,
                variety=variety,
                grower=cells[0].grower,
                plot=self._plots.get(grower_id, ""),
                cells=tuple(Cell(cell.row, cell.column) for cell in cells),
            )
            for (crop, variety, grower_id), cells in found.items()
        )


def _next_move(stays: Sequence[StayRow], day: date) -> NextMove | None:
    """Return the first move after a day; stays follow each other by day."""
    for number, stay in enumerate(stays):
        if stay.end_on > day:
            after = stays[number + 1] if number + 1 < len(stays) else None
            return NextMove(
                day=stay.end_on,
                origin=stay.place,
                goal=None if after is None else after.place,
                shelf="" if after is None else after.shelf or "",
            )
    return None
