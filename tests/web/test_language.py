"""Which language a page, a sheet, a letter and a calendar speak."""

import pytest
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from app.cli.letters import composer
from app.core.words import Role
from app.language import LANGUAGES, _, language, speaking
from app.storage.models import Account, Garden, Grower
from app.storage.queries.letters import Recipient
from tests import rows
from tests.conftest import TODAY
from tests.people import sign_in_as
from tests.web.everything import addresses, fill
from tests.web.filling import form_values, guards, send
from tests.web.pages import read_page

FRENCH = {"Accept-Language": "fr-CA,fr;q=0.9,en;q=0.5"}


@pytest.fixture
def grower_id(engine):
    """Return the id of a grower with a sowing."""
    with Session(engine) as session:
        rows.garden(session)
        crop = rows.crop(session, box=rows.container(session))
        grower = rows.grower(session, "Ada Brandt")
        rows.sowing(session, grower, crop, "S-1", plants=12)
        session.commit()
        return grower.id


def language_of(page):
    """Return the language that a page says it has."""
    return page.partition('<html lang="')[2].partition('"')[0]


def choose(client, code, **more):
    """Choose a language on its page, and return the answer."""
    values = form_values(client.get("/language", query_string=more).text)
    return client.post("/language", data=values | {"language": code} | more)


@pytest.mark.parametrize(
    ("accepts", "spoken"),
    [
        ("fr-CA,fr;q=0.9,en;q=0.5", "fr"),
        ("de,es;q=0.4", "es"),
        ("de", "en"),
        ("en-GB,fr;q=0.9", "en"),
        ("", "en"),
    ],
)
def test_before_signing_in_a_page_speaks_what_the_browser_prefers(visitor, accepts, spoken):
    page = visitor.get("/sign-in", headers={"Accept-Language": accepts}).text
    assert language_of(page) == spoken


def test_every_page_leads_to_the_choice_and_back(client, visitor, grower_id):
    for one, path in ((visitor, "/sign-in?next=%2Ftrays"), (client, "/week?by=shelf")):
        link = read_page(one.get(path).text)
        assert 'href="/language?back=' in one.get(path).text, link
        assert choose(one, "es", back=path).headers["Location"] == path
        assert language_of(one.get(path).text) == "es"


def test_choice_leads_nowhere_else(visitor):
    for back in ("//elsewhere.example", "https://elsewhere.example/", "/\\elsewhere.example"):
        assert choose(visitor, "fr", back=back).headers["Location"] == "/"


def test_unknown_language_is_refused_and_nothing_changes(client, engine):
    values = guards(client, "/language", "/language")
    for code in ("de", "", "FR", "fr_FR", "../fr"):
        assert client.post("/language", data=values | {"language": code}).status_code == 400
    with Session(engine) as session:
        assert session.scalars(select(Account.language)).all() == [None]


def test_choice_before_signing_in_outlives_it_and_that_of_the_account_goes_first(app, client, visitor, grower_id):
    choose(visitor, "es")
    sign_in_as(visitor, "Ada Brandt", Role.MEMBER, grower_id)
    with visitor.session_transaction() as kept:
        kept["language"] = "es"  # signing in keeps it; this sign-in is made aside
    assert language_of(visitor.get("/sowings").text) == "es"
    choose(visitor, "fr")
    other = app.test_client()
    with visitor.session_transaction() as here, other.session_transaction() as there:
        there["token"] = here["token"]
        there["language"] = "es"
    assert language_of(other.get("/sowings", headers={"Accept-Language": "en"}).text) == "fr"
    visitor.post("/sign-out", data=guards(visitor, "/sign-out", "/sign-out"))
    assert language_of(visitor.get("/sign-in").text) == "fr"


def test_kept_pages_are_kept_for_each_language(client, grower_id):
    pages = {code: client.get("/ledger", headers={"Accept-Language": code}).text for code in [*LANGUAGES, *LANGUAGES]}
    assert {code: language_of(page) for code, page in pages.items()} == {code: code for code in LANGUAGES}


def test_refusals_and_faults_speak_the_language_too(client, visitor):
    for answer in (client.get("/nowhere", headers=FRENCH), visitor.get("/nowhere", headers=FRENCH)):
        assert (answer.status_code, language_of(answer.text)) == (404, "fr")


