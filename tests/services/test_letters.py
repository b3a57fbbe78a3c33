"""Weekly letters against a mail server that runs as a process of its own. Names are invented.

The server is aiosmtpd and reads what the program says to it by RFC 5321; tests/mail_server.py says how.
"""

import json
import time
from datetime import date, datetime, timedelta
from types import SimpleNamespace

import pytest
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from app.cli.letters import composer
from app.core.house.mail import MailAddressError, letter_week, read_mail_address, read_mail_host
from app.core.words import MailSecurity, Role
from app.services import letters as service
from app.services.letters import RETRY_S, MailValues, WeeklyLetters, change_mail, claim, send_letters, send_test
from app.services.mail import CERTIFICATE, Letter, server_of
from app.storage.models import Account, CareRound, History, House, Reminder
from app.storage.queries.house import find_house
from tests import rows
from tests.mail_server import letters_in, mail_server, make_certificate
from tests.people import add_account
from tests.servers import free_port

WEEK, MONDAY = "2027-W17", date(2027, 4, 26)
SENDER = "seedlings@garden.example"


def local(day, hour):
    """Return a moment by the clock on this wall. [s since 1970]"""
    return datetime(day.year, day.month, day.day, hour).astimezone().timestamp()


SUNDAY_AFTERNOON = local(MONDAY - timedelta(days=1), 15)


@pytest.fixture
def garden(engine, tmp_path):
    """Return a garden whose tomatoes are sown on Saturday 1 May 2027 (tests/web/seasons.py), and its folders."""
    with Session(engine) as session:
        rows.garden(session)
        rows.shelf(session)
        crop = rows.crop(session, box=rows.container(session))
        made = SimpleNamespace(accounts={}, inbox=tmp_path / "inbox", instance=tmp_path / "instance")
        for at, name in enumerate(("Ada Brandt", "Ines Moreau", "Zoë Keel")):
            grower = rows.grower(session, name)
            rows.sowing(session, grower, crop, f"S-{at}", variety="Tiny")
            account = add_account(session, name, Role.MEMBER, grower.id)
            account.email = f"{name.split()[0].lower().replace('ë', 'e')}@example.org"
            made.accounts[name.split()[0]] = account.id
            if not at:
                day = date(2027, 4, 28)
                session.add(CareRound(date=day, grower_id=grower.id, is_offered=False, is_swapped=False))
        add_account(session, "No Address", Role.MEMBER, grower.id)
        idle = rows.grower(session, "Tom Idle")
        add_account(session, "Tom Idle", Role.MEMBER, idle.id).email = "tom@example.org"
        session.commit()
    made.instance.mkdir()
    made.url = engine.url.render_as_string(hide_password=False)
    return made


def set_server(engine, port, security=MailSecurity.NONE, user=None, passphrase=None):
    values = MailValues(host="127.0.0.1", port=port, security=security, user=user, passphrase=passphrase, sender=SENDER)
    with Session(engine) as session:
        change_mail(session, values)
        session.commit()


def send(garden, now=SUNDAY_AFTERNOON, public=None):
    return send_letters(garden.url, garden.instance, now, composer(public))


def told(engine):
    """Return what is written down of each letter, by account."""
    with Session(engine) as session:
        return {row.account_id: row for row in session.scalars(select(Reminder).where(Reminder.week == WEEK))}


def receivers(garden):
    return [envelope["to"] for envelope, _ in letters_in(garden.inbox)]


