"""What labels say of trays, and which of those that were made no longer hold."""

from datetime import date

import pytest

from app.core.house.label_sheets import LabelKind
from app.core.space.grid import Cell
from app.core.words import CellState, Place
from app.services.labels import (
    LotOnLabel,
    NextMove,
    list_missing_labels,
    list_trays_on_labels,
    list_worn_labels,
    note_labels,
)
from app.storage.models import Cell as CellOfTray
from app.storage.models import Stay, Tray
from tests import rows

TODAY = date(2027, 4, 10)
OLD, NEW = "http://shed.lan", "http://barn.lan"


def add_tray(session, number, cells, **changes):
    """Add a tray with cells as {sowing: [(row, column)]} that stands two weeks on heat and then under lamps."""
    fields = {"container_id": session.box.id, "sow_on": TODAY, "potted_on": False, "pinned": False}
    tray = Tray(number=number, **fields | changes)
    session.add(tray)
    session.flush()
    for sowing, places in cells.items():
        for row, column in places:
            session.add(
                CellOfTray(
                    tray_id=tray.id, row_number=row, column_number=column, sowing_id=sowing.id, state=CellState.EMPTY
                )
            )
    for place, begin, end in (
        (Place.HEAT, date(2027, 4, 10), date(2027, 4, 24)),
        (Place.LAMP, date(2027, 4, 24), date(2027, 5, 22)),
    ):
        shelf = session.rack.id if place is Place.LAMP else None
        at = (shelf, 1, number) if shelf else (None, None, None)
        session.add(
            Stay(
                tray_id=tray.id,
                place=place,
                begin_on=begin,
                end_on=end,
                pinned=False,
                shelf_id=at[0],
                level=at[1],
                slot=at[2],
            )
        )
    session.flush()
    return tray


@pytest.fixture
def trays(session):
    """Add tray 3 with two growers' tomatoes and tray 4 with one's."""
    session.box, session.rack = rows.container(session, rows=6, columns=12), rows.shelf(session, "Rack B")
    tomato = rows.crop(session, box=session.box)
    ines, tom = rows.grower(session), rows.grower(session, "Tom Okafor", plot=None)
    first = rows.sowing(session, ines, tomato, "S1", variety="Marmande")
    again = rows.sowing(session, ines, tomato, "S2", variety="Marmande")
    other = rows.sowing(session, tom, tomato, "S3")
    add_tray(session, 3, {other: [(1, 2)], first: [(1, 1), (2, 1)], again: [(3, 1)]})
    add_tray(session, 4, {other: [(1, 1)]})
    session.flush()
    return first, again, other


def test_a_label_holds_who_has_what_in_a_tray_by_cells(session, trays):
    [label] = list_trays_on_labels(session, [3, 99], TODAY)
    assert (label.number, label.container, label.sow_on) == (3, "72-cell tray", TODAY)
    assert label.lots == (
        LotOnLabel(
            crop="Tomato",
            variety="Marmande",
            grower="Ines Moreau",
            plot="14",
            cells=(Cell(1, 1), Cell(2, 1), Cell(3, 1)),  # of two sowings that nobody could tell apart
        ),
        LotOnLabel(crop="Tomato", variety="", grower="Tom Okafor", plot="", cells=(Cell(1, 2),)),
    )


@pytest.mark.parametrize(
    ("today", "move"),
    [
        (date(2027, 3, 1), (date(2027, 4, 24), Place.HEAT, Place.LAMP, "Rack B")),
        (date(2027, 4, 23), (date(2027, 4, 24), Place.HEAT, Place.LAMP, "Rack B")),
        (date(2027, 4, 24), (date(2027, 5, 22), Place.LAMP, None, "")),
        (date(2027, 5, 22), None),
    ],
    ids=str,
)
def test_the_next_move_is_the_first_after_the_day_of_printing(session, trays, today, move):
    [label] = list_trays_on_labels(session, [3], today)
    assert label.move == (
        None if move is None else NextMove(**dict(zip(("day", "origin", "goal", "shelf"), move, strict=True)))
    )


