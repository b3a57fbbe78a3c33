"""The pages of the weekly letters and of words to send. Names are invented."""

import re
import time
from datetime import date

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.words import LogKind, MailSecurity, Role
from app.services.letters import MailValues, change_mail
from app.services.log import NewEntry, add_entries, take_back
from app.storage.models import Account, CareRound, Feed, Grower, History, House, Reminder
from tests import rows
from tests.mail_server import letters_in, mail_server
from tests.people import sign_in_as
from tests.servers import free_port
from tests.web.dealt import tomatoes
from tests.web.filling import errors_of, guards, send
from tests.web.pages import read_page
from tests.web.seasons import words

FOUND, WRONG = 302, 400
SERVER = "/setup/mail/server"
TYPED = {
    "mail_host": "Mail.Example.org", "mail_port": "465", "mail_security": "tls", "mail_user": "garden",
    "passphrase": "a secret of ours", "mail_from": "seedlings@example.org",
}  # fmt: skip


@pytest.fixture
def garden(engine):
    with Session(engine) as session:
        made = tomatoes(session, dealt=False)
        ada = session.scalars(select(Grower).where(Grower.name == "Ada Brandt")).one()
        ines = session.scalars(select(Grower).where(Grower.name == "Ines Moreau")).one()
        for day, who in ((date(2027, 4, 28), ada), (date(2027, 5, 2), ines), (date(2027, 5, 5), ada)):
            session.add(CareRound(date=day, grower_id=who.id, is_offered=False, is_swapped=False, note="Back <gate>"))
        made.ada = ada.id
        session.commit()
        return made


def set_server(engine, port):
    values = {"security": MailSecurity.NONE, "user": None, "passphrase": None, "sender": "seedlings@example.org"}
    with Session(engine) as session:
        change_mail(session, MailValues(host="127.0.0.1", port=port, **values))
        session.commit()


def test_the_mail_server_is_set_and_its_passphrase_is_never_shown_again(client, engine, garden):
    assert send(client, SERVER, **TYPED).status_code == FOUND
    with Session(engine) as session:
        house = session.get_one(House, 1)
        assert (house.mail_host, house.mail_port, house.mail_passphrase) == (
            "mail.example.org",
            465,
            "a secret of ours",
        )
    pages = [client.get(path).text for path in ("/setup/mail", SERVER, "/history", "/setup/mail")]
    assert "mail.example.org, port 465" in pages[0]
    assert "passphrase set" in pages[0]
    assert not [page for page in pages if "a secret of ours" in page]
    with Session(engine) as session:
        assert "a secret of ours" not in repr([row.changes for row in session.scalars(select(History))])


def test_an_empty_passphrase_keeps_the_one_of_this_server_and_name_alone(client, engine, garden):
    send(client, SERVER, **TYPED)
    assert send(client, SERVER, passphrase="", mail_port="587", mail_security="starttls").status_code == FOUND
    answer = send(client, SERVER, passphrase="", mail_host="evil.example.org")
    assert errors_of(answer.text) == {"passphrase": "Not right yet: Enter the passphrase: server or name are new."}
    with Session(engine) as session:
        house = session.get_one(House, 1)
        assert (house.mail_host, house.mail_passphrase) == ("mail.example.org", "a secret of ours")
    assert send(client, SERVER, mail_host="").status_code == FOUND
    with Session(engine) as session:
        house = session.get_one(House, 1)
        assert (house.mail_host, house.mail_user, house.mail_passphrase, house.mail_from) == (None, None, None, None)


@pytest.mark.parametrize(
    ("changes", "wrong"),
    [
        ({"mail_port": ""}, "mail_port"),
        ({"mail_port": "70000"}, "mail_port"),
        ({"mail_security": ""}, "mail_security"),
        ({"mail_security": "none"}, "mail_security"),
        ({"mail_from": ""}, "mail_from"),
        ({"mail_from": "seedlings"}, "mail_from"),
        ({"mail_host": "mail.example.org:465"}, "mail_host"),
        ({"mail_user": ""}, "mail_user"),
        ({"passphrase": ""}, "passphrase"),
    ],
)
def test_parts_that_do_not_go_together_are_said_beside_their_field(client, engine, garden, changes, wrong):
    answer = send(client, SERVER, **TYPED | changes)
    assert list(errors_of(answer.text)) == [wrong]
    with Session(engine) as session:
        assert session.get(House, 1) is None


