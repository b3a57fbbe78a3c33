"""The pages of labels, printers and label stock."""

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from types import SimpleNamespace

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from app import create_app
from app.core.house.label_sheets import LabelKind
from app.core.words import CellState, Place, Units
from app.extensions import db
from app.services.printing import PrinterValues, add_printer, set_public_address
from app.settings import Settings
from app.sheets.pdf import PdfError
from app.storage.models import Cell, LabelPrint, LabelStock, Printer, PublicAddress, Stay, Tray
from app.web.forms.labels import read_numbers
from app.web.views import labels as view
from tests import rows
from tests.conftest import TODAY
from tests.people import sign_in_as
from tests.sheets.reading import POINTS_PER_MM, leaves, squashed, text_of
from tests.web.filling import errors_of, form_values
from tests.web.filling import send as send_form
from tests.web.seasons import Statements, links, words

PAGES = (
    "/labels",
    "/labels?trays=1-3",
    "/labels?filled=2027-04-10",
    "/labels?kind=stake&trays=1-3",
    "/labels?kind=tag",
    "/labels?kind=tag&trays=1-50",
    "/labels?trays=9-2",
    "/labels/again",
    "/labels/printers",
    "/labels/printers/new",
    "/labels/stock/new/sheet",
    "/labels/stock/new/cut",
    "/labels/stock/new/single",
    "/labels/address",
)


@pytest.fixture
def garden(session):
    """Return a garden with trays 1 to 3, each with Ines Moreau's tomatoes and on heat until 24 April."""
    rows.garden(session)
    box, rack = rows.container(session), rows.shelf(session, "Rack B")
    tomato = rows.crop(session, box=box)
    sowing = rows.sowing(session, rows.grower(session), tomato)
    for number in (1, 2, 3):
        tray = Tray(number=number, container_id=box.id, sow_on=TODAY, potted_on=False, pinned=False)
        session.add(tray)
        session.flush()
        for column in (1, 2, 3):
            session.add(
                Cell(tray_id=tray.id, row_number=1, column_number=column, sowing_id=sowing.id, state=CellState.EMPTY)
            )
        for place, begin, end in (
            (Place.HEAT, TODAY, date(2027, 4, 24)),
            (Place.LAMP, date(2027, 4, 24), date(2027, 6, 1)),
        ):
            shelf = {"shelf_id": rack.id, "level": 1, "slot": number} if place is Place.LAMP else {}
            session.add(Stay(tray_id=tray.id, place=place, begin_on=begin, end_on=end, pinned=False, **shelf))
    made = SimpleNamespace(sowing=sowing.id, box=box.id)
    session.commit()
    return made


def send(client, path, **changes):
    """Fill in the form of the labels' page and send it where it says."""
    page = client.get(path)
    assert page.status_code == 200
    action = re.search(r'<form method="post" action="([^"]+)"', page.text)[1].replace("&amp;", "&")
    values = form_values(page.text) | {name: [str(value)] for name, value in changes.items()}
    return client.post(action, data=values)


def rows_of(session, model):
    """Return the rows of a model, and let go of the database, so that the pages can write."""
    found = list(session.scalars(select(model).order_by(*model.__table__.primary_key)))
    session.expunge_all()
    session.rollback()
    return found


def prints(session):
    return sorted((row.number, row.kind.value, row.address, row.made_on) for row in rows_of(session, LabelPrint))


@pytest.mark.parametrize("path", PAGES)
def test_each_page_opens_and_changes_nothing(client, session, garden, path):
    assert client.get(path).status_code == 200
    assert prints(session) == []


@pytest.mark.parametrize("path", ["/labels", "/labels/again", "/labels/printers"])
def test_the_pages_open_before_there_is_a_garden(client, path):
    assert client.get(path).status_code == 200


def test_trays_without_a_label_are_offered_by_day(client, garden):
    page = client.get("/labels").text
    assert "Sat 10 Apr 1 – 3 Choose these 3" in words(page)
    assert "/labels?trays=1-3" in links(page)


def test_the_sheets_page_leads_to_labels(client, garden):
    assert "/labels" in links(client.get("/sheets").text)