def worn(session, address=OLD, today=TODAY):
    return [(w.number, w.kind.value, w.is_elsewhere, w.is_changed) for w in list_worn_labels(session, address, today)]


def make(session, kind=LabelKind.TRAY, numbers=(3, 4), address=OLD, today=TODAY):
    note_labels(
        session, kind, {tray.number: tray for tray in list_trays_on_labels(session, numbers, today)}, address, today
    )


def test_trays_without_a_label_are_listed_by_day_until_it_is_made(session, trays):
    assert list_missing_labels(session, TODAY) == [(TODAY, (3, 4))]
    make(session, numbers=[4])
    assert list_missing_labels(session, TODAY) == [(TODAY, (3,))]
    make(session, LabelKind.STAKE, [3])  # a stake is not the tray's label
    assert list_missing_labels(session, TODAY) == [(TODAY, (3,))]
    assert list_missing_labels(session, date(2027, 5, 22)) == []  # they have gone out


def test_a_label_holds_as_long_as_nothing_on_it_changes_whatever_day_it_is(session, trays):
    make(session)
    assert worn(session) == []
    assert worn(session, today=date(2027, 5, 1)) == []


@pytest.mark.parametrize("what", ["variety", "grower", "cells", "container", "move", "day"])
def test_a_label_no_longer_holds_once_what_it_says_has_changed(session, trays, what):
    make(session)
    tray = session.query(Tray).filter_by(number=3).one()
    first = trays[0]
    if what == "variety":
        first.variety = "Beefsteak"
    elif what == "grower":
        rows_of = session.get(type(first), first.id)
        rows_of.grower_id = rows.grower(session, "Nina Zhuk").id
    elif what == "cells":
        session.query(CellOfTray).filter_by(tray_id=tray.id, row_number=2).update({"column_number": 5})
    elif what == "container":
        tray.container_id = rows.container(session, "50-cell tray").id
    elif what == "day":
        tray.sow_on = date(2027, 4, 9)
    else:
        session.query(Stay).filter_by(tray_id=tray.id, place=Place.LAMP).update({"begin_on": date(2027, 4, 25)})
        session.query(Stay).filter_by(tray_id=tray.id, place=Place.HEAT).update({"end_on": date(2027, 4, 25)})
    session.flush()
    assert worn(session) == [(3, "tray", False, True)]
    make(session, numbers=[3])
    assert worn(session) == []


def test_a_stake_does_not_say_where_a_tray_goes(session, trays):
    make(session, LabelKind.STAKE, [3])
    session.query(Stay).filter_by(place=Place.LAMP).update({"end_on": date(2027, 5, 25)})
    assert worn(session) == []
    trays[0].variety = "Beefsteak"
    session.flush()
    assert worn(session) == [(3, "stake", False, True)]


def test_labels_under_another_address_are_listed_and_those_without_a_code(session, trays):
    make(session, numbers=[3])
    make(session, numbers=[4], address=None)
    make(session, LabelKind.STAKE, [3], address=None)  # a stake may do without
    note_labels(session, LabelKind.TAG, dict.fromkeys([50, 51]), OLD, TODAY)
    assert worn(session, OLD) == [(4, "tray", True, False)]
    assert worn(session, NEW) == [
        (3, "tray", True, False),
        (4, "tray", True, False),
        (50, "tag", True, False),
        (51, "tag", True, False),
    ]
    assert worn(session, None) == []
    assert worn(session, NEW, date(2027, 5, 22)) == [(50, "tag", True, False), (51, "tag", True, False)]


def test_what_was_made_last_counts(session, trays):
    make(session, numbers=[3])
    make(session, numbers=[3], address=NEW, today=date(2027, 4, 11))
    [label] = list_worn_labels(session, OLD, TODAY)
    assert (label.number, label.address, label.made_on) == (3, NEW, date(2027, 4, 11))
