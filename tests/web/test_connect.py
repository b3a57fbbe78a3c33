"""How phones find the program: what the codes hold is read back by an independent reader."""

import re
from dataclasses import replace

import numpy as np
import pytest
import zxingcpp
from sqlalchemy import select

from app import create_app, network
from app.core.house.wifi import WifiError, require_wifi_name, require_wifi_passphrase
from app.core.words import Role
from app.extensions import db
from app.services.printing import set_public_address
from app.sheets.door import DoorSheet, make_code, make_wifi
from app.sheets.pdf import Paper, Template, make_pdf
from app.storage.models import History, House
from app.web.views import connect
from tests import rows
from tests.people import sign_in_as
from tests.sheets.labelling import codes_in, pictures
from tests.sheets.reading import beyond_margins, leaves, overlapping, pages, squashed, text_of
from tests.web.pages import read_page

WIFI = 'Shed \\ "Wi-Fi"; free: a,b'


@pytest.fixture
def reached(monkeypatch):
    """Let the machine be reached under a name and a number."""
    monkeypatch.setattr(
        connect, "working_addresses", lambda _host, port: (f"http://shed.lan:{port}", f"http://192.168.1.50:{port}")
    )


def drawn_codes(html):
    """Return what is read from each code on a page, by its name for those who cannot see it."""
    found = {}
    for box, name, path in re.findall(
        r'<svg class="code" viewBox="([^"]+)"[^>]*aria-label="([^"]+)".*? d="([^"]+)"', html
    ):
        side, scale = int(box.split()[2]), 6
        picture = np.full((side * scale, side * scale), 255, np.uint8)
        for column, row, length in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", path):
            x, y = (int(column) + 4) * scale, (int(row) + 4) * scale
            picture[y : y + scale, x : x + int(length) * scale] = 0
        (code,) = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
        found[name] = code.text
    return found


def read_wifi(text):
    """Return the parts of a code that joins a network, as https://github.com/zxing/zxing/wiki/Barcode-Contents has it:
    `WIFI:` and fields `X:value;`, in which a backslash goes before \\ ; , " and :.
    """
    assert text.startswith("WIFI:")
    fields = re.findall(r"([TSPH]):((?:\\.|[^;\\])*);", text[5:])
    return {key: re.sub(r"\\(.)", r"\1", value) for key, value in fields}


def set_wifi(app, name, passphrase):
    with app.app_context():
        db.session.merge(House(id=1, wifi_name=name, wifi_passphrase=passphrase))
        db.session.commit()


def test_the_addresses_that_work_are_shown_with_codes_the_one_that_stays_first(client, app, reached):
    with app.app_context():
        set_public_address(db.session, "http://seedlings.garden.example")
        db.session.commit()
    page = client.get("/connect").text
    assert list(drawn_codes(page).values()) == [
        "http://seedlings.garden.example",
        "http://shed.lan:5000",
        "http://192.168.1.50:5000",
    ]
    heads = [section.text for section in read_page(page).all("section")]
    assert "It stays" in heads[0]
    assert "A name" in heads[1]
    assert "may change" in heads[2]


def test_the_address_by_which_the_page_was_opened_works_too_and_is_shown(client, reached):
    cookie = f"traymates={client.get_cookie('traymates').value}"
    other = client.application.test_client(use_cookies=False)
    page = other.get("/connect", headers={"Host": "10.0.0.7:8080", "Cookie": cookie}).text
    assert "http://10.0.0.7:8080" in drawn_codes(page).values()


def test_where_only_this_machine_listens_the_page_says_how_to_change_it(client):
    page = client.get("/connect").text
    assert "traymates serve --host 0.0.0.0" in page
    assert drawn_codes(page) == {}
    assert client.get("/connect/door.pdf").status_code == 404


def test_a_server_that_listens_everywhere_shows_its_own_numbers(app):
    other = create_app(replace(app.config["SETTINGS"], host="0.0.0.0", port=5071))  # noqa: S104 - what is shown
    client = other.test_client()
    sign_in_as(client)
    page = client.get("/connect").text
    numbers = [str(ip) for ip in network.own_addresses() if ip.version == 4]
    assert numbers
    assert {f"http://{number}:5071" for number in numbers} <= set(drawn_codes(page).values())


def test_the_program_says_what_its_clock_says(client):
    assert re.search(r"It says <strong>\w{3} \d{1,2} \w{3} \d{4}, \d\d:\d\d</strong>", client.get("/connect").text)


@pytest.mark.parametrize("passphrase", ["correct horse", 'a;b:c,d\\e"f', "0123456789abcdef" * 4, None])
def test_the_code_joins_the_wifi_whatever_is_in_its_name(client, app, reached, passphrase):
    set_wifi(app, WIFI, passphrase)
    page = client.get("/connect").text
    held = read_wifi(next(text for name, text in drawn_codes(page).items() if "join" in name))
    assert held["S"] == WIFI
    assert held.get("P") == passphrase
    assert held.get("T", "nopass") == ("nopass" if passphrase is None else "WPA")