@pytest.mark.parametrize("query", ["trays=1,2,3", "trays=1-3", "filled=2027-04-10", "trays=3%2C%202%3B1"])
def test_trays_are_chosen_by_number_or_by_day(client, garden, query):
    page = client.get(f"/labels?{query}")
    assert "Make the PDF of 3 tray labels" in page.text
    assert "Print it at actual size" in page.text


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("x", "“x” is no number"),
        ("1-", "“1-” is no number"),
        ("9-2", "“9-2” runs backwards. Write 2-9."),
        ("0", "“0” is no number of a tray: they go from 1 to 999"),
        ("1000000", "“1000000” is no number"),
        ("1-400", "“1-400” are more than 300 at once"),
        ("1-200,300-450", "351 labels; one file holds at most 300"),
        (",", "no number here"),
        ("1e3", "“1e3” is no number"),
        ("\uff11", "is no number"),
    ],
)
def test_numbers_that_cannot_be_read_are_named(client, garden, text, message):
    with pytest.raises(ValueError, match=re.escape(message)):
        read_numbers(text)
    page = client.get("/labels", query_string={"trays": text}).text
    assert message in errors_of(page)["trays"]
    assert "Make the PDF" not in page


@pytest.mark.parametrize(
    "query", ["kind=other", "kind=", "filled=2027-13-40", "filled=x", "trays=%00", "trays=" + "1," * 500]
)
def test_an_address_that_says_something_else_is_answered(client, garden, query):
    assert client.get(f"/labels?{query}").status_code == 200


def test_a_number_without_a_tray_is_said(client, garden):
    said = words(client.get("/labels?trays=2-5").text)
    assert "There is no tray 4 – 5." in said
    assert "Make the PDF of 2 tray labels" in said


def test_the_pdf_is_handed_out_and_noted(client, session, garden):
    set_public_address(session, "http://shed.lan:5000")
    session.commit()
    answer = send(client, "/labels?trays=1-3", stock="a4-3x7-63.5x38.1", first=20)
    assert answer.mimetype == "application/pdf"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="tray-labels-2027-04-10.pdf"'
    assert len(leaves(answer.data)) == 2  # two labels were free on the first page
    assert squashed("A1–A3 Tomato, Ines Moreau") in text_of(answer.data)
    assert squashed("Next: Sat 24 Apr to lamps, Rack B") in text_of(answer.data)
    assert prints(session) == [(n, "tray", "http://shed.lan:5000", TODAY) for n in (1, 2, 3)]
    page = words(client.get("/labels?trays=1").text)
    assert "1 Sat 10 Apr 72-cell tray 1 Sat 10 Apr" in page
    assert "Trays without a label" not in client.get("/labels").text


def test_the_printer_moves_what_is_printed_and_is_remembered(client, session, garden):
    office = add_printer(
        session, PrinterValues(name="Office", offset_x_mm=3.0, offset_y_mm=0.0, scale_percent=100.0, turned=False)
    ).id
    session.commit()
    plain = send(client, "/labels?trays=1", stock="a4-3x7-63.5x38.1")
    moved = send(client, "/labels?trays=1", stock="a4-3x7-63.5x38.1", printer=office)
    left = [leaves(answer.data)[0].words[0].left for answer in (plain, moved)]
    assert (left[1] - left[0]) / POINTS_PER_MM == pytest.approx(3, abs=0.02)
    values = form_values(client.get("/labels?trays=1").text)
    assert (values["stock"], values["printer"]) == (["a4-3x7-63.5x38.1"], [str(office)])
    session.delete(session.get(Printer, office))
    session.commit()
    assert form_values(client.get("/labels?trays=1").text)["printer"] == [""]


def test_stakes_and_tags_are_made_too(client, session, garden):
    stakes = send(client, "/labels?kind=stake&trays=1-2", each="pot")
    assert text_of(stakes.data).count("Tomato") == 6
    tags = send(client, "/labels?kind=tag&trays=40-45")
    assert squashed("40 41 42 43 44 45") in text_of(tags.data).replace("Nocode:noaddressisset.", "")
    assert [row[:3] for row in prints(session)] == [
        (1, "stake", None),
        (2, "stake", None),
        *((number, "tag", None) for number in range(40, 46)),
    ]
    assert "Tags made so far: 40 – 45." in words(client.get("/labels?kind=tag").text)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"stock": "a4-9x9"}, "stock"),
        ({"stock": "", "first": 1}, "stock"),
        ({"printer": 77}, "printer"),
        ({"first": "22", "stock": "a4-3x7-63.5x38.1"}, "first"),
        ({"first": "0"}, "first"),
        ({"first": "x"}, "first"),
    ],
    ids=str,
)
def test_a_choice_that_cannot_be_is_refused_and_nothing_is_noted(client, session, garden, changes, field):
    answer = send(client, "/labels?trays=1-3", **changes)
    assert answer.status_code == 200
    assert field in errors_of(answer.text)
    assert prints(session) == []


