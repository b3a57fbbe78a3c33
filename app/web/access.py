"""Who may open which page: each view says so, and what says nothing is open to nobody."""

import re
import time
from collections.abc import Callable, Collection
from contextlib import suppress
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, TypeVar

from flask import Flask, Response, abort, current_app, g, redirect, request, session, url_for
from flask.typing import ResponseReturnValue
from markupsafe import Markup

from app.core.words import Role, Via
from app.extensions import db
from app.services.accounts import BENCH_S, IDLE_S, digest_of
from app.storage import Session
from app.storage.engine import reading
from app.storage.errors import DatabaseError
from app.storage.history import Actor, set_actor
from app.storage.opening import session_on
from app.storage.queries.house import is_open_to_visitors
from app.storage.queries.people import SignedIn, find_signed_in, let_act, touch_sign_in
from app.web.headers import READING_METHODS
from app.web.languages import listen
from app.web.request_log import Noted, note

TOKEN = "token"  # noqa: S105 - where the browser's session holds what it is signed in by
# When a device was last seen is written down so often at most. [s]
TOUCH_S = 24 * 60 * 60
# The same of somebody at the bench tablet, who is forgotten soon after. [s]
BENCH_TOUCH_S = 5
LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost"})
FORWARDED = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-IP", "Via")

View = TypeVar("View", bound=Callable[..., Any])


class SignedOutError(Exception):
    """A form came from somebody who is not signed in, or no longer."""


class Who(IntEnum):
    """Who may open a page: those named, and all who are named after them."""

    EVERYONE = 0
    VISITORS = 1  # without signing in only if the garden opens its shelves to them
    TABLET = 2  # the bench tablet, also while it waits for somebody
    BENCH = 3  # who is at the bench tablet, and has said so by their PIN
    MEMBERS = 4
    COORDINATORS = 5


@dataclass(frozen=True)
class Person:
    """Who sends a request.

    Attributes:
        account_id: The account.
        name: What they are called.
        role: What they may do.
        grower_id: The grower that they are, if any.
        is_bench: They are at the bench tablet, and may log there.
        token: Digest of what the device is signed in by.
        is_demo: It is the account of the demo garden.
        language: What they chose to read; None for what their browser prefers.
    """

    account_id: int
    name: str
    role: Role
    grower_id: int | None
    is_bench: bool
    token: str
    is_demo: bool
    language: str | None

    @property
    def is_coordinator(self) -> bool:
        """Whether they may do everything here."""
        return self.role is Role.COORDINATOR and not self.is_bench


def open_to(who: Who) -> Callable[[View], View]:
    """Say who may open a view; it stands below the view's route and above everything else."""

    def note(view: View) -> View:
        view.open_to = who  # type: ignore[attr-defined]  # functions take attributes
        return view

    return note


def current_person() -> Person | None:
    """Return who sends the request; None for somebody who is not signed in, or a bench tablet that waits."""
    person: Person | None = g.get("person")
    return person


def current_account_id() -> int | None:
    """Return the account of whoever sends the request; None for nobody's."""
    person = current_person()
    return None if person is None else person.account_id


def is_coordinator() -> bool:
    """Return whether the request comes from somebody who may do everything."""
    person = current_person()
    return person is not None and person.is_coordinator


def is_bench() -> bool:
    """Return whether the request comes from the bench tablet."""
    return bool(g.get("is_bench"))


def way(endpoint: str, **values: Any) -> str:  # noqa: ANN401 - whatever the address holds
    """Return the address of a view, empty where whoever sends the request may not open it."""
    who = getattr(current_app.view_functions[endpoint], "open_to", Who.COORDINATORS)
    return url_for(endpoint, **values) if may(who) else ""


def href(endpoint: str, **values: Any) -> Markup:  # noqa: ANN401 - whatever the address holds
    """Return the attribute that makes words a link to a view; nothing where they are to stay words."""
    address = way(endpoint, **values)
    return Markup(' href="{}"').format(address) if address else Markup("")


def tablet_token() -> str:
    """Return the digest of what the bench tablet is signed in by; only a request from it has one."""
    token = session.get(TOKEN)
    return digest_of(token) if is_bench() and isinstance(token, str) else abort(403)


def may(who: Who) -> bool:
    """Return whether whoever sends the request may open a page that is open to these."""
    person = current_person()
    if who is Who.EVERYONE:
        return True
    if person is not None:
        return who <= (Who.BENCH if person.is_bench else Who.COORDINATORS if person.is_coordinator else Who.MEMBERS)
    if is_bench():
        return who <= Who.TABLET
    if who is not Who.VISITORS:
        return False
    if "visitors_may" not in g:
        g.visitors_may = is_open_to_visitors(db.session)
    return bool(g.visitors_may)