def test_a_member_sees_the_wifi_and_only_a_coordinator_changes_it(client, app, reached):
    set_wifi(app, "Shed", "correct horse")
    member = app.test_client()
    sign_in_as(member, "Tomas Keel", Role.MEMBER)
    page = member.get("/connect").text
    assert "correct horse" in page
    assert "/connect/wifi" not in page
    assert member.get("/connect/wifi").status_code == 403
    assert "/connect/wifi" in client.get("/connect").text


def save(client, name, passphrase):
    page = read_page(client.get("/connect/wifi").text)
    hidden = {
        field.attributes["name"]: field.attributes.get("value", "")
        for field in page.all("input")
        if field.attributes.get("type") == "hidden"
    }
    form = hidden | {"wifi_name": name, "wifi_passphrase": passphrase}
    return client.post("/connect/wifi", data=form, follow_redirects=True)


def test_the_wifi_is_entered_changed_and_taken_out(client, app):
    assert "Wi-Fi saved" in save(client, "Shed", "correct horse").text
    assert "Wi-Fi saved" in save(client, "Shed", "correct horse ").text
    with app.app_context():
        assert db.session.get(House, 1).wifi_passphrase == "correct horse "
        changes = [row.changes for row in db.session.scalars(select(History).where(History.noun == "house"))]
    assert changes
    assert "correct horse" not in repr(changes)
    assert "Wi-Fi taken out" in save(client, "", "").text
    with app.app_context():
        assert db.session.get(House, 1).wifi_passphrase is None


# IEEE 802.11-2020: a name of up to 32 bytes; 8 to 63 characters from 0x20 to 0x7E, or 64 hexadecimal digits.
@pytest.mark.parametrize(
    ("name", "passphrase", "words"),
    [
        ("é" * 17, "correct horse", "takes 34 bytes"),
        ("x" * 33, "correct horse", "at most 32"),
        ("Shed", "1234567", "8 to 63"),
        ("Shed", "x" * 64, "8 to 63"),
        ("Shed", "x" * 65, "at most 64"),
        ("Shed", "pässword1", "8 to 63"),
        ("Shed", "tab\there, yes", "8 to 63"),
        ("", "correct horse", "Enter the name"),
        ("Sh\x07ed", "correct horse", "Not right yet"),
    ],
)
def test_what_no_wifi_can_have_is_refused_at_its_field(client, app, name, passphrase, words):
    answer = save(client, name, passphrase)
    assert words in answer.text
    assert "Not right yet" in answer.text
    with app.app_context():
        assert db.session.get(House, 1) is None


def test_the_limits_themselves_are_right():
    require_wifi_name("é" * 16)
    require_wifi_passphrase("x" * 8)
    require_wifi_passphrase(" " * 63)
    require_wifi_passphrase("0" * 64)
    with pytest.raises(WifiError):
        require_wifi_name("")


@pytest.mark.parametrize("paper", list(Paper))
def test_the_sheet_for_the_door_has_both_codes_and_fits_its_page(client, app, engine, reached, paper):
    with app.app_context():
        rows.garden(db.session)
        db.session.commit()
    set_wifi(app, WIFI, "correct horse; battery")
    answer = client.get(f"/connect/door.pdf?paper={paper}")
    assert answer.mimetype == "application/pdf"
    (page,) = pages(answer.data)
    for words in (WIFI, "correct horse; battery", "http://shed.lan:5000", "only on the garden’s Wi-Fi", "no internet"):
        assert squashed(words) in squashed(page)
    (leaf,) = leaves(answer.data)
    assert beyond_margins(leaf, 14) == []
    assert overlapping(leaf) == []
    (picture,) = pictures(answer.data, 100)
    read = {text for text, _ in codes_in(picture, (0, 0, 220, 300), 100)}
    assert {text.partition(":")[0] for text in read} == {"WIFI", "http"}
    assert "http://shed.lan:5000" in read
    assert read_wifi(next(text for text in read if text.startswith("WIFI")))["S"] == WIFI


def test_the_longest_of_everything_still_fits_one_page():
    address = "http://" + "w" * 60 + ".garden.example:50000"
    sheet = DoorSheet(
        garden="W" * 80,
        wifi=make_wifi("W" * 32, "W" * 63),
        address=address,
        code=make_code(address),
        only_here=True,
        changes=True,
        printed="Sat 10 Apr 2027",
    )
    pdf = make_pdf(Template.DOOR, sheet, Paper.LETTER)
    (leaf,) = leaves(pdf)
    assert beyond_margins(leaf, 14) == []
    assert squashed(address) in text_of(pdf)
    assert "W" * 63 in text_of(pdf)
    assert {text for text, _ in codes_in(pictures(pdf, 150)[0], (0, 0, 220, 300), 150)} >= {address}