def test_a_test_letter_goes_and_what_keeps_it_is_said(client, engine, garden, tmp_path):
    path = "/setup/mail/test"
    with mail_server(tmp_path / "inbox", refuse=["no@example.org"]) as port:
        set_server(engine, port)
        for to, said in (
            ("ada@example.org", "The mail server has taken a test letter to ada@example.org"),
            ("no@example.org", "No test letter was sent. The mail server refuses the address: 550"),
        ):
            answer = client.post(path, data=guards(client, path, "/setup/mail") | {"to": to}, follow_redirects=True)
            assert said in words(answer.text)
        answer = client.post(path, data=guards(client, path, "/setup/mail") | {"to": "nowhere"})
        assert (answer.status_code, list(errors_of(answer.text))) == (WRONG, ["to"])
    assert [message["Subject"] for _, message in letters_in(tmp_path / "inbox")] == ["Test letter of Wrenmoor"]
    set_server(engine, free_port())
    answer = client.post(
        path, data=guards(client, path, "/setup/mail") | {"to": "ada@example.org"}, follow_redirects=True
    )
    assert "refuses or breaks off the connection" in words(answer.text)


def test_nobody_who_writes_waits_for_a_test_letter(app, client, engine, garden, monkeypatch):
    """The mail server is asked while no transaction is open."""
    set_server(engine, free_port())
    seen = []

    def write(_server, _letter):
        with Session(engine) as session:
            rows.grower(session, "Quick Brown")
            session.commit()
            seen.append(True)
        return ""

    monkeypatch.setattr("app.web.views.mail.send_test", write)
    path = "/setup/mail/test"
    began = time.monotonic()
    assert client.post(path, data=guards(client, path, "/setup/mail") | {"to": "a@example.org"}).status_code == FOUND
    assert seen
    assert time.monotonic() - began < 4  # a writer that had to wait would have been refused after five


def test_what_became_of_letters_stands_on_the_page(client, engine, garden):
    account = sign_in_as(client)
    with Session(engine) as session:
        for week, values in {
            "2027-W15": {"sent_at": 1_807_000_000.0},
            "2027-W16": {"fault": "The mail server refuses the address: 550 <b>no</b>", "retry_at": 1_807_500_000.0},
            "2027-W17": {},
        }.items():
            session.add(Reminder(account_id=account, week=week, **{"sent_at": None, "fault": None} | values))
        session.commit()
    said = words(client.get("/setup/mail").text)
    assert "taken by the mail server" in said
    assert "Not sent. The mail server refuses the address: 550 <b>no</b>. Tried again after" in said
    assert "it may have gone out or not, and is not sent twice" in said


def test_a_member_says_where_their_letter_goes_and_can_stop_it(app, client, engine, garden):
    member = app.test_client()
    account_id = sign_in_as(member, "Ada Brandt", Role.MEMBER, garden.ada)
    assert "You get no weekly letter." in words(member.get("/account").text)
    assert list(errors_of(send(member, "/account/letter", email="ada at home").text)) == ["email"]
    assert send(member, "/account/letter", email="Ada@Example.org").status_code == FOUND
    assert "A letter with your week goes to Ada@example.org on Sundays." in words(member.get("/account").text)
    assert member.get("/account/export.json").json["account"]["email"] == "Ada@example.org"
    for path in ("/people", f"/people/{account_id}/edit", "/setup/mail"):
        assert "Ada@example.org" not in client.get(path).text
    assert send(member, "/account/letter", email="").status_code == FOUND
    with Session(engine) as session:
        assert session.get_one(Account, account_id).email is None


