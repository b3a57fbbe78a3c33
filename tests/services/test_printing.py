import pytest

from app.core.house.label_sheets import StockPaper, cut_sheet, single_label
from app.services.folder import load_demo
from app.services.names import NameTakenError
from app.services.printing import (
    PrinterValues,
    add_printer,
    add_stock,
    change_printer,
    change_stock,
    list_all_stock,
    remove_printer,
    remove_stock,
    set_public_address,
    sheet_of,
    usual_stock,
)
from app.storage.queries.printing import find_public_address, list_printers, list_stock


def values(**changes):
    fields = {"name": "Office", "offset_x_mm": 0.3, "offset_y_mm": -0.5, "scale_percent": 100.2, "turned": False}
    return PrinterValues(**fields | changes)


def test_a_printer_keeps_its_offset_and_scale(session):
    printer = add_printer(session, values())
    change_printer(session, printer.id, values(offset_x_mm=0.4))
    [found] = list_printers(session)
    assert (found.name, found.offset_x_mm, found.offset_y_mm, found.scale_percent) == ("Office", 0.4, -0.5, 100.2)
    assert remove_printer(session, printer.id) == "Office"
    assert list_printers(session) == []


def test_two_printers_do_not_share_a_name(session):
    add_printer(session, values())
    shed = add_printer(session, values(name="Shed"))
    with pytest.raises(NameTakenError):
        add_printer(session, values(name="office"))
    with pytest.raises(NameTakenError):
        change_printer(session, shed.id, values())


def test_stock_of_ones_own_keeps_its_measures(session):
    box = add_stock(session, "Blue box", usual_stock()[0].sheet)
    assert sheet_of(box) == usual_stock()[0].sheet
    change_stock(session, box.id, "Roll", single_label(57, 32))
    assert sheet_of(box) == single_label(57, 32)
    with pytest.raises(NameTakenError):
        add_stock(session, "ROLL", cut_sheet(StockPaper.A4, 95, 55))
    assert remove_stock(session, box.id) == "Roll"
    assert list_stock(session) == []


def test_ones_own_stock_comes_first_and_then_that_of_the_gardens_paper(session):
    box = add_stock(session, "Blue box", single_label(57, 32))
    keys = [stock.key for stock in list_all_stock(session, StockPaper.LETTER)]
    assert keys[0] == f"own-{box.id}"
    assert keys[1] == "letter-2x5-101.6x50.8"
    assert len(keys) == len(set(keys)) == len(usual_stock()) + 1
    assert list_all_stock(session, StockPaper.A4)[1].key == "a4-2x5-99.1x57"


def test_the_address_is_one_row_or_none(session):
    set_public_address(session, "http://shed.lan")
    set_public_address(session, "http://barn.lan")
    assert find_public_address(session).address == "http://barn.lan"
    set_public_address(session, None)
    assert find_public_address(session) is None
    set_public_address(session, None)


def test_printers_stock_and_address_stay_when_a_garden_is_loaded_anew(session):
    add_printer(session, values())
    add_stock(session, "Blue box", single_label(57, 32))
    set_public_address(session, "http://shed.lan")
    load_demo(session)  # there is no garden yet, only what belongs to the house
    load_demo(session, replace=True)
    assert len(list_printers(session)) == len(list_stock(session)) == 1
    assert find_public_address(session).address == "http://shed.lan"