def test_each_member_who_wants_it_gets_their_own_week_once(engine, garden):
    with mail_server(garden.inbox) as port:
        set_server(engine, port)
        assert send(garden, public="http://shed.example").sent == 3
        assert send(garden) is None
        assert send(garden, SUNDAY_AFTERNOON + 86_400) is None
    taken = letters_in(garden.inbox)
    assert [envelope for envelope, _ in taken] == [
        {"from": SENDER, "to": [f"{name}@example.org"]} for name in ("ada", "ines", "zoe")
    ]
    message = taken[0][1]
    assert message["Subject"] == "Your week at Wrenmoor: 26 Apr – 2 May"
    assert message["To"] == "ada@example.org"
    assert message["From"].addresses[0].addr_spec == SENDER
    assert message["Auto-Submitted"] == "auto-generated"
    assert message["List-Unsubscribe"] == "<http://shed.example/account>"
    assert message["Message-ID"].endswith("@garden.example>")
    assert message["Date"].datetime.timestamp() == SUNDAY_AFTERNOON
    assert message.get_content_type() == "text/plain"
    text = message.get_content().replace("\r\n", "\n")
    assert "Wed 28 Apr\n• Your care round: water and air\n" in text
    assert "Sat 1 May\n• Sow: Tomato, Tiny, 9 cells (18 seeds, 72-cell tray)\n" in text
    assert "Ines" not in text
    assert taken[2][1].get_content().startswith("Hello Zoë Keel,")
    assert all(row.sent_at == SUNDAY_AFTERNOON and row.fault is None for row in told(engine).values())
    assert len(told(engine)) == 3


def test_letters_go_from_sunday_afternoon_to_tuesday():
    """26 April 2027 is a Monday, by any calendar."""
    moments = {
        datetime(2027, 4, 25, 14, 59): None,  # noqa: DTZ001 - by the clock on the wall
        datetime(2027, 4, 25, 15): MONDAY,  # noqa: DTZ001
        datetime(2027, 4, 26): MONDAY,  # noqa: DTZ001
        datetime(2027, 4, 27, 23, 59): MONDAY,  # noqa: DTZ001
        datetime(2027, 4, 28): None,  # noqa: DTZ001
        datetime(2027, 5, 1, 20): None,  # noqa: DTZ001
    }
    assert {moment: letter_week(moment) for moment in moments} == moments


def test_nothing_is_sent_outside_these_days_or_without_a_server(engine, garden):
    assert send(garden) is None
    with mail_server(garden.inbox) as port:
        set_server(engine, port)
        assert send(garden, SUNDAY_AFTERNOON - 3600) is None
    assert receivers(garden) == []


def test_a_refused_address_keeps_no_other_letter_back_and_is_not_tried_again(engine, garden):
    with mail_server(garden.inbox, refuse=["ada@example.org"], later=["ines@example.org"]) as port:
        set_server(engine, port)
        sending = send(garden)
    assert (sending.sent, sending.faults) == (1, ("An address was refused",))
    assert receivers(garden) == [["zoe@example.org"]]
    rows_of = told(engine)
    refused, later = rows_of[garden.accounts["Ada"]], rows_of[garden.accounts["Ines"]]
    assert refused.fault == "The mail server refuses the address: 550 5.1.1 no such mailbox"
    assert refused.retry_at is None
    assert "451" in later.fault
    assert later.retry_at == SUNDAY_AFTERNOON + RETRY_S
    with mail_server(garden.inbox) as port:
        set_server(engine, port)
        assert send(garden, SUNDAY_AFTERNOON + RETRY_S - 1) is None
        assert send(garden, SUNDAY_AFTERNOON + RETRY_S).sent == 1
    assert sorted(receivers(garden)) == [["ines@example.org"], ["zoe@example.org"]]
    assert told(engine)[garden.accounts["Ines"]].fault is None


def test_a_dead_server_is_written_down_and_tried_again(engine, garden):
    set_server(engine, free_port())
    sending = send(garden)
    assert sending.sent == 0
    assert "refuses or breaks off the connection" in sending.faults[0]
    assert {row.retry_at for row in told(engine).values()} == {SUNDAY_AFTERNOON + RETRY_S}
    with mail_server(garden.inbox) as port:
        set_server(engine, port)
        assert send(garden, SUNDAY_AFTERNOON + RETRY_S).sent == 3
    assert len(receivers(garden)) == 3


def test_a_connection_that_breaks_after_the_text_is_not_tried_again(engine, garden):
    """The server has the letter, though it never said so: sent again it would arrive twice."""
    with mail_server(garden.inbox, cut=["ada@example.org"]) as port:
        set_server(engine, port)
        assert send(garden).sent == 0
        unknown = told(engine)[garden.accounts["Ada"]]
        assert "may have gone out or not" in unknown.fault
        assert unknown.retry_at is None
        assert send(garden, SUNDAY_AFTERNOON + RETRY_S).sent == 2
        assert send(garden, SUNDAY_AFTERNOON + 5 * RETRY_S) is None
    assert sorted(receivers(garden)) == [["ada@example.org"], ["ines@example.org"], ["zoe@example.org"]]


