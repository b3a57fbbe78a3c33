"""The calendar: dates to download, and secret addresses from which calendars fetch them by themselves."""

import time
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

from flask import Blueprint, Response, abort, g, make_response, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.words import Role
from app.core.work.work import work_of
from app.extensions import db
from app.language import ENGLISH, _, choose_language, language, speak, speaking
from app.network import is_known_here_alone, is_loopback
from app.services import feeds as service
from app.services.accounts import digest_of
from app.services.plan import get_plan
from app.sheets.feed import garden_events, make_calendar, own_events, scope_of_garden, scope_of_grower
from app.storage.errors import DatabaseError
from app.storage.opening import session_on
from app.storage.queries.feeds import OpenFeed, find_feed, list_feeds, list_rounds_of, touch_feed
from app.storage.queries.plan import NoGardenError
from app.web.access import Who, is_at_this_machine, me, open_to, require_own
from app.web.context import current_day
from app.web.hosts import read_host
from app.web.kept import kept_with
from app.web.once import save
from app.web.public_address import current_public_address
from app.web.readers import language_of_garden

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.core.plan import Plan
    from app.services.feeds import Event, Told

bp = Blueprint("feeds", __name__, url_prefix="/calendar")

NEXT_EVENTS = 8
TYPE = "text/calendar"
# When a feed was last fetched is written down so often at most. [s]
TOUCH_S = 3600.0
MINE, GARDEN = "mine", "garden"


@bp.get("")
@open_to(Who.MEMBERS)
def index() -> ResponseReturnValue:
    """Show what goes into a calendar, and how."""
    return page()


@bp.post("/address")
@open_to(Who.MEMBERS)
def make() -> ResponseReturnValue:
    """Make an address from which a calendar fetches the dates; it is shown this one time."""
    kind = read_kind()
    token = service.make_feed(db.session, me().account_id, whole_garden=kind == GARDEN)
    db.session.commit()
    response = make_response(page(made=(kind, address_of(token))))
    response.headers["Cache-Control"] = "no-store"
    return response


@bp.post("/end")
@open_to(Who.MEMBERS)
def end() -> ResponseReturnValue:
    """End one's own address of a kind: whoever has it finds nothing there any more."""
    kind = read_kind()
    if not service.end_feed(db.session, me().account_id, whole_garden=kind == GARDEN):
        abort(404)
    return save(url_for("feeds.index"), _("That address is ended; calendars find nothing there any more"))


@bp.get("/growers/<int:grower_id>.ics")
@open_to(Who.MEMBERS)
def of_grower(grower_id: int) -> ResponseReturnValue:
    """Hand out the dates of a grower, or one of them, as a file."""
    require_own(grower_id)
    plan = get_plan(db.session)
    events = told_now(scope_of_grower(grower_id), lambda: told_of_grower(plan, grower_id))
    wanted = request.args.get("event")
    if wanted is not None:
        events = [event for event in events if event.told.key == wanted and not event.is_cancelled] or abort(404)
    return as_file(make_calendar(name_of(plan, MINE), events), "event.ics" if wanted else "my-dates.ics")


@bp.get("/garden.ics")
@open_to(Who.MEMBERS)
def of_garden() -> ResponseReturnValue:
    """Hand out the garden's dates as a file; growers' names only to coordinators."""
    names = me().is_coordinator
    plan = get_plan(db.session)
    events = told_now(scope_of_garden(names=names), lambda: told_of_garden(plan, names=names))
    return as_file(make_calendar(name_of(plan, GARDEN), events), "garden-dates.ics")


@bp.get("/feed/<token>.ics")
@open_to(Who.EVERYONE)
def feed(token: str) -> ResponseReturnValue:
    """Answer a calendar that knows a secret address; an ended one is answered like one that never was."""
    found = find_feed(db.session, digest_of(token))
    if found is None or (found.is_demo and not is_at_this_machine()):
        abort(404)
    if not found.whole_garden and found.grower_id is None:
        abort(404)
    # Looked up each time: that a feed is ended, or its account another's, tells nobody that the garden has changed.
    g.feed = found
    speak(choose_language(found.language, language_of_garden()))
    now = time.time()
    if now - (found.fetched_at or 0.0) > TOUCH_S:
        with suppress(DatabaseError), session_on(db.engine) as own:
            touch_feed(own, found.id, now)
    try:
        return feed_now()
    except NoGardenError:
        abort(404)