def texts_of(client, week="2027-W17"):
    """Return each text of the page, by its label."""
    page = read_page(client.get(f"/words?week={week}").text)
    labels = {e.attributes["for"]: " ".join(e.text.split()) for e in page.all("label")}
    areas = page.all("textarea")
    assert all("readonly" in area.attributes for area in areas)
    return {labels[area.attributes["id"]]: area.text.removeprefix("\n") for area in areas}


def test_words_for_the_chat_of_all_name_nobody(client, garden):
    """By tests/web/dealt.py each grower's 40 plants take 53 cells, sown on 1 May."""
    text = texts_of(client)["For everybody"]
    assert text == "Wrenmoor, 26 Apr – 2 May\n\nSat 1 May\n• Sow: Tomato (159 cells)"


def test_words_for_a_person_and_a_round_hold_theirs_alone(client, garden):
    texts = texts_of(client)
    assert set(texts) == {
        *("For everybody", "Wed 28 Apr: Ada Brandt", "Sun 2 May: Ines Moreau"),
        *("Ada Brandt", "Ines Moreau", "Tomas Keel"),
    }
    assert texts["Ada Brandt"] == (
        "Hello Ada Brandt, your week at Wrenmoor, 26 Apr – 2 May:\n\n"
        "Wed 28 Apr\n• Your care round: water and air (Back <gate>)\n\n"
        "Sat 1 May\n• Sow: Tomato, 53 cells (106 seeds, 72-cell tray)"
    )
    assert texts["Sun 2 May: Ines Moreau"].startswith("Hello Ines Moreau, Sun 2 May is your care round at Wrenmoor")
    assert re.search("Ines|Tomas", texts["Ada Brandt"]) is None


def test_what_was_written_down_since_the_last_visit_is_told_without_names(client, engine, garden, monkeypatch):
    """Counts as they were typed; an entry that was taken back counts for nothing."""
    began = time.time()
    assert "Since you were last here" not in client.get("/words").text
    assert "Since you were last here" not in client.get("/words").text  # the same visit
    with Session(engine) as session:
        entries = [
            NewEntry(sowing_id=of, kind=LogKind.SOWN, date=date(2027, 4, 10), count=count)
            for of, count in zip(garden.sowings, (20, 7, 5), strict=True)
        ]
        made = add_entries(session, entries, today=date(2027, 4, 10), account_id=None)
        take_back(session, made[2].id, today=date(2027, 4, 10), account_id=None)
        session.commit()
    monkeypatch.setattr("app.web.views.send_words.time.time", lambda: began + 2 * 3600)
    assert texts_of(client)["What was written down"] == "• Sown: Tomato, 27 cells"
    assert texts_of(client)["What was written down"] == "• Sown: Tomato, 27 cells"
    monkeypatch.setattr("app.web.views.send_words.time.time", lambda: began + 9 * 3600)
    assert "Nothing was written down since" in words(client.get("/words").text)


def test_a_week_without_work_says_so(client, garden):
    said = words(client.get("/words?week=2027-W02").text)
    assert "Nothing is due." in said
    assert "Nobody has anything to do in this week." in said


def test_who_is_erased_leaves_no_address_and_no_letter(app, client, engine, garden):
    member = app.test_client()
    account_id = sign_in_as(member, "Ada Brandt", Role.MEMBER, garden.ada)
    send(member, "/account/letter", email="ada.at.home@example.org")
    path = "/calendar/address"
    assert member.post(path, data=guards(member, path, "/calendar") | {"dates": "mine"}).status_code == 200
    with Session(engine) as session:
        session.add(Reminder(account_id=account_id, week="2027-W15", sent_at=1.0, fault=None))
        session.commit()
        assert "ada.at.home" in repr([row.changes for row in session.scalars(select(History))])
    kept = member.get("/account/export.json").json
    assert [row["week"] for row in kept["weekly_letters"]] == ["2027-W15"]
    assert [row["dates"] for row in kept["calendar_addresses"]] == ["your own"]
    assert send(client, f"/people/{account_id}/erase").status_code == FOUND
    with Session(engine) as session:
        assert "ada.at.home" not in repr([row.changes for row in session.scalars(select(History))])
        assert session.scalars(select(Reminder)).all() == session.scalars(select(Feed)).all() == []