def test_more_stakes_than_a_file_holds_are_refused(client, session, garden, monkeypatch):
    monkeypatch.setattr(view, "MOST_LABELS", 8)
    answer = send(client, "/labels?kind=stake&trays=1-3", each="pot")
    assert "These are 9 labels; one file holds at most 8." in errors_of(answer.text)["each"]
    assert prints(session) == []


def test_nothing_is_noted_where_there_is_no_file(client, session, garden, monkeypatch):
    def refuse(*_args):
        raise PdfError("no")

    monkeypatch.setattr(view, "make_pdf", refuse)
    assert send(client, "/labels?trays=1-3").status_code == 500
    assert prints(session) == []


def test_sending_without_trays_makes_nothing(client, session, garden):
    values = form_values(client.get("/labels?trays=1").text)
    for query in ("", "?trays=77", "?trays=x", "?kind=tag"):
        answer = client.post(f"/labels/print{query}", data=values)
        assert answer.mimetype == "text/html"
    assert prints(session) == []


def test_other_people_can_write_while_a_file_is_made(client, engine, garden, monkeypatch):
    made = view.make_pdf

    def write():
        with Session(engine) as other:
            rows.grower(other, "Tom Okafor")
            other.commit()

    def write_meanwhile(*args):
        with ThreadPoolExecutor(1) as elsewhere:
            elsewhere.submit(write).result()
        return made(*args)

    monkeypatch.setattr(view, "make_pdf", write_meanwhile)
    assert send(client, "/labels?trays=1-3").mimetype == "application/pdf"


def test_making_labels_takes_as_many_queries_for_many_trays_as_for_few(app, client, session, garden):
    statements = Statements(app)

    def count(query):
        client.get(f"/labels?trays={query}")
        statements.clear()
        assert send(client, f"/labels?trays={query}").mimetype == "application/pdf"
        return len(statements)

    few = count("1")
    session.add_all(
        Tray(number=number, container_id=garden.box, sow_on=TODAY, potted_on=False, pinned=False)
        for number in range(10, 40)
    )
    session.commit()
    assert count("1-39") <= few + 1  # rows that are new go in in one statement


def test_letters_that_cannot_be_printed_are_counted(client, session, garden):
    session.execute(rows.Grower.__table__.update().values(name="שלום Ruth"))
    session.commit()
    assert "4 letters on it cannot be printed" in words(client.get("/labels?trays=1").text)


def test_a_us_garden_is_offered_letter_stock_first(client, session, garden):
    rows.get_garden(session).units = Units.US
    session.commit()
    assert form_values(client.get("/labels?trays=1").text)["stock"] == ["letter-2x5-101.6x50.8"]


# ---------------------------------------------------------------- the address on paper


def test_without_an_address_the_page_says_what_is_missing(client, garden):
    page = client.get("/labels").text
    assert "Labels are printed without a code." in page
    assert "/labels/address" in links(page)


def test_the_address_is_entered_and_used_whatever_the_request_came_by(client, session, garden):
    assert send_form(client, "/labels/address", address="HTTP://Shed.lan:5000/").status_code == 302
    assert [row.address for row in rows_of(session, PublicAddress)] == ["http://shed.lan:5000"]
    elsewhere = {"base_url": "http://192.168.1.77:5000"}
    client.set_cookie("traymates", client.get_cookie("traymates").value, domain="192.168.1.77")
    page = client.get("/labels?trays=1", **elsewhere).text
    assert "The codes hold the address http://shed.lan:5000." in words(page)
    assert "192.168.1.77" not in page
    client.post("/labels/print?trays=1", data=form_values(page), **elsewhere)
    assert prints(session) == [(1, "tray", "http://shed.lan:5000", TODAY)]
    assert send_form(client, "/labels/address", address="").status_code == 302
    assert rows_of(session, PublicAddress) == []


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("shed.lan", "must begin with http://"),
        ("http://localhost:5000", "leads every phone to itself"),
        ("http://shed.lan/?a=1", "nothing else"),
        ("http://" + "a" * 300, "at most 200 can be kept"),
    ],
)
def test_an_address_that_phones_cannot_open_is_refused(client, session, garden, text, message):
    answer = send_form(client, "/labels/address", address=text)
    assert message in errors_of(answer.text)["address"]
    assert rows_of(session, PublicAddress) == []


