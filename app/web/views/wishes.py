"""Wishes so far against the shelves, and sowings of the season before: kept or left out."""

import time

from flask import Blueprint, abort, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import N_, _, ngettext
from app.services.drafts import keep_all_drafts, keep_draft, leave_out_draft
from app.services.garden import find_closing_day
from app.services.plan import get_plan
from app.sheets.names import name_words
from app.sheets.wishes_so_far import make_wishes_page
from app.sheets.words import number_words
from app.storage.queries.crops import get_crop
from app.storage.queries.drafts import count_drafts, get_draft, list_drafts
from app.storage.queries.growers import get_grower
from app.storage.queries.history import list_added_since
from app.storage.queries.rows import PAGE_ROWS
from app.web.access import Who, is_coordinator, me, open_to, require_own
from app.web.context import current_day
from app.web.once import save
from app.web.paging import read_number, read_paging
from app.web.views.sowings import say_dates
from app.web.wishes import refuse_closed, why_closed

bp = Blueprint("wishes", __name__, url_prefix="/wishes")

DAY_S = 24 * 60 * 60
SINCE = {1: N_("the last day"), 7: N_("the last week"), 30: N_("the last month")}
USUAL_DAYS = 7


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """Show all wishes so far against the shelves, with and without those of the last days."""
    asked = read_number("new")
    days = asked if asked in SINCE else USUAL_DAYS
    plan = get_plan(db.session)
    paging = read_paging(len(plan.garden.growers))
    page = make_wishes_page(
        plan,
        list_added_since(db.session, "sowing", time.time() - days * DAY_S),
        closing=find_closing_day(db.session),
        today=current_day(),
        rows=slice((paging.page - 1) * PAGE_ROWS, paging.page * PAGE_ROWS),
    )
    drafts = count_drafts(db.session)
    return render_template("wishes/index.html", page=page, paging=paging, days=days, since=SINCE, drafts=drafts)


@bp.get("/last-season")
@open_to(Who.MEMBERS)
def last_season() -> ResponseReturnValue:
    """List sowings of the season before that wait to be kept or left out; members see their own."""
    grower_id = read_number("grower") if is_coordinator() else me().grower_id or 0
    paging = read_paging(count_drafts(db.session, grower_id=grower_id))
    rows = list_drafts(db.session, grower_id=grower_id, page=paging.page)
    return render_template(
        "wishes/last_season.html", rows=rows, paging=paging, closed=why_closed(), grower_id=grower_id
    )


@bp.post("/last-season/<int:draft_id>")
@open_to(Who.MEMBERS)
def decide(draft_id: int) -> ResponseReturnValue:
    """Keep a sowing of the season before, or leave it out."""
    draft = get_draft(db.session, draft_id)
    require_own(draft.grower_id)
    if (refusal := refuse_closed()) is not None:
        return refusal
    back = url_for("wishes.last_season", grower=read_number("grower"))
    if request.form.get("decide") == "keep":
        sowing = keep_draft(db.session, draft_id)
        return save(
            back,
            lambda: _(
                "%(sowing)s added: %(crop)s. %(dates)s",
                sowing=sowing.name,
                crop=name_words(sowing.crop.name),
                dates=say_dates(sowing.id),
            ),
        )
    if request.form.get("decide") != "leave out":
        abort(400)
    crop = get_crop(db.session, leave_out_draft(db.session, draft_id).crop_id)
    return save(back, _("%(crop)s of last season left out", crop=name_words(crop.name)))


@bp.post("/last-season/of/<int:grower_id>")
@open_to(Who.MEMBERS)
def keep_all(grower_id: int) -> ResponseReturnValue:
    """Keep all that a grower has waiting of the season before."""
    get_grower(db.session, grower_id)
    require_own(grower_id)
    if (refusal := refuse_closed()) is not None:
        return refusal
    kept = len(keep_all_drafts(db.session, grower_id))
    said = ngettext(
        "%(num)s sowing of last season kept", "%(num)s sowings of last season kept", kept, num=number_words(kept)
    )
    return save(url_for("sowings.index", grower=grower_id), said)