@kept_with(lambda: f"{g.feed.role} {g.feed.grower_id} {public_address()}")
def feed_now() -> ResponseReturnValue:
    """Return the dates of the feed that this request is about; kept while nothing that they are made from changes."""
    found: OpenFeed = g.feed
    plan = get_plan(db.session)
    if found.whole_garden:
        names = found.role is Role.COORDINATOR
        events = told_now(scope_of_garden(names=names), lambda: told_of_garden(plan, names=names))
    else:
        owner = found.grower_id or 0
        events = told_now(scope_of_grower(owner), lambda: told_of_grower(plan, owner))
    name = name_of(plan, GARDEN if found.whole_garden else MINE)
    return Response(make_calendar(name, events), mimetype=TYPE)


def page(made: tuple[str, str] | None = None) -> str:
    """Return the page of the calendar.

    Args:
        made: Kind and address of a feed that was just made; None for none.
    """
    person, today = me(), current_day()
    ahead: list[Told] = []
    if person.grower_id is not None:
        told = told_of_grower(get_plan(db.session), person.grower_id)
        ahead = [one for one in told if one.day >= today]
    public = current_public_address()
    host = read_host(request.host) or ""
    reach = public or request.host_url.rstrip("/")
    return render_template(
        "feeds/index.html",
        grower_id=person.grower_id,
        ahead=ahead[:NEXT_EVENTS],
        total=len(ahead),
        feeds={GARDEN if one.whole_garden else MINE: one for one in list_feeds(db.session, person.account_id)},
        made=made,
        public=public,
        only_this_machine=public is None and is_loopback(host),
        only_here=is_known_here_alone(read_host(reach.partition("://")[2].partition("/")[0]) or host),
    )


def told_of_grower(plan: "Plan", grower_id: int) -> "list[Told]":
    """Return what a grower's events say now, or answer that there is no such grower."""
    found = next((index for index, one in enumerate(plan.garden.growers) if one.id == grower_id), None)
    if found is None:
        abort(404)
    work, rounds = work_of(plan, grower=found), list_rounds_of(db.session, grower_id)
    return own_events(plan, found, work, rounds, link=link_to("growers.show", grower_id))


def told_of_garden(plan: "Plan", *, names: bool) -> "list[Told]":
    """Return what the garden's events say now."""
    work, rounds = work_of(plan), list_rounds_of(db.session)
    return garden_events(plan, work, rounds, names=names, link=link_to("week.index"))


def told_now(scope: str, make: "Callable[[], list[Told]]") -> "list[Event]":
    """Return events with their numbers; what is not as it was told before is written down, in its own transaction.

    It is written down in English, and counts as changed where that has changed, whatever language calendars get.

    Args:
        scope: Whose dates they are.
        make: Says what the events are now, in the language that is being spoken.
    """
    now = time.time()
    with speaking(ENGLISH):
        told = make()
    events = service.as_told(db.session, scope, told, now)
    if events is None:
        with session_on(db.engine) as own:
            events = service.tell(own, scope, told, now)
    if language() == ENGLISH:
        return events
    said = {one.key: one for one in make()}
    return [replace(event, told=said.get(event.told.key, event.told)) for event in events]


def link_to(endpoint: str, grower_id: int | None = None) -> str | None:
    """Return the address of a page as it works from elsewhere; None where no address stays."""
    public = public_address()
    if public is None:
        return None
    path = url_for(endpoint) if grower_id is None else url_for(endpoint, grower_id=grower_id)
    return f"{public}{path.removeprefix(request.script_root)}"


def address_of(token: str) -> str:
    """Return the whole address of a feed."""
    base = current_public_address() or request.host_url.rstrip("/") + request.script_root
    return f"{base}{url_for('feeds.feed', token=token).removeprefix(request.script_root)}"


def name_of(plan: "Plan", kind: str) -> str:
    """Return what a calendar is called."""
    name = plan.garden.settings.name
    return _("My dates, %(garden)s", garden=name) if kind == MINE else name


def public_address() -> str | None:
    """Return the program's address as it works from elsewhere, asked once in each request; None where none stays."""
    if "public" not in g:
        g.public = current_public_address()
    public: str | None = g.public
    return public


def read_kind() -> str:
    """Return which dates a form is about, or answer that there are none such."""
    kind = request.form.get("dates")
    if kind not in {MINE, GARDEN} or (kind == MINE and me().grower_id is None):
        abort(404)
    return kind


def as_file(body: bytes, name: str) -> Response:
    """Return a calendar file to be kept."""
    response = Response(body, mimetype=TYPE)
    response.headers["Content-Disposition"] = f"attachment; filename={name}"
    response.headers["Cache-Control"] = "private, no-cache"
    return response
