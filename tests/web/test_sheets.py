"""The pages of the sheets and their files, over the demo garden."""

import csv
import io
import re
from datetime import date

import pytest
from sqlalchemy import event, func, select

from app.core.words import Origin, Units
from app.extensions import db
from app.services.demo import set_up_demo
from app.services.folder import load_demo
from app.sheets.pdf import PdfError
from app.storage.models import Garden, Grower, PublicAddress, SeedLot, Tray
from app.web.views import sheets
from tests.kept_gardens import kept
from tests.sheets.reading import leaves, squashed, text_of

PDFS = (
    "/sheets/week/2027-W21.pdf",
    "/sheets/hand-out.pdf?day=2027-06-12",
    "/growers/1/sheet.pdf",
    "/sheets/sowing.pdf?day=2027-05-15",
)
PAGES = (
    "/sheets",
    "/sheets/week/2027-W21",
    "/sheets/hand-out?day=2027-06-12",
    "/sheets/sowing?day=2027-05-15",
)
FILES = (*PDFS, "/sheets/deadlines.csv")


@pytest.fixture
def demo(session):
    kept(session, load_demo)
    session.commit()
    return session


@pytest.fixture
def dealt(session):
    kept(session, set_up_demo)
    session.commit()
    return session


@pytest.mark.usefixtures("demo")
class TestSheets:
    def test_the_first_page_leads_to_every_sheet(self, client):
        text = client.get("/sheets").text
        for address in (
            "/sheets/week/2027-W14",
            "/sheets/week/2027-W14.pdf?paper=a4",
            "/sheets/hand-out",
            "/sheets/sowing",
            "/sheets/deadlines.csv",
            "/ledger.csv",
            "/growers/1/sheet.pdf?paper=a4",
        ):
            assert re.search(rf'(?:href|action)="{re.escape(address)}', text.replace("&amp;", "&")), address
        assert 'href="/sheets?week=2027-W13' in text
        assert 'href="/sheets?week=2027-W15' in text

    def test_every_link_of_the_pages_leads_somewhere(self, client):
        found = set()
        for page in PAGES:
            found |= set(re.findall(r'href="(/(?:sheets|growers/1/|ledger)[^"#]*)"', client.get(page).text))
        assert len(found) > 10
        for address in sorted(found):
            assert client.get(address.replace("&amp;", "&")).status_code == 200, address

    def test_a_chosen_week_and_paper_stay(self, client):
        text = client.get("/sheets?week=2027-W21&paper=letter").text
        assert "/sheets/week/2027-W21.pdf?paper=letter" in text
        assert '<option value="2027-W21" selected>' in text
        assert '<option value="letter" selected>' in text

    def test_the_weekly_page_says_what_the_pdf_says(self, client):
        page = squashed(re.sub(r"<[^>]+>", "", client.get("/sheets/week/2027-W21").text))
        pdf = text_of(client.get("/sheets/week/2027-W21.pdf").data)
        rows = csv.DictReader(io.StringIO(client.get("/ledger.csv").text))
        [lamps] = [row for row in rows if (row["week"], row["place"]) == ("2027-W21", "lamp")]
        over = -int(lamps["free"])
        assert over > 0
        full = f"{lamps['needed']}of{lamps['positions']},{over}over"
        for words in (full, f"{over}trayshavenopositionhereon", "Backroomheatbench1:8positions,24°C"):
            assert words in page
            assert words in pdf

    def test_the_hand_out_page_adds_up(self, client):
        text = client.get("/sheets/hand-out?day=2027-06-12").text
        each = [int(count) for count in re.findall(r'"tick"></span> (\d+) <strong>', text)]
        per_grower = [int(count) for count in re.findall(r"(\d+) plants?</span></th>", text)]
        [told] = re.findall(r"([\d\xa0]+) plants for \d+ growers", text)
        assert sum(each) == sum(per_grower) == int(told.replace("\xa0", "")) > 0

    def test_without_a_day_the_next_hand_out_day_is_shown(self, client):
        assert "Hand-out, Saturday 1 May 2027" in client.get("/sheets/hand-out").text

    def test_a_day_without_plants_says_so(self, client):
        response = client.get("/sheets/hand-out?day=2027-06-13")
        assert (response.status_code, "Nothing is planned" in response.text) == (200, True)
        assert client.get("/sheets/hand-out.pdf?day=2027-06-13").data[:5] == b"%PDF-"

    @pytest.mark.parametrize(
        ("address", "kind", "name"),
        [
            ("/sheets/week/2027-W21.pdf", "application/pdf", "shelf-sheet-2027-W21.pdf"),
            ("/sheets/hand-out.pdf?day=2027-06-12", "application/pdf", "hand-out-2027-06-12.pdf"),
            ("/growers/1/sheet.pdf", "application/pdf", "grower-1.pdf"),
            ("/sheets/sowing.pdf?day=2027-05-15", "application/pdf", "sowing-2027-05-15.pdf"),
            ("/sheets/deadlines.csv", "text/csv", "sowing-deadlines-2027.csv"),
        ],
        ids=["week", "hand-out", "grower", "sowing", "deadlines"],
    )
    def test_files_are_saved_under_plain_names(self, client, address, kind, name):
        response = client.get(address)
        assert (response.status_code, response.mimetype) == (200, kind)
        assert response.headers["Content-Disposition"] == f'attachment; filename="{name}"'

    def test_the_deadlines_hold_every_sowing(self, client):
        rows = list(csv.DictReader(io.StringIO(client.get("/sheets/deadlines.csv").text)))
        assert len(rows) == 500
        assert {"sowing", "sow_from", "sow_by", "last_chance", "plant_out"} <= rows[0].keys()

    @pytest.mark.parametrize("address", PDFS, ids=["week", "hand-out", "grower", "sowing"])
    def test_paper_is_that_of_the_units_or_of_the_address(self, client, demo, address):
        def width(more=""):
            joined = f"{address}{'&' if '?' in address else '?'}{more}" if more else address
            return round(leaves(client.get(joined).data)[0].width)

        assert (width(), width("paper=letter")) == (595, 612)
        demo.get(Garden, 1).units = Units.US
        demo.commit()
        assert (width(), width("paper=a4")) == (612, 595)

    def test_units_of_the_garden_are_those_of_every_sheet(self, client, demo):
        demo.get(Garden, 1).units = Units.US
        demo.commit()
        assert "75.2\u00a0°F" in client.get("/sheets/week/2027-W21").text
        week, grower = (text_of(client.get(address).data) for address in (PDFS[0], PDFS[2]))
        assert "75.2°F" in week
        assert "floz" in week
        assert "indeep" in grower
        assert not re.search(r"°C|\dml|mmdeep", week + grower)

    @pytest.mark.parametrize(
        "address",
        [
            "/sheets?week=2027-W54",
            "/sheets?week=soon",
            "/sheets?paper=a5",
            "/sheets/week/2027-W00",
            "/sheets/week/9999-W52",
            "/sheets/week/0001-W01.pdf",
            "/sheets/week/2027-W21.pdf?paper=../../a4",
            "/sheets/week/2027-W21?paper=A4",
            "/sheets/hand-out?day=2027-02-30",
            "/sheets/hand-out?day=20270612",
            "/sheets/hand-out?day=12.6.",
            "/sheets/hand-out?day=٢٠٢٧-٠٦-١٢",
            "/sheets/hand-out.pdf?day=2027-06-12%00",
            "/sheets/sowing?day=2027-02-30",
            "/sheets/sowing.pdf?day=soon",
            "/sheets/sowing?paper=a5",
            "/growers/0/sheet.pdf",
            "/growers/99999999999999999999/sheet.pdf",
        ],
    )
    def test_what_is_not_there_is_said_to_be_not_there(self, client, address):
        response = client.get(address)
        assert response.status_code == 404
        assert "<h1>" in response.text

    def test_a_pdf_that_cannot_be_made_leads_to_the_page(self, client, monkeypatch):
        def refuse(*_):
            raise PdfError("typst could not set weekly: out of ink")

        monkeypatch.setattr(sheets, "make_pdf", refuse)
        for address in PDFS:
            response = client.get(address)
            assert response.status_code == 500
            assert "This PDF could not be made" in response.text
            assert "out of ink" not in response.text
            page = re.search(r'<a class="button" href="([^"]+)"', response.text)[1]
            assert client.get(page.replace("&amp;", "&")).status_code == 200

    def test_a_name_with_markup_stays_a_name(self, client, demo):
        name = '#import "x" <script>alert(1)</script> *b* \\ '
        demo.get(Grower, 1).name = name
        demo.commit()
        assert "<script>" not in client.get("/sheets").text
        assert squashed(name) in text_of(client.get("/growers/1/sheet.pdf").data)

    def test_saved_cucurbit_seed_is_a_caution_at_hand_out(self, client, demo):
        assert "may be crossed" in client.get("/sheets/hand-out?day=2027-06-12").text
        for lot in demo.query(SeedLot):
            lot.origin = Origin.BOUGHT
        demo.commit()
        assert "may be crossed" not in client.get("/sheets/hand-out?day=2027-06-12").text

    def test_before_dealing_the_sowing_sheet_leads_to_it(self, client):
        text = client.get("/sheets/sowing?day=2027-04-10").text
        assert " trays of this day are not dealt yet." in text
        assert 'href="/trays/deal?day=2027-04-10"' in text
        assert "Notallishere" in text_of(client.get("/sheets/sowing.pdf?day=2027-04-10").data)

    @pytest.mark.parametrize("address", [*PAGES, *FILES])
    def test_a_sheet_takes_no_more_than_fourteen_queries(self, app, client, address):
        with app.app_context():
            engine = db.engine
        statements = []
        event.listen(
            engine, "before_cursor_execute", lambda *told: statements.append(told[2])
        )  # connection, cursor, SQL
        assert client.get(address).status_code == 200
        assert 0 < sum(statement.startswith("SELECT") for statement in statements) <= 14


