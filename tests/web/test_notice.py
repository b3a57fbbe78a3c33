"""The page of the board notice and its file."""

import re

import pytest

from app.core.words import Units
from app.services.folder import load_demo
from app.sheets.pdf import PdfError
from app.storage.models import Crop, Garden, Sowing
from app.web.views import sheets
from tests.kept_gardens import kept
from tests.sheets.reading import leaves, squashed, text_of
from tests.web.seasons import SOWN_IN, Statements, links, one_sowing, words

PDF = "/notice.pdf?week=2027-W20"


@pytest.fixture
def demo(session):
    kept(session, load_demo)
    session.commit()
    return session


def test_a_week_before_inside_and_after_the_window_of_a_crop(client, session):
    one_sowing(session)
    assert "Not yet: start indoors from 24 Apr Tomato" in words(client.get("/notice?week=2027-W15").text)
    # tests/web/seasons.py: sown on Saturday 1 May, up in 6 days; ripe and picked in 74 days, so sown by 6 May.
    page = words(client.get(f"/notice?week={SOWN_IN}").text)
    assert "Tomato 72-cell tray 2 lamp 6 days: Fri 7 May by Thu 6 May" in page
    assert "last chance Thu 6 May" in words(client.get("/notice?week=2027-W18").text)
    assert "Past its last chance indoors Tomato" in words(client.get("/notice?week=2027-W19").text)
    assert "From Sat 19 Jun: Tomato" in words(client.get("/notice?week=2027-W24").text)


def test_nobody_needs_to_want_a_crop(client, session):
    made = one_sowing(session)
    wanted = client.get(f"/notice?week={SOWN_IN}").text
    session.delete(session.get(Sowing, made.sowing))
    session.commit()
    assert client.get(f"/notice?week={SOWN_IN}").text == wanted


def test_a_change_of_the_risk_shows_at_once(client, session):
    one_sowing(session)
    before = words(client.get(f"/notice?week={SOWN_IN}").text)
    assert "A freeze on 13 Jun or later comes in 1 spring in 10" in before
    session.get(Garden, 1).risk = 0.5
    session.commit()
    after = words(client.get(f"/notice?week={SOWN_IN}").text)
    # On 8 June a week after the average frost, so on Saturday 12 June: a week earlier, sown by 1 May.
    assert "A freeze on 1 Jun or later comes in 1 spring in 2" in after
    assert "by Sat 1 May" in after


@pytest.mark.usefixtures("demo")
class TestNotice:
    def test_without_a_week_it_is_that_of_today(self, client):
        page = client.get("/notice")
        assert "What to sow, 5 – 11 Apr 2027 (W14)" in words(page.text)
        assert "Board notice for this week" in page.text
        assert {"/notice?week=2027-W13", "/notice?week=2027-W15", "/notice.pdf?week=2027-W14&paper=a4"} <= links(
            page.text
        )

    def test_it_leads_from_week_to_week_across_new_year_and_back_to_this_week(self, client):
        assert {"/notice?week=2026-W53", "/notice?week=2027-W02", "/notice"} <= links(
            client.get("/notice?week=2027-W01").text
        )

    def test_a_chosen_paper_stays(self, client):
        found = links(client.get("/notice?week=2027-W15&paper=letter").text)
        assert {"/notice?week=2027-W16&paper=letter", "/notice.pdf?week=2027-W15&paper=letter"} <= found

    def test_the_week_and_the_sheets_lead_to_it(self, client):
        assert "/notice?week=2027-W14" in links(client.get("/").text)
        found = links(client.get("/sheets?week=2027-W20").text)
        assert {"/notice?week=2027-W20&paper=a4", "/notice.pdf?week=2027-W20&paper=a4"} <= found

    def test_every_link_leads_somewhere(self, client):
        for address in sorted(links(client.get("/notice?week=2027-W20").text)):
            if not address.startswith("#"):
                assert client.get(address).status_code == 200, address

    def test_page_and_pdf_say_the_same(self, client):
        page = squashed(words(client.get("/notice?week=2027-W20").text))
        pdf = text_of(client.get(PDF).data)
        for said in (
            *("What to sow, 17 – 23 May 2027 (W20)", "Okra 7 cm pot 2 13 mm heat, then lamp 14 days: Fri 4 Jun"),
            *("Arugula 4 May – 21 Jul", "last chance Thu 20 May", "Artichoke 45 days", "Florence fennel 12 Jun"),
            "A freeze on 13 Jun or later comes in 1 spring in 10; tender crops wait for that day.",
        ):
            assert squashed(said) in page
            assert squashed(said) in pdf

    def test_the_file_is_one_page_under_a_plain_name(self, client):
        response = client.get(PDF)
        assert (response.status_code, response.mimetype) == (200, "application/pdf")
        assert response.headers["Content-Disposition"] == 'attachment; filename="board-notice-2027-W20.pdf"'
        assert len(leaves(response.data)) == 1

    def test_units_and_paper_follow_the_garden(self, client, demo):
        assert round(leaves(client.get(PDF).data)[0].width) == 595
        demo.get(Garden, 1).units = Units.US
        demo.commit()
        page, pdf = client.get("/notice?week=2027-W20").text, client.get(PDF).data
        assert round(leaves(pdf)[0].width) == 612
        assert "1/2\u00a0in" in page
        assert "1/2in" in text_of(pdf)
        assert not re.search(r"\d\s?mm\b", words(page) + text_of(pdf))

    @pytest.mark.parametrize(
        "address",
        [
            "/notice?week=2027-W54",
            "/notice?week=soon",
            "/notice?week=9999-W52",
            "/notice?paper=a5",
            "/notice.pdf?week=0001-W01",
            "/notice.pdf?week=2027-W20&paper=../a4",
        ],
    )
    def test_what_is_not_there_is_said_to_be_not_there(self, client, address):
        assert client.get(address).status_code == 404

    def test_a_pdf_that_cannot_be_made_leads_to_the_page(self, client, monkeypatch):
        def refuse(*_):
            raise PdfError("typst could not set notice: out of ink")

        monkeypatch.setattr(sheets, "make_pdf", refuse)
        response = client.get(PDF)
        assert response.status_code == 500
        assert "out of ink" not in response.text
        assert "/notice?week=2027-W20" in links(response.text)

    def test_a_name_with_markup_stays_a_name(self, client, demo):
        name = '#eval("1") <b>Okra</b> $x$'
        demo.query(Crop).filter_by(name="Okra").one().name = name
        demo.commit()
        assert "<b>Okra" not in client.get("/notice?week=2027-W20").text
        assert squashed(name) in text_of(client.get(PDF).data)

    @pytest.mark.parametrize("address", ["/notice?week=2027-W20", PDF])
    def test_it_takes_no_more_than_twelve_queries(self, app, client, address):
        statements = Statements(app)
        assert client.get(address).status_code == 200
        assert 0 < len(statements) <= 12
        statements.clear()
        assert client.get(address).status_code == 200
        assert len(statements) <= 2


@pytest.mark.parametrize("address", ["/notice", "/notice.pdf"])
def test_before_there_is_a_garden_it_leads_to_the_first_steps(client, address):
    response = client.get(address)
    assert response.status_code == 302
    assert response.headers["Location"].startswith("/first-steps")
