"""The trays of some days as sheets list them: dealt trays where they stand, the others where the plan has them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from app.core.dealing.redeal import Part, parts_of_trays
from app.core.plan import Plan
from app.core.space.dealt import NOT_DEALT
from app.core.words import PLACES, Place
from app.core.work.week import StandingTray, trays_between
from app.language import _
from app.sheets.fixed_words import say
from app.sheets.moves import BY_HAND
from app.sheets.tray_words import how_filled_words, leaving_words
from app.storage.queries.trays import StayRow


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A tray in a place.

    Attributes:
        number: Its number; None where it is not dealt.
        place: Index of the place.
        container: Index of the container.
        capacity: Cells of the tray. [1]
        parts: (index of the sowing, cells) of each lot in it. [1]
        begin: First day in this place. [day number]
        end: The day after the last. [day number]
        shelf: Name of the shelf; empty where it waits for a position, or where it is not known.
        level: Level of the shelf; 0 without one.
        slot: Slot on the level; 0 without one.
        came: How it comes here, as `sown` or `from heat`.
        goes: How it leaves, as `to lamp` or `handed out`.
    """

    number: int | None
    place: int
    container: int
    capacity: int
    parts: tuple[Part, ...]
    begin: int
    end: int
    shelf: str = ""
    level: int = 0
    slot: int = 0
    came: str
    goes: str


def planned_trays(plan: Plan, begin: int, end: int, *, is_any: bool) -> list[Standing]:
    """Return where the plan has trays on some day of [begin, end), by place, day, container and tray.

    Args:
        plan: The plan.
        begin: First day. [day number]
        end: The day after the last. [day number]
        is_any: Whether dealt trays count too; without, only those that are not dealt.
    """
    numbers = np.append(plan.garden.dealt.number, 0)[plan.trays.stored].tolist()
    return [
        Standing(
            number=numbers[tray.tray] or None,
            place=tray.place,
            container=tray.container,
            capacity=tray.capacity,
            parts=tray.parts,
            begin=tray.begin,
            end=tray.end,
            came=_origin(plan, tray),
            goes=_goal(plan, tray),
        )
        for tray in trays_between(plan, begin, end)
        if is_any or plan.trays.stored[tray.tray] == NOT_DEALT
    ]


def dealt_trays(plan: Plan, stays: Sequence[StayRow]) -> list[Standing]:
    """Return dealt trays in the order of a walk: by place, shelf, level, slot and day, those that wait last.

    Args:
        plan: The plan.
        stays: Where they stand on the days that are wanted, and the stays that these follow or lead to.
    """
    dealt, containers = plan.garden.dealt, plan.garden.containers
    index_of = {row: index for index, row in enumerate(dealt.ids.tolist())}
    wanted = np.array(sorted({index_of[stay.tray_id] for stay in stays}), dtype=np.int64)
    parts = parts_of_trays(dealt.part_tray, dealt.part_lot, dealt.part_cells, wanted)
    neighbours = _Neighbours(stays)
    found = []
    for stay in stays:
        tray = index_of[stay.tray_id]
        container = int(dealt.container[tray])
        is_pots = bool(dealt.is_potted_on[tray])
        is_potted_next = not is_pots and any(plan.timeline.pot_on[lot] for lot, _ in parts.get(tray, ()))
        begin = stay.begin_on.toordinal()
        filled = how_filled_words(is_pots=is_pots) if begin == int(dealt.filled[tray]) else _(BY_HAND)
        found.append(
            Standing(
                number=stay.tray,
                place=PLACES.index(stay.place),
                container=container,
                capacity=containers[container].cells_per_tray,
                parts=parts.get(tray, ()),
                begin=begin,
                end=stay.end_on.toordinal(),
                shelf=stay.shelf or "",
                level=stay.level or 0,
                slot=stay.slot or 0,
                came=neighbours.before(stay) or filled,
                goes=neighbours.after(stay) or leaving_words(stay.place, is_potted_next=is_potted_next),
            )
        )
    return sorted(found, key=lambda row: (row.place, not row.shelf, row.shelf, row.level, row.slot, row.begin))


class _Neighbours:
    """Where the trays of some stays stood before, and stand after them."""

    def __init__(self, stays: Iterable[StayRow]) -> None:
        self._ending = {(stay.tray_id, stay.end_on): stay.place for stay in stays}
        self._beginning = {(stay.tray_id, stay.begin_on): stay.place for stay in stays}

    def before(self, stay: StayRow) -> str:
        place = self._ending.get((stay.tray_id, stay.begin_on))
        if place is None:
            return ""
        return _("from another position") if place is stay.place else _from_words(place)

    def after(self, stay: StayRow) -> str:
        place = self._beginning.get((stay.tray_id, stay.end_on))
        if place is None:
            return ""
        return _("to another position") if place is stay.place else _to_words(place)


def _from_words(place: Place) -> str:
    return _("from %(place)s", place=say(place))


def _to_words(place: Place) -> str:
    return _("to %(place)s", place=say(place))


def _origin(plan: Plan, tray: StandingTray) -> str:
    before = _neighbour(plan, tray, ends=True)
    if before is not None:
        return _from_words(before)
    return how_filled_words(is_pots=bool(plan.trays.is_potted_on[tray.tray]))


def _goal(plan: Plan, tray: StandingTray) -> str:
    after = _neighbour(plan, tray, ends=False)
    if after is not None:
        return _to_words(after)
    is_pots = bool(plan.trays.is_potted_on[tray.tray])
    is_potted_next = not is_pots and bool(plan.timeline.pot_on[tray.parts[0][0]])
    return leaving_words(PLACES[tray.place], is_potted_next=is_potted_next)


def _neighbour(plan: Plan, tray: StandingTray, *, ends: bool) -> Place | None:
    """Return the place where the tray's group stands until it comes here, or from when it goes."""
    stays, group = plan.stays, plan.trays.group[tray.tray]
    meets = stays.end == tray.begin if ends else stays.begin == tray.end
    places = stays.place[(stays.group == group) & meets & (stays.place != tray.place)]
    return PLACES[int(places[0])] if len(places) else None
