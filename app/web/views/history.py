"""The history: who changed what and when."""

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import _
from app.sheets.history_words import NOTHING, Entry, make_entry, references
from app.storage.history import NOUNS
from app.storage.models import Account, Container, Crop, Grower, SeedLot, Shelf, Sowing
from app.storage.queries.history import (
    HISTORY_ROWS,
    Wanted,
    count_history,
    list_history,
    list_history_nouns,
    list_present_names,
    list_who_changed,
)
from app.storage.queries.rows import Choice
from app.web.access import Who, open_to
from app.web.paging import Paging, read_number, read_paging

bp = Blueprint("history", __name__, url_prefix="/history")

LONGEST_NOUN = 40
# Where a thing of each noun is looked at: the view, and the name of its id.
PAGES = {
    NOUNS[Account]: ("people.edit", "account_id"),
    NOUNS[Container]: ("containers.edit", "container_id"),
    NOUNS[Crop]: ("crops.show", "crop_id"),
    NOUNS[Grower]: ("growers.show", "grower_id"),
    NOUNS[SeedLot]: ("seed_lots.edit", "seed_lot_id"),
    NOUNS[Shelf]: ("shelves.show", "shelf_id"),
    NOUNS[Sowing]: ("sowings.edit", "sowing_id"),
}


@dataclass(frozen=True, kw_only=True)
class HistoryPage:
    """A page of the history.

    Attributes:
        chosen: What the address asks for.
        entries: Each entry in words, with the address of the thing; None where it has no page or is gone.
        paging: Where this page stands.
        nouns: What has ever been changed.
        people: Who has ever changed anything.
        about: What the one thing is called that is asked for; empty for all.
    """

    chosen: Wanted
    entries: list[tuple[Entry, str | None]]
    paging: Paging
    nouns: list[str]
    people: list[Choice]
    about: str


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """Show who changed what and when, the newest first; what is asked for stands in the address."""
    noun = request.args.get("what", "").replace("\0", "")[:LONGEST_NOUN] or None
    chosen = Wanted(noun=noun, subject_id=read_number("which") if noun else None, account_id=read_number("who"))
    paging = read_paging(count_history(db.session, chosen), HISTORY_ROWS)
    rows = list_history(db.session, chosen, paging.page)
    names = list_present_names(db.session, references(rows))
    entries = [make_entry(row, names) for row in rows]
    page = HistoryPage(
        chosen=chosen,
        entries=[(entry, address_of(entry)) for entry in entries],
        paging=paging,
        nouns=list_history_nouns(db.session),
        people=list_who_changed(db.session),
        about=entries[0].subject if entries and chosen.subject_id is not None else "",
    )
    return render_template("people/history.html", page=page, nothing=_(NOTHING))


def address_of(entry: Entry) -> str | None:
    """Return the address of the thing that was changed; None where it has no page, or is gone."""
    if not entry.is_there or entry.subject_id is None:
        return None
    if entry.noun == "tray":
        return url_for("trays.show", number=int(entry.subject)) if entry.subject.isdecimal() else None
    endpoint, key = PAGES.get(entry.noun, ("", ""))
    keys: dict[str, Any] = {key: entry.subject_id}
    return url_for(endpoint, **keys) if endpoint else None