def next_filled(session, day):
    """Return the next day on which a dealt tray is sown, or its pots are filled."""
    return session.scalar(select(func.min(Tray.sow_on)).where(Tray.sow_on > day))


@pytest.mark.usefixtures("dealt")
class TestDealtSheets:
    def test_the_sowing_sheet_of_the_next_day_is_shown_with_the_days_before_and_after(self, client, session):
        text = client.get("/sheets/sowing").text
        assert "Sowing, Saturday 10 April 2027" in text
        assert 'rel="prev" href="/sheets/sowing?day=2027-04-03' in text
        assert f'rel="next" href="/sheets/sowing?day={next_filled(session, date(2027, 4, 10))}' in text
        assert "not dealt yet" not in text

    def test_a_day_on_which_nothing_is_filled_says_so_and_leads_on(self, client, session):
        text = client.get("/sheets/sowing?day=2027-04-12").text
        assert "No dealt tray is filled on this day." in text
        assert f'href="/sheets/sowing?day={next_filled(session, date(2027, 4, 12))}' in text
        assert client.get("/sheets/sowing.pdf?day=2027-04-12").data[:5] == b"%PDF-"

    def test_the_sowing_page_says_what_the_pdf_says(self, client):
        page = squashed(re.sub(r"<[^>]+>", "", client.get("/sheets/sowing?day=2027-05-15").text))
        pdf = text_of(client.get("/sheets/sowing.pdf?day=2027-05-15").data)
        for words in re.findall(r"Sow11trays:[^.]*\.|Potoninto[^.]*\.|Dampabout[^.]*\.", page):
            assert words in pdf
        trays = re.findall(r"goesto[^.<]*?position\d+", page)
        assert len(trays) > 10
        assert all(words in pdf for words in trays)

    def test_what_lies_before_today_is_sown_and_the_rest_is_not(self, client):
        assert client.get("/sheets/sowing?day=2027-04-03").text.count('data-label="Done">sown<') == 52
        assert 'data-label="Done"' not in client.get("/sheets/sowing?day=2027-04-10").text

    def test_a_tray_leads_to_its_page(self, client):
        text = client.get("/sheets/sowing?day=2027-04-10").text
        numbers = re.findall(r'class="tray-number" href="/trays/(\d+)"', text)
        assert len(numbers) == 7
        assert client.get(f"/trays/{numbers[0]}").status_code == 200

    def test_the_address_where_it_is_typed_in_stands_on_the_sheet_once_it_is_known(self, client, dealt):
        assert "typed in at" not in client.get("/sheets/sowing").text
        dealt.add(PublicAddress(id=1, address="http://shed.lan:5000"))
        dealt.commit()
        assert "http://shed.lan:5000/trays" in client.get("/sheets/sowing").text
        assert "typedinathttp://shed.lan:5000/trays" in text_of(client.get("/sheets/sowing.pdf").data)

    def test_the_weekly_sheet_goes_by_shelf_and_level(self, client):
        text = client.get("/sheets/week/2027-W21").text
        heads = re.findall(r'scope="rowgroup" colspan="7">([^<]+)<', text)
        assert heads[:2] == ["Back room heat bench 1, level 1", "Back room heat bench 1, level 2"]
        assert "Waiting for a position" in heads
        assert len(heads) == len(set(heads))
        pdf = text_of(client.get("/sheets/week/2027-W21.pdf").data)
        assert all(squashed(head) in pdf for head in heads)

    def test_the_ledger_lists_trays_under_their_numbers(self, client):
        sheet, ledger = (client.get(address).text for address in ("/sheets/week/2027-W21", "/ledger/2027-W21"))
        for page in (sheet, ledger):
            assert re.search(r'role="rowheader" scope="row"[^>]*>124<', page)

    def test_the_hand_out_sheet_says_tray_cells_and_position(self, client):
        text = client.get("/sheets/hand-out?day=2027-06-12").text
        lines = re.findall(r'<span class="sub">(tray \d+: [A-Z]\d[^<]*)</span>', text)
        assert len(lines) >= text.count('class="tick"')
        assert all(re.search(r"\(.+, \d+·\d+\)$", line) for line in lines)

    def test_a_growers_page_leads_to_the_trays_with_their_cells(self, client):
        text = client.get("/growers/1").text
        numbers = re.findall(r'href="/trays/(\d+)"', text)
        assert numbers
        assert client.get(f"/trays/{numbers[0]}").status_code == 200
        assert "not dealt yet" not in text

    @pytest.mark.parametrize("address", [*PAGES, *FILES, "/growers/1"])
    def test_a_sheet_takes_no_more_than_fourteen_queries(self, app, client, address):
        TestSheets().test_a_sheet_takes_no_more_than_fourteen_queries(app, client, address)


@pytest.mark.parametrize("address", [*PAGES, *FILES])
def test_before_there_is_a_garden_a_sheet_leads_to_the_first_steps(client, address):
    response = client.get(address)
    assert response.status_code == 302
    assert response.headers["Location"].startswith("/first-steps")