def test_next_request_speaks_its_own_language(client, grower_id):
    assert language_of(client.get("/trays", headers=FRENCH).text) == "fr"
    assert language_of(client.get("/trays").text) == "en"


# ---------------------------------------------------------------- what is for others


def speaks(engine, *, garden="en", grower=None):
    """Set the garden's language and that of the account of its grower."""
    with Session(engine) as session:
        session.execute(update(Garden).values(language=garden))
        if grower is not None:
            member = session.scalars(select(Account).where(Account.grower_id.is_not(None))).one()
            member.language = grower
        session.commit()


@pytest.fixture
def member(app, client, grower_id):
    """Return a client of the grower."""
    member = app.test_client()
    sign_in_as(member, "Ada Brandt", Role.MEMBER, grower_id)
    return member


def test_sheets_of_many_speak_the_gardens_language_whoever_prints_them(client, engine, member):
    speaks(engine, garden="fr")
    week = "2027-W15"
    for path in (f"/sheets/week/{week}.pdf", "/sheets/sowing.pdf", "/sheets/hand-out.pdf", f"/notice.pdf?week={week}"):
        answer = client.get(path)
        assert answer.mimetype == "application/pdf", path
        assert b"/Lang(fr)" in answer.data, path
    assert b"/Lang(es)" in client.get(f"/sheets/week/{week}.pdf?language=es").data
    assert b"/Lang(fr)" in client.get(f"/sheets/week/{week}.pdf?language=xx").data


def test_a_growers_sheet_speaks_their_language_as_soon_as_they_choose_it(client, engine, member, grower_id):
    path = f"/growers/{grower_id}/sheet.pdf"
    assert b"/Lang(en)" in client.get(path).data
    choose(member, "es")
    assert b"/Lang(es)" in client.get(path).data
    assert language_of(client.get("/trays").text) == "en"


def test_a_letter_speaks_its_readers_language(engine, member, grower_id, monkeypatch):
    spoken = []
    monkeypatch.setattr("app.cli.letters.make_letter", lambda *_: spoken.append(language()))

    speaks(engine, garden="fr")
    with Session(engine) as session:
        for chosen in (None, "es"):
            who = Recipient(account_id=1, name="Ada", email="ada@example.org", grower_id=grower_id, language=chosen)
            composer(None)(session, who, TODAY)
    assert spoken == ["fr", "es"]


def test_set_up_has_the_gardens_language(client, engine, grower_id):
    send(client, "/setup/garden", language="fr")
    with Session(engine) as session:
        assert session.scalars(select(Garden.language)).one() == "fr"
        assert session.scalars(select(Grower.name)).all() == ["Ada Brandt"]
    assert "Français" in client.get("/setup").text


def test_nothing_is_said_as_nothing():
    for code in LANGUAGES:
        with speaking(code):
            assert _("") == ""


def test_a_short_month_and_the_end_of_a_sentence_share_their_full_stop(app):
    day = {"day": "10 avr."}
    assert _("Trays as dealt on %(day)s.", **day).endswith("10 avr.")
    template = app.jinja_env.from_string(
        '{{ _("Before %(day)s. After", day=day) }}|{% trans day=day %}On <b>{{ day }}</b>, {{ day }}.{% endtrans %}'
        '|{{ ngettext("%(num)s by %(day)s.", "%(num)s by %(day)s.", 2, day=day) }}|{{ _("%(path)s", path="a < ../b") }}'
    )
    assert template.render(**day) == ("Before 10 avr. After|On <b>10 avr.</b>, 10 avr.|2 by 10 avr.|a &lt; ../b")


def test_files_for_other_programs_keep_english(app, client, engine):
    values = fill(engine)
    files = [
        address for address in addresses(app, values, "GET").values() if address.partition("?")[0].endswith(".csv")
    ]
    assert len(files) >= 6
    for address in files:
        assert client.get(address, headers=FRENCH).data == client.get(address).data, address


def test_a_new_garden_speaks_the_language_of_who_set_it_up(client, engine):
    values = form_values(client.get("/setup/new", headers=FRENCH).text)
    typed = {"name": "Aulnes", "latitude": "47,1", "last": "10 mai", "first": "26 sept.", "units": "metric"}
    assert client.post("/setup/new", data=values | typed, headers=FRENCH).status_code == 302
    with Session(engine) as session:
        assert session.scalars(select(Garden.language)).one() == "fr"