def test_a_computer_that_stops_as_a_letter_goes_leaves_it_unknown_and_sends_the_others(engine, garden, monkeypatch):
    class Stopped(BaseException):
        pass

    def stop(*_args):
        raise Stopped

    with mail_server(garden.inbox) as port:
        set_server(engine, port)
        monkeypatch.setattr(service, "note_sent", stop)
        with pytest.raises(Stopped):
            send(garden)
        monkeypatch.undo()
        assert send(garden).sent == 2
    row = told(engine)[garden.accounts["Ada"]]
    assert (row.sent_at, row.fault, row.retry_at) == (None, None, None)
    assert sorted(receivers(garden)) == [["ada@example.org"], ["ines@example.org"], ["zoe@example.org"]]


def test_of_two_who_claim_a_letter_one_gets_it(engine, garden):
    ada = garden.accounts["Ada"]
    with Session(engine) as one:
        assert claim(one, ada, WEEK, 1.0)
        one.commit()
    with Session(engine) as other:
        assert not claim(other, ada, WEEK, 1.0)


def test_one_process_sends_at_a_time(garden, engine):
    from filelock import FileLock  # noqa: PLC0415 - for this test alone

    with mail_server(garden.inbox) as port:
        set_server(engine, port)
        with FileLock(garden.instance / service.LOCK_FILE):
            assert send(garden) is None
        assert send(garden).sent == 3


def test_the_thread_of_a_server_sends_by_itself_and_ends(engine, garden, monkeypatch):
    monkeypatch.setattr(service.time, "time", lambda: SUNDAY_AFTERNOON)
    with mail_server(garden.inbox) as port:
        set_server(engine, port)
        thread = WeeklyLetters(garden.url, garden.instance, composer(None), every_s=0.05)
        end = time.monotonic() + 20
        while len(receivers(garden)) < 3 and time.monotonic() < end:
            time.sleep(0.05)
        time.sleep(0.3)  # several more looks
        thread.stop(10)
    assert len(receivers(garden)) == 3


# ---------------------------------------------------------------- how the connection is protected


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    return make_certificate(tmp_path_factory.mktemp("certificate"))


@pytest.mark.parametrize("kind", [MailSecurity.TLS, MailSecurity.STARTTLS])
def test_a_certificate_of_ones_own_is_trusted_only_where_it_was_put(engine, garden, certificate, kind):
    own, key = certificate
    wishes = {kind.value: True, "certificate": own, "key": key, "user": "garden", "passphrase": "pässword"}
    with mail_server(garden.inbox, **wishes) as port:
        set_server(engine, port, kind, "garden", "pässword")
        sending = send(garden)
        assert sending.sent == 0
        assert "shows a certificate that this computer does not trust" in sending.faults[0]
        assert CERTIFICATE in sending.faults[0]
        (garden.instance / CERTIFICATE).write_bytes(own.read_bytes())
        assert send(garden, SUNDAY_AFTERNOON + RETRY_S).sent == 3


def test_a_wrong_passphrase_is_said_and_stands_nowhere(engine, garden):
    with mail_server(garden.inbox, user="garden", passphrase="right") as port:
        set_server(engine, port, user="garden", passphrase="wrong-words-here")
        sending = send(garden)
        assert "refuses the name or the passphrase" in sending.faults[0]
        set_server(engine, port, user="garden", passphrase="right")
        assert send(garden, SUNDAY_AFTERNOON + RETRY_S).sent == 3
    with Session(engine) as session:
        said = json.dumps([row.changes for row in session.scalars(select(History))])
    assert "mail_host" in said
    assert "wrong-words-here" not in said


def test_a_server_without_starttls_or_sign_in_gets_nothing(engine, garden):
    with mail_server(garden.inbox) as port:
        set_server(engine, port, MailSecurity.STARTTLS)
        assert "does not offer STARTTLS" in send(garden).faults[0]
        set_server(engine, port, user="garden", passphrase="secret")
        assert "does not offer signing in" in send(garden, SUNDAY_AFTERNOON + RETRY_S).faults[0]
        set_server(engine, port, MailSecurity.TLS)
        assert "speaks no TLS on this port" in send(garden, SUNDAY_AFTERNOON + 2 * RETRY_S).faults[0]
    assert receivers(garden) == []


