"""Connect phones: the addresses that work now, with codes, and the sheet for the door."""

import time
from dataclasses import dataclass
from enum import StrEnum
from urllib.parse import urlsplit

from flask import Blueprint, abort, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import _
from app.network import is_known_here_alone, is_loopback, working_addresses
from app.sheets.backup_words import moment_words
from app.sheets.door import Code, DoorSheet, Wifi, make_code, make_wifi
from app.sheets.pdf import Paper, Template
from app.sheets.words import day_year
from app.storage.queries.house import find_house, get_house
from app.web.access import Who, open_to
from app.web.context import current_day, current_garden, current_settings
from app.web.forms.connect import WifiForm
from app.web.hosts import read_host
from app.web.once import save
from app.web.public_address import current_public_address
from app.web.readers import speak_to_all
from app.web.views.sheets import read_paper, send_pdf

bp = Blueprint("connect", __name__, url_prefix="/connect")


class Lasts(StrEnum):
    """How long an address stays right."""

    SET = "set"
    NAME = "name"
    NUMBER = "number"


ORDER = list(Lasts)


@dataclass(frozen=True, kw_only=True)
class Address:
    """An address that works now.

    Attributes:
        text: The address.
        lasts: How long it stays right.
        code: Its code.
    """

    text: str
    lasts: Lasts
    code: Code


@dataclass(frozen=True, kw_only=True)
class ConnectPage:
    """How phones find the program.

    Attributes:
        addresses: Those that work now, the one that stays longest first.
        wifi: The garden's wireless network; None where it was not entered.
        only_this_machine: Whether nothing but this machine can reach the server.
        only_here: Whether the first address is known on the garden's own network alone.
        clock: The program's date and time in words.
        port: The port on which the server listens. [1]
        paper: Paper of the sheet for the door.
    """

    addresses: list[Address]
    wifi: Wifi | None
    only_this_machine: bool
    only_here: bool
    clock: str
    port: int
    paper: Paper


@bp.get("")
@open_to(Who.MEMBERS)
def index() -> ResponseReturnValue:
    """Show the addresses and how a phone gets there."""
    addresses = list_addresses()
    page = ConnectPage(
        addresses=addresses,
        wifi=find_wifi(),
        only_this_machine=not addresses,
        only_here=bool(addresses) and is_only_here(addresses[0].text),
        clock=moment_words(time.time()),
        port=current_settings().port,
        paper=read_paper(),
    )
    return render_template("connect/index.html", page=page)


@bp.get("/door.pdf")
@open_to(Who.MEMBERS)
def door() -> ResponseReturnValue:
    """Hand out the sheet for the door."""
    speak_to_all()
    addresses = list_addresses()
    if not addresses:
        abort(404)
    first, garden = addresses[0], current_garden()
    sheet = DoorSheet(
        garden="Traymates" if garden is None else garden.name,
        wifi=find_wifi(),
        address=first.text,
        code=first.code,
        only_here=is_only_here(first.text),
        changes=first.lasts is Lasts.NUMBER,
        printed=day_year(current_day()),
    )
    return send_pdf(Template.DOOR, sheet, "for-the-door.pdf", url_for("connect.index"))


@bp.route("/wifi", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def wifi() -> ResponseReturnValue:
    """Enter the garden's Wi-Fi, or take it out."""
    form = WifiForm(obj=find_house(db.session))
    if form.validate_on_submit():
        if form.wifi_passphrase.data and not form.wifi_name.data:
            form.wifi_name.errors = [_("Enter the name of the Wi-Fi that has this passphrase.")]
        else:
            house = get_house(db.session)
            house.wifi_name, house.wifi_passphrase = form.wifi_name.data, form.wifi_passphrase.data
            return save(url_for("connect.index"), _("Wi-Fi saved") if form.wifi_name.data else _("Wi-Fi taken out"))
    return render_template("connect/wifi.html", form=form)


def list_addresses() -> list[Address]:
    """Return the addresses under which phones reach the program now, the one that stays longest first."""
    settings = current_settings()
    found: dict[str, Lasts] = {}
    if (public := current_public_address()) is not None:
        found[public] = Lasts.SET
    working = [*working_addresses(settings.host, settings.port)]
    if not is_loopback(read_host(request.host) or "localhost"):
        working.append(f"{request.scheme}://{request.host}{request.script_root}")  # by it this page was opened
    for address in sorted(dict.fromkeys(working), key=lambda address: ORDER.index(lasts_of(address))):
        found.setdefault(address, lasts_of(address))
    return [Address(text=text, lasts=lasts, code=make_code(text)) for text, lasts in found.items()]


def find_wifi() -> Wifi | None:
    """Return the garden's Wi-Fi, or None."""
    house = find_house(db.session)
    return make_wifi(house.wifi_name, house.wifi_passphrase) if house.wifi_name else None


def lasts_of(address: str) -> Lasts:
    """Return how long an address stays right that nobody has set."""
    host = read_host(urlsplit(address).netloc) or ""
    return Lasts.NUMBER if host.replace(".", "").isdecimal() or ":" in host else Lasts.NAME


def is_only_here(address: str) -> bool:
    """Return whether an address is known on the garden's own network alone."""
    return is_known_here_alone(read_host(urlsplit(address).netloc) or "")
