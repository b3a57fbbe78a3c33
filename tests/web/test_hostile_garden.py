"""One garden with hostile text in every column, by folder, command and form: every output shows it as written."""

import csv
import io
import json
import string
from collections import Counter
from email.message import Message

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.cli import main
from app.core.house.label_sheets import StockPaper, single_label
from app.services.deal import accept_deal, season_days
from app.services.folder import dump_folder, load_folder
from app.services.plan import get_plan
from app.sheets.tables import Table, csv_text, json_text
from app.storage.folder import FaultyFolderError
from app.storage.models import Batch, Grower, LabelStock, Printer, SeedLot, Sowing, Tray
from tests.conftest import TODAY
from tests.sheets import reading
from tests.web.classes import BLANKS, HIDDEN, TOO_LONG, WORDS, encoded
from tests.web.everything import addresses, find_forms
from tests.web.filling import errors_of
from tests.web.hostile import FORMULA, HARMLESS, cell, folder_files, write_folder
from tests.web.pages import read_page

TEXT_COLUMNS = {
    "growers.csv": ["grower", "plot", "contact"],
    "containers.csv": ["container"],
    "crops.csv": ["crop", "botanical", "source"],
    "shelves.csv": ["shelf"],
    "seed_lots.csv": ["seed_lot", "variety"],
    "sowings.csv": ["sowing", "variety"],
}


def add_garden(engine, folder, words):
    """Load the garden from a folder, deal it, add what is in no folder; return the parts of addresses."""
    with Session(engine) as session:
        load_folder(session, write_folder(folder, words))
        session.commit()
        first, last = season_days(get_plan(session))
        accept_deal(session, first=first, last=last, today=TODAY)
        names = list(words.values())
        session.add_all(
            [
                Printer(name=names[20], offset_x_mm=0, offset_y_mm=0, scale_percent=100, turned=False),
                LabelStock(name=names[21], **vars(single_label(57, 32)) | {"paper": StockPaper.A4}),
            ]
        )
        pasted = Batch(at=1.5, what="growers pasted", rows=0, digest="")
        session.add(pasted)
        session.commit()
        number = session.scalar(select(Tray.number).order_by(Tray.number).limit(1))
        nouns = ("grower", "crop", "sowing", "container", "shelf", "seed_lot", "printer", "stock", "run")
        nouns += ("seed_test", "offer", "request", "gift", "draft", "round", "entry")
        ids = {f"{noun}_id": 1 for noun in nouns} | {"table": "sowings"}
        ids |= {"week": "2027-W18", "place": "lamp", "way": "cut", "number": number, "token": "x"}
        return ids | {"batch_id": pasted.id, "page": "member", "name": "week.png"}


@pytest.fixture
def made(engine, tmp_path):
    """Add the hostile garden."""
    return add_garden(engine, tmp_path / "hostile", WORDS)


def walk(app, client, made, is_wanted=lambda _endpoint: True):
    """Return the answer of every page and file that is wanted by its endpoint."""
    known = made | {"account_id": 1}
    answers = {}
    for endpoint, address in addresses(app, known, "GET").items():
        if not is_wanted(endpoint):
            continue
        answer = client.get(address)
        if answer.status_code == 200:
            answers[endpoint] = answer
    return answers


def shapes(answers):
    """Return every element with the names of its attributes that stands on these pages."""
    return {
        (endpoint, element.tag, tuple(sorted(element.attributes)))
        for endpoint, answer in answers.items()
        for element in read_page(answer.text).elements
    }


def send(client, form, changes=None):
    """Send a form with changes."""
    data = encoded(form.values | (changes or {}))
    return client.post(form.action, data=data, content_type="application/x-www-form-urlencoded")


def pages(app, client, made):
    """Return the answer of every page by its endpoint."""
    answers = walk(app, client, made, lambda endpoint: not endpoint.endswith(("pdf", "csv")))
    return {endpoint: answer for endpoint, answer in answers.items() if answer.mimetype == "text/html"}


def test_every_page_holds_only_what_its_templates_hold(app, client, engine, tmp_path):
    """Read as a browser reads it, with its charts, it has no element or attribute that the harmless garden has not."""
    made = add_garden(engine, tmp_path / "hostile", WORDS)
    hostile = pages(app, client, made)
    with Session(engine) as session:
        load_folder(session, write_folder(tmp_path / "harmless", HARMLESS), replace=True)
        first, last = season_days(get_plan(session))
        accept_deal(session, first=first, last=last, today=TODAY)
        session.commit()
        made["number"] = session.scalar(select(Tray.number).order_by(Tray.number).limit(1))
    harmless = pages(app, client, made)
    assert shapes(hostile) - shapes(harmless) == set()
    assert len(hostile) > 30