def test_the_surroundings_go_before_what_was_entered(engine, session, garden, tmp_path):
    set_public_address(session, "http://shed.lan")
    session.commit()
    url = engine.url.render_as_string(hide_password=False)
    settings = Settings(
        database_url=url, instance=tmp_path, today=TODAY, secret_key="k" * 40, public_url="http://barn.lan"
    )
    app = create_app(settings)
    client = app.test_client()
    sign_in_as(client)
    assert "The codes hold the address http://barn.lan." in words(client.get("/labels").text)
    page = client.get("/labels/address").text
    assert "It is http://barn.lan." in page
    assert "<form" not in page.partition("<main")[2]
    with app.app_context():
        db.engine.dispose()


def test_labels_under_an_old_address_or_with_old_words_are_listed(client, session, garden):
    send_form(client, "/labels/address", address="http://shed.lan")
    send(client, "/labels?trays=1-3")
    send(client, "/labels?kind=tag&trays=1-20")
    assert "Every label that was made still holds." in client.get("/labels/again").text
    session.get(rows.Sowing, garden.sowing).variety = "Marmande"
    session.commit()
    said = words(client.get("/labels/again").text)
    assert "Tray labels 1 – 3 Sat 10 Apr What they say has changed." in said
    send_form(client, "/labels/address", address="http://barn.lan")
    page = client.get("/labels/again").text
    assert "What they say has changed. Their code leads to http://shed.lan." in words(page)
    assert "Tags 1 – 20" in words(page)
    assert {"/labels?kind=tray&trays=1-3", "/labels?kind=tag&trays=1-20"} <= links(page)
    send(client, "/labels?trays=1-3")
    assert "Tray labels" not in client.get("/labels/again").text.partition("<main")[2]


# ---------------------------------------------------------------- printers, stock and the test frame


def test_a_printer_is_added_changed_and_removed(client, session):
    answer = send_form(
        client, "/labels/printers/new", name="Office", offset_x_mm="0,3", offset_y_mm="-0.5", scale_percent="100.25"
    )
    assert answer.status_code == 302
    assert "0.3 mm to the right, 0.5 mm up, scale 100.25 %" in words(client.get("/labels/printers").text)
    [printer] = rows_of(session, Printer)
    edit = f"/labels/printers/{printer.id}/edit"
    assert send_form(client, edit).status_code == 302
    assert send_form(client, edit, offset_x_mm="-1").status_code == 302
    [printer] = rows_of(session, Printer)
    assert (printer.offset_x_mm, printer.offset_y_mm, printer.scale_percent) == (-1.0, -0.5, 100.25)
    client.get(f"/labels/printers/{printer.id}/delete")
    assert len(rows_of(session, Printer)) == 1
    send_form(client, f"/labels/printers/{printer.id}/delete")
    assert rows_of(session, Printer) == []


@pytest.mark.parametrize(
    ("changes", "field", "message"),
    [
        ({"offset_x_mm": "0.25"}, "offset_x_mm", "in steps of 0.1 mm"),
        ({"offset_y_mm": "21"}, "offset_y_mm", "too large"),
        ({"scale_percent": "100.005"}, "scale_percent", "in steps of 0.01 %"),
        ({"scale_percent": "50"}, "scale_percent", "too small"),
        ({"name": ""}, "name", "Enter the name"),
    ],
    ids=str,
)
def test_a_printer_set_wrongly_is_refused(client, session, changes, field, message):
    answer = send_form(client, "/labels/printers/new", **{"name": "Office"} | changes)
    assert message in errors_of(answer.text)[field]
    assert rows_of(session, Printer) == []


MEASURED = {
    "name": "Blue box",
    "paper": "a4",
    "columns": "3",
    "rows": "7",
    "label_width_mm": "63,5",
    "label_height_mm": "38.1",
    "left_mm": "7.2",
    "top_mm": "15.1",
    "pitch_across_mm": "66",
    "pitch_down_mm": "",
}


