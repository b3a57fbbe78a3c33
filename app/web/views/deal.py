"""Dealing: what it would change is shown first, and stored when it is accepted as it was shown."""

from dataclasses import dataclass
from datetime import date

from flask import Blueprint, abort, render_template, request, url_for
from flask.typing import ResponseReturnValue
from markupsafe import Markup, escape

from app.core.dealing.deal import filled_on
from app.extensions import db
from app.language import _
from app.services.deal import StaleDealError, accept_deal, propose_deal, season_days
from app.services.plan import get_plan
from app.sheets.deal_page import DealPage, DealWords, days_to_deal
from app.sheets.words import count_words, day_year
from app.storage.engine import reading
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.forms.deal import SEASON, DealForm
from app.web.forms.labels import MOST_LABELS
from app.web.once import save
from app.web.paging import Paging, read_paging
from app.web.views.labels import range_text
from app.web.weeks import addresses

bp = Blueprint("deal", __name__, url_prefix="/trays/deal")

ROWS = 400  # of one page; what is accepted is all of them
MOST_UNFOLDED = 60  # with more trays than this on a page, days are folded


@dataclass(frozen=True, kw_only=True)
class DealView:
    """A deal as its page shows it.

    Attributes:
        page: What it changes, in words.
        days: The days that are dealt, in words.
        address: Where it is accepted.
        sent: What is sent then: today, and the mark of the data that it is made from.
        is_open: Whether the tables of the days are unfolded.
        paging: Where this page stands in the list of the trays that change.
    """

    page: DealPage
    days: str
    address: str
    sent: dict[str, str]
    is_open: bool
    paging: Paging


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """Show what a deal would change; its days stand in the address."""
    return show(is_stale=False)


@bp.post("")
@open_to(Who.COORDINATORS)
def accept() -> ResponseReturnValue:
    """Store a deal as it was shown; if something has changed since, store nothing and show it anew."""
    today = current_day()
    season = season_days(get_plan(db.session))
    form = make_form(season) if season else None
    if season is None or form is None or not form.validate():
        abort(400)
    first, last = form.days(season)
    # Of another day, what has happened already may be more.
    mark = request.form.get("mark", "") if request.form.get("today") == today.isoformat() else ""
    try:
        proposal = accept_deal(db.session, first=first, last=last, today=today, mark=mark)
    except StaleDealError:
        db.session.rollback()
        with reading():
            return show(is_stale=True), 409
    words = DealWords(proposal)
    numbers = words.numbers_of_labels()
    labels = url_for("labels.index", trays=range_text(numbers) if len(numbers) <= MOST_LABELS else None)
    said: str = escape(_("Dealt: %(changes)s.", changes=words.summary() or _("nothing to change")))
    if numbers:
        link = Markup('<a href="{}">{}</a>').format(
            labels, _("Print %(labels)s", labels=count_words(len(numbers), "label", "labels"))
        )
        said = Markup("{} {}").format(said, link)
    return save(url_for("trays.index"), said)


def show(*, is_stale: bool) -> str:
    """Return the page of the deal in the address."""
    season = season_days(get_plan(db.session))
    form = make_form(season) if season else None
    deal = make_view(*form.days(season)) if season and form and form.validate() else None
    return render_template(
        "deal/index.html",
        form=form,
        deal=deal,
        is_stale=is_stale,
        tray_address=addresses("trays.show", "number"),
    )


def make_form(season: tuple[date, date]) -> DealForm:
    """Return the form of the days, as the address has it; without any, the season is chosen."""
    asked = request.args.get("day")
    form = DealForm(request.args if asked else None, data={"day": SEASON})
    filled = filled_on(get_plan(db.session)).tolist()
    form.offer(season, days_to_deal(filled, current_day().toordinal()), asked)
    return form


def make_view(first: date, last: date) -> DealView:
    """Return what dealing some days would change."""
    today = current_day()
    proposal = propose_deal(db.session, first=first, last=last, today=today)
    words = DealWords(proposal)
    paging = read_paging(words.count, ROWS)
    return DealView(
        page=words.page(slice(max(paging.first - 1, 0), paging.last)),
        days=day_year(first) if first == last else f"{day_year(first)} – {day_year(last)}",
        address=url_for("deal.accept", **{key: text for key, text in request.args.items() if key != "page"}),  # type: ignore[arg-type]
        sent={"today": today.isoformat(), "mark": proposal.mark},
        is_open=paging.last - paging.first < MOST_UNFOLDED,
        paging=paging,
    )