def test_every_text_stands_on_its_page_as_it_was_written(client, made):
    for address in ("/growers", "/crops", "/shelves", "/containers", "/seed-lots", "/sowings"):
        text = squashed(read_page(client.get(address).text).all("main")[0].text)
        missing = [word for word in WORDS.values() if squashed(word) not in text]
        assert missing == [], address


def squashed(text):
    """Return a text without blanks, hidden letters among them, which lines and cells bring."""
    return "".join(letter for letter in text if not letter.isspace() and letter not in "\u200b\u200d\u200f")


def test_every_link_leads_inside_the_program(app, client, made):
    for endpoint, answer in pages(app, client, made).items():
        page = read_page(answer.text)
        leads = [
            element.attributes[name]
            for element in page.elements
            for name in ("href", "src", "action", "formaction")
            if name in element.attributes
        ]
        away = [address for address in leads if not address.startswith(("/", "#", "?", "")) or address[:2] == "//"]
        assert away == [], endpoint
        assert [address for address in leads if ":" in address.partition("/")[0]] == [], endpoint


def test_no_cell_begins_a_formula_and_each_reads_back_as_it_was(app, client, made):
    """Of every table that leaves as CSV; numbers, negative ones among them, stay numbers."""
    answers = walk(app, client, made, lambda endpoint: not endpoint.endswith("pdf"))
    files = {name: answer for name, answer in answers.items() if answer.mimetype == "text/csv"}
    assert {"ledger.csv", "sheets.deadlines_csv", "supplies.order_csv", "supplies.weeks_csv"} <= set(files)
    seen = Counter()
    for name, answer in files.items():
        header, *rows = csv.reader(io.StringIO(answer.text, newline=""))
        for row in rows:
            assert len(row) == len(header), name
            for text in row:
                assert not FORMULA.match(text) or is_number(text) or text.startswith("'"), (name, text)
                seen[text.removeprefix("'") if FORMULA.match(text) else text] += 1
    assert [word for word in WORDS.values() if word not in seen] == []


def is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True


@given(st.text())
def test_a_cell_that_was_guarded_reads_as_it_was(text):
    written = csv_text(Table(("text", "number"), [(text, -3)]))
    [[_, _], [found, number]] = csv.reader(io.StringIO(written, newline=""))
    assert not FORMULA.match(found) or found.startswith("'")
    assert (found[1:] if FORMULA.match(found) else found) == text
    assert number == "-3"
    assert json.loads(json_text(Table(("text",), [(text,)]))) == [{"text": text}]


def test_tables_leave_as_csv_and_json_with_every_text_as_it_is(engine, made, monkeypatch):
    monkeypatch.setenv("DATABASE_URL", engine.url.render_as_string(hide_password=False))
    for command, column in (("deadlines", "grower"), ("deadlines", "variety"), ("season", "crop")):
        answer = CliRunner().invoke(main, [command, "--format", "json"])
        assert {row[column] for row in json.loads(answer.stdout)} == set(WORDS.values())
        answer = CliRunner().invoke(main, [command, "--format", "csv"])
        rows = csv.DictReader(io.StringIO(answer.stdout, newline=""))
        assert {row[column] for row in rows} == {cell(word) for word in WORDS.values()}


def test_a_folder_that_is_dumped_and_loaded_holds_the_same_text(engine, made, tmp_path):
    with Session(engine) as session:
        dump_folder(session, tmp_path / "first")
        load_folder(session, tmp_path / "first", replace=True)
        session.commit()
        dump_folder(session, tmp_path / "second")
        assert set(session.scalars(select(Grower.name))) == set(WORDS.values())
        assert set(session.scalars(select(Sowing.variety))) == set(WORDS.values())
        assert len(set(session.scalars(select(SeedLot.name)))) == len(WORDS)
    for file in (tmp_path / "first").iterdir():
        assert file.read_bytes() == (tmp_path / "second" / file.name).read_bytes(), file.name
        if file.suffix == ".csv":
            for row in csv.reader(io.StringIO(file.read_text(encoding="utf-8"), newline="")):
                assert [
                    text for text in row if FORMULA.match(text) and not text.startswith("'") and not is_number(text)
                ] == []