def test_stock_that_people_measured_is_printed_on(client, session, garden):
    assert send_form(client, "/labels/stock/new/sheet", **MEASURED).status_code == 302
    [stock] = rows_of(session, LabelStock)
    assert (stock.pitch_across_mm, stock.pitch_down_mm) == (66, 38.1)  # edge to edge where nothing was measured
    assert form_values(client.get("/labels?trays=1").text)["stock"] == [f"own-{stock.id}"]
    assert "Blue box: A4, 3 × 7, 63.5 × 38.1 mm" in client.get("/labels?trays=1").text
    assert len(leaves(send(client, "/labels?trays=1", first=21).data)) == 1
    assert send_form(client, f"/labels/stock/{stock.id}/edit", columns="2").status_code == 302
    send_form(client, f"/labels/stock/{stock.id}/delete")
    assert rows_of(session, LabelStock) == []
    assert form_values(client.get("/labels?trays=1").text)["stock"] == ["a4-2x5-99.1x57"]


@pytest.mark.parametrize(
    ("changes", "field", "message"),
    [
        ({"pitch_across_mm": "60"}, "pitch_across_mm", "would overlap"),
        ({"columns": "4"}, "pitch_across_mm", "beyond its right edge"),
        ({"rows": "8"}, "pitch_down_mm", "beyond its lower edge"),
        ({"label_width_mm": "5"}, "label_width_mm", "too small"),
        ({"columns": "0"}, "columns", "too small"),
        ({"left_mm": "x"}, "left_mm", "is no number"),
        ({"paper": ""}, "paper", "Choose one"),
    ],
    ids=str,
)
def test_measures_that_cannot_be_are_refused(client, session, changes, field, message):
    answer = send_form(client, "/labels/stock/new/sheet", **MEASURED | changes)
    assert message in errors_of(answer.text)[field]
    assert rows_of(session, LabelStock) == []


def test_labels_to_cut_and_labels_of_a_label_printer_are_added_by_their_size(client, session, garden):
    size = {"label_width_mm": "80", "label_height_mm": "30"}
    assert send_form(client, "/labels/stock/new/cut", name="Strips", paper="letter", **size).status_code == 302
    assert send_form(client, "/labels/stock/new/single", name="Roll", **size).status_code == 302
    page = client.get("/labels/printers").text
    assert "US letter plain paper to cut, 2 × 8, 80 × 30 mm" in page
    assert "Label printer, one a page, 80 × 30 mm" in page
    roll = next(stock for stock in rows_of(session, LabelStock) if stock.name == "Roll")
    found = leaves(send(client, "/labels?trays=1-3", stock=f"own-{roll.id}").data)
    assert [(round(leaf.width / POINTS_PER_MM, 1), round(leaf.height / POINTS_PER_MM, 1)) for leaf in found] == [
        (80, 30)
    ] * 3
    too_large = send_form(client, "/labels/stock/new/cut", name="Large", paper="a4", **size | {"label_width_mm": "195"})
    assert "No label of 195 mm fits: enter 190 mm or less" in errors_of(too_large.text)["label_width_mm"]
    taken = send_form(client, "/labels/stock/new/single", name="ROLL", **size)
    assert "Another one has this name." in errors_of(taken.text)["name"]
    for stock in rows_of(session, LabelStock):
        assert send_form(client, f"/labels/stock/{stock.id}/edit").status_code == 302


def test_the_test_frame_is_handed_out_for_a_printer(client, session):
    office = add_printer(
        session, PrinterValues(name="Office", offset_x_mm=0.3, offset_y_mm=-0.5, scale_percent=100.2, turned=False)
    ).id
    session.commit()
    answer = client.get(f"/labels/frame.pdf?stock=a4-3x7-63.5x38.1&printer={office}")
    assert answer.mimetype == "application/pdf"
    assert squashed("Office: 0.3 mm to the right, 0.5 mm up, scale 100.2 %") in text_of(answer.data)
    assert client.get("/labels/frame.pdf?stock=a4-3x7-63.5x38.1&printer=").status_code == 200
    assert client.get("/labels/frame.pdf?stock=other").status_code == 404
    assert client.get("/labels/frame.pdf").status_code == 404
    assert client.get("/labels/frame.pdf?stock=a4-3x7-63.5x38.1&printer=899999").status_code == 404


@pytest.mark.parametrize("path", ["/labels/printers/9/edit", "/labels/stock/9/edit", "/labels/stock/new/other"])
def test_what_is_not_there_is_not_found(client, path):
    assert client.get(path).status_code == 404


def test_kinds_are_all_on_the_page(client, garden):
    assert {f"/labels?kind={kind}" for kind in LabelKind} <= links(client.get("/labels").text)