def test_a_refused_sender_ends_the_round(engine, garden):
    with mail_server(garden.inbox, sender="other@garden.example") as port:
        set_server(engine, port)
        assert "refuses the sender’s address: 550" in send(garden).faults[0]
    assert len(told(engine)) == 3


def test_a_silent_server_keeps_whoever_sends_a_test_no_longer_than_told(engine, garden):
    import socket  # noqa: PLC0415 - for this test alone

    with socket.create_server(("127.0.0.1", 0)) as deaf:
        set_server(engine, deaf.getsockname()[1])
        with Session(engine) as session:
            server = server_of(find_house(session), garden.instance)
        letter = Letter(to="ada@example.org", subject="x\r\nBcc: all@example.org", text="x", sender_name='A "b", c')
        began = time.monotonic()
        assert "The mail server " in send_test(server, letter, wait_s=0.5)
        assert time.monotonic() - began < 5
    with mail_server(garden.inbox) as port:
        set_server(engine, port)
        with Session(engine) as session:
            server = server_of(find_house(session), garden.instance)
        time.sleep(1)  # the one before has given up
        assert send_test(server, letter) == ""
    _, message = letters_in(garden.inbox)[0]
    assert message["Bcc"] is None
    assert message["Subject"] == "x Bcc: all@example.org"
    assert message["From"].addresses[0].display_name == 'A "b", c'


# ---------------------------------------------------------------- settings and addresses


def test_another_server_or_name_never_gets_the_passphrase_of_before(engine):
    with Session(engine) as session:
        base = {"port": 465, "security": MailSecurity.TLS, "sender": SENDER}
        change_mail(session, MailValues(host="a.example", user="u", passphrase="secret", **base))
        change_mail(session, MailValues(host="a.example", user="u", passphrase=None, **base))
        assert session.get_one(House, 1).mail_passphrase == "secret"
        for host, user in (("b.example", "u"), ("a.example", "v"), ("a.example", None)):
            change_mail(session, MailValues(host="a.example", user="u", passphrase="secret", **base))
            change_mail(session, MailValues(host=host, user=user, passphrase=None, **base))
            assert session.get_one(House, 1).mail_passphrase is None


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        (" Ada.Brandt+peas@Example.ORG ", "Ada.Brandt+peas@example.org"),
        ("ada@bücher.example", "ada@xn--bcher-kva.example"),  # RFC 3492's own kind of name, by the IDNA of Python
        ("o'neil@shed", "o'neil@shed"),
    ],
)
def test_addresses_for_mail_are_kept_in_one_form(typed, kept):
    assert read_mail_address(typed) == kept


@pytest.mark.parametrize(
    "typed",
    [
        "", "ada", "@example.org", "ada@", "ada@@example.org", "a b@example.org", "ada@exa mple.org", "ada@-x.org",
        "ada@example.org\nBcc: x@example.org", "ada@example.org, eve@example.org", "<ada@example.org>",
        ".a@example.org",
        "zoë@example.org", "ada@[127.0.0.1]", f"{'a' * 65}@example.org", f"a@{'b' * 64}.org",
    ],
)  # fmt: skip
def test_what_is_no_address_for_mail_is_refused(typed):
    with pytest.raises(MailAddressError):
        read_mail_address(typed)


def test_the_name_of_a_mail_server_is_a_name_alone():
    assert read_mail_host(" Mail.Example.ORG. ") == "mail.example.org"
    for typed in ("", "mail.example.org:465", "https://mail.example.org", "a b", "user@mail.example.org"):
        with pytest.raises(MailAddressError):
            read_mail_host(typed)


def test_who_has_no_grower_or_is_the_demo_gets_none(engine, garden):
    with Session(engine) as session:
        session.execute(update(Account).where(Account.id == garden.accounts["Ada"]).values(is_demo=True))
        session.execute(update(Account).where(Account.id == garden.accounts["Ines"]).values(grower_id=None))
        session.commit()
    with mail_server(garden.inbox) as port:
        set_server(engine, port)
        assert send(garden).sent == 1