def is_own(grower_id: int | None) -> bool:
    """Return whether whoever sends the request may open what belongs to a grower: they are it, or a coordinator."""
    person = current_person()
    if person is None or person.is_bench:
        return False
    return person.is_coordinator or (grower_id is not None and person.grower_id == grower_id)


def may_log(grower_ids: Collection[int]) -> bool:
    """Return whether whoever sends the request may log for what belongs to some of these growers.

    A coordinator may for everybody, at the bench tablet too.
    """
    person = current_person()
    return person is not None and (person.role is Role.COORDINATOR or person.grower_id in grower_ids)


def me() -> Person:
    """Return who sends the request, on a page that is open to nobody else."""
    return current_person() or abort(403)


def require_own(grower_id: int | None) -> None:
    """Refuse what belongs to another grower; coordinators may open everybody's."""
    if not is_own(grower_id):
        abort(403)


def is_at_this_machine() -> bool:
    """Return whether the request comes from the machine on which the program runs, and through nothing else."""
    host = request.host.rpartition(":")[0] if re.search(r":\d+$", request.host) else request.host
    is_forwarded = any(name in request.headers for name in FORWARDED)
    return request.remote_addr in LOOPBACK and host.strip("[]") in LOOPBACK and not is_forwarded


def view_key() -> str:
    """Return what tells two pages of one address apart that are for different people."""
    person = current_person()
    if person is None:
        return "bench" if is_bench() else "visitor"
    if person.is_bench:
        return f"bench {person.account_id}"
    return "coordinator" if person.is_coordinator else f"member {person.grower_id}"


def init_app(app: Flask) -> None:
    """Find out who sends each request, and refuse what is not theirs."""
    app.add_template_global(way)
    app.add_template_global(href)
    app.add_template_global(is_own)
    app.before_request(_check_access)
    app.after_request(_fall_back)


def _check_access() -> ResponseReturnValue | None:
    endpoint = request.endpoint
    if endpoint == "static":
        return None
    _find_person()
    if endpoint is None:
        return None  # an address that leads nowhere says so to everybody
    who = getattr(current_app.view_functions[endpoint], "open_to", None)
    if who is None:
        abort(403)
    if may(who):
        return None
    return _refuse(endpoint)


def _refuse(endpoint: str) -> ResponseReturnValue:
    """Answer a request that is not for whoever sends it."""
    if current_person() is not None:
        note(Noted.NOT_ALLOWED)
        abort(403)
    if is_bench():
        return redirect(url_for("bench.index"))
    if endpoint == "week.index" and may(Who.VISITORS):
        return redirect(url_for("ledger.index"))
    if request.method in READING_METHODS:
        following = request.full_path.rstrip("?")
        return redirect(url_for("sign_in.index", next=None if following == "/" else following))
    raise SignedOutError


def _fall_back(response: Response) -> Response:
    """Lead the bench tablet back to its start page, once nobody has touched it for a while."""
    person = current_person()
    if person is not None and person.is_bench and response.mimetype == "text/html":
        response.headers["Refresh"] = f"{BENCH_S + 1}; url={url_for('bench.index')}"
    return response


def _find_person() -> None:
    """Note who sends the request, as the database has it now."""
    token = session.get(TOKEN)
    set_actor(db.session, Actor(None, Via.PAGE))
    if not isinstance(token, str):
        return
    with reading():  # a form takes its turn to write only once it is read
        found = find_signed_in(db.session, digest_of(token))
        if request.method not in READING_METHODS:
            db.session.rollback()
    if found is None or not _still_holds(found) or (found.is_demo and not is_at_this_machine()):
        session.pop(TOKEN, None)
        return
    g.is_bench = found.is_bench
    if found.account_id is None or found.role is None or found.name is None:
        return
    if found.is_bench and (found.acting_until or 0) < time.time():
        return
    g.person = Person(
        account_id=found.account_id,
        name=found.name,
        role=found.role,
        grower_id=found.grower_id,
        is_bench=found.is_bench,
        token=found.token,
        is_demo=found.is_demo,
        language=found.language,
    )
    listen()
    set_actor(db.session, Actor(found.account_id, Via.BENCH if found.is_bench else Via.PAGE))
    now = time.time()
    if found.is_bench and (found.acting_until or 0) - now < BENCH_S - BENCH_TOUCH_S:
        _write_down(lambda own: let_act(own, found.token, found.account_id, now + BENCH_S, now))
    elif now - found.seen_at > TOUCH_S:
        _write_down(lambda own: touch_sign_in(own, found.token, now))


def _still_holds(found: SignedIn) -> bool:
    now = time.time()
    idle = max(IDLE_S.values()) if found.role is None else IDLE_S[found.role]
    return found.expires_at > now and (found.is_bench or found.seen_at > now - idle)


def _write_down(note: Callable[[Session], None]) -> None:
    """Write down that a device was seen; the one thing that reading a page changes."""
    with suppress(DatabaseError), session_on(db.engine) as own:  # a full disk keeps nobody from reading
        note(own)