def test_pdfs_show_every_text_as_it_is(app, client, made):
    """Weekly sheet, slips of sowing and hand-out, labels: nothing is run, nothing is left out but what no font has."""
    printed = [word for word in WORDS.values() if word.isascii() and "``" not in word]
    weekly = reading.text_of(client.get("/sheets/week/2027-W17.pdf").data)
    sowing = reading.text_of(client.get("/sheets/sowing.pdf?day=2027-05-01").data)
    for text, share in ((weekly, 0.9), (sowing, 0.9)):
        found = [word for word in printed if reading.squashed(word) in text]
        assert len(found) >= share * len(printed), sorted(set(printed) - set(found))
    notice = reading.text_of(client.get("/notice.pdf").data)
    assert "Traceback" not in notice
    [form] = [one for one in find_forms(client, f"/labels?trays={made['number']}") if one.method == "post"]
    labels = send(client, form)
    assert labels.mimetype == "application/pdf"
    assert reading.text_of(labels.data)


def test_a_search_takes_every_sign_as_itself(client, made):
    """1.2.9: % _ and backslash among them."""
    for word in ("%_\\", "{{7*7}}", "'; DROP", "[a]", "*a*", "_", "%", "\\"):
        page = client.get("/growers", query_string={"q": word})
        shown = {
            " ".join(element.text.split())
            for element in read_page(page.text).all("th")
            if element.attributes.get("scope") == "row"
        }
        found = {text for text in shown if text}
        right = {
            row
            for row, (name, plot, _) in zip(WORDS.values(), rows_of_growers(), strict=True)
            if any(word.casefold() in text.casefold() for text in (name, plot))
        }
        assert len(found) == len(right), (word, found, right)


def rows_of_growers():
    file = io.StringIO(folder_files(WORDS)["growers.csv"], newline="")
    return [(row["grower"], row["plot"], row["contact"]) for row in csv.DictReader(file)]


def test_downloads_have_names_of_our_own(app, client, made):
    """5.4.1, 5.4.2: whatever the garden is called."""
    found = 0
    for endpoint, answer in walk(app, client, made).items():
        header = answer.headers.get("Content-Disposition")
        if header is None:
            continue
        found += 1
        message = Message()
        message["Content-Disposition"] = header
        assert header.isascii(), endpoint
        assert "\n" not in header
        assert set(message.get_filename()) <= set(string.ascii_letters + string.digits + "-_."), (endpoint, header)
    assert found > 5


def test_a_text_that_is_typed_is_kept_as_it_was(client, session, made):
    """The third way in: a form. A folder keeps the letters that it has; a form composes them."""
    composed = {"combining letters": "\u00f1\u00f6", "marks on one letter": "\u00e1" + "\u0301" * 11}
    for label, word in WORDS.items():
        [form] = [one for one in find_forms(client, "/growers/new") if one.method == "post" and "name" in one.values]
        typed = {"name": [f"{word} typed"], "plot": [word], "contact": [word]}
        assert send(client, form, typed).status_code == 302, label
        row = session.scalars(select(Grower).order_by(Grower.id.desc()).limit(1)).one()
        kept = composed.get(label, word)
        assert (row.name, row.plot, row.contact) == (f"{kept} typed", kept, kept), label
        session.rollback()
    history = squashed(read_page(client.get("/history").text).all("main")[0].text)
    missing = [label for label, word in WORDS.items() if squashed(composed.get(label, word)) not in history]
    assert missing == []


def test_hidden_letters_are_refused_alike_by_form_and_folder(client, session, tmp_path, made):
    """1.3.3: in every text column, with words that name file, row and column."""
    [form] = [one for one in find_forms(client, "/growers/new") if one.method == "post" and "name" in one.values]
    files = folder_files(HARMLESS)
    for label, text in (HIDDEN | TOO_LONG).items():
        answer = send(client, form, {"name": [text]})
        assert answer.status_code == 200, label
        assert "name" in errors_of(answer.text), label
        folder, wrong = tmp_path / label.replace(" ", "-"), set()
        folder.mkdir()
        for name, content in files.items():
            header, *rows = csv.reader(io.StringIO(content, newline=""))
            for row, column in enumerate(TEXT_COLUMNS.get(name, ())):  # each column in a row of its own
                rows[row][header.index(column)] = text
                wrong.add((name, row + 2, column))
            with (folder / name).open("w", encoding="utf-8", newline="") as file:
                if name in TEXT_COLUMNS:
                    csv.writer(file).writerows([header, *rows])
                else:
                    file.write(content)
        with pytest.raises(FaultyFolderError) as told:
            load_folder(session, folder, replace=True)
        session.rollback()
        assert wrong <= {(fault.file, fault.row, fault.column) for fault in told.value.faults}, label


def test_the_classes_are_those_that_a_text_column_takes():
    assert not {*WORDS} & {*HIDDEN, *TOO_LONG, *BLANKS}
