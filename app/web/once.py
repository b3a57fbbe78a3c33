"""What makes a form act once, and never over what its sender has not seen.

Each form that is posted holds a key, made anew whenever its page is made. It is written down in the transaction in
which the form acts. The same form under the same key again, because the answer got lost or the button was pressed
twice, is answered as the first time and changes nothing.

A form that changes what is there already also holds a revision, a digest of what its page was filled from. It is
compared while nobody else can write.
"""

import hashlib
import re
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass

from flask import Flask, Response, abort, flash, g, redirect, request
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import generate_csrf
from markupsafe import Markup

from app.extensions import db
from app.language import N_, _
from app.storage.errors import ClashError
from app.storage.queries.form_keys import (
    SentForm,
    find_sent_form,
    forget_sent_forms,
    note_sent_form,
    replace_sent_form,
)
from app.storage.queries.version import hold_writes

KEY, REVISION, THEIRS = "key", "revision", "theirs"
KEY_BYTES = 16
IS_KEY = re.compile(r"[A-Za-z0-9_-]{22}")
KEPT_S = 30 * 24 * 60 * 60  # how long a key is remembered
REVISION_BYTES = 8
TOKEN = "csrf_token"  # noqa: S105 - the name of the field
# A script that sends a form asks for a plain word that it is saved, and gets the address to which it leads.
WAITS, SAVED = "Traymates-Waits", "Traymates-Saved"
AGAIN = N_("This was saved already. Nothing was done a second time.")
FIRST = N_("This page had been sent before. What was sent first is saved, and nothing was changed now.")
CONFLICT, OK, SCRIPT_OK = 409, 200, 204

# What is posted without a key, and why nothing is lost or doubled by that.
WITHOUT_KEY = {
    "levelling.choose": "shows a page and changes nothing",
    "levelling.some": "shows a page and changes nothing",
    "backups.make": "makes a backup each time, and one more harms nothing",
    "labels.make": "hands out a file each time; the note that labels were made is one row for each label",
    "first_steps.clear": "clears once: a retry finds nothing that is the demo",
    "language.index": "chosen twice is chosen",
    "sign_in.index": "the answer is a session of this browser, which a retry must bring again",
    "sign_in.demo": "the answer is a session of this browser, which a retry must bring again",
    "sign_in.sign_out": "signed out twice is signed out",
    "account.sign_out_everywhere": "signed out twice is signed out",
    "sign_in.slip": "its link works once",
    "people.slips": "the answer is shown once; a retry makes new links, and ends those before",
    "feeds.make": "the answer is shown once; a retry makes a new address and ends the one before",
    "mail.test": "sends a letter each time, as it says; nothing is stored",
    "bench.begin": "the answer is a session of this browser; a retry is refused, since it is the tablet already",
    "bench.person": "whoever is at the tablet already is so once more",
    "bench.done": "forgotten twice is forgotten",
    "bench.end": "the answer ends a session of this browser; a retry finds it ended",
}


@dataclass
class Sent:
    """The form of this request.

    Attributes:
        key: Its key; None where it holds none that a page of ours could have made.
        body: A digest of what it holds.
        answer: The address that a form with other contents was answered with under this key; None for none.
        may_differ: Whether it may act under this key again: its revision has shown that nothing is overwritten.
    """

    key: str | None
    body: str
    answer: str | None = None
    may_differ: bool = False


def init_app(app: Flask) -> None:
    """Answer forms that have acted already, before any view sees them."""
    app.add_template_global(guard)

    app.before_request(answer_again)

    @app.after_request
    def say_conflict(response: Response) -> Response:
        if g.get("is_refused") and response.status_code == OK:
            response.status_code = CONFLICT
        return response


def answer_again() -> ResponseReturnValue | None:
    """Take the lock of those who write, and return the answer to a form that has acted already; None for others.

    It is done before a view, and again before a view that is done again.
    """
    if request.method != "POST" or request.endpoint is None or request.endpoint in WITHOUT_KEY:
        return None
    key = request.form.get(KEY, "")
    sent = g.sent = Sent(key if IS_KEY.fullmatch(key) else None, _digest_of_body())
    hold_writes(db.session)  # of two that come at once, one looks after the other has acted
    before = find_sent_form(db.session, sent.key) if sent.key else None
    if before is None:
        return None
    if before.body == sent.body:
        return _answer_as_before(before)
    sent.answer = before.answer
    return None


def guard(revision: str | None = None) -> Markup:
    """Return the hidden inputs of a form that is posted: the token, a key, and a revision if there is one.

    Args:
        revision: The form's own; by default that of the page, as `revise` has noted it.
    """
    return _hidden(TOKEN, generate_csrf()) + guard_acts(revision)


def guard_acts(revision: str | None = None) -> Markup:
    """Return the same without the token."""
    inputs = _hidden(KEY, secrets.token_urlsafe(KEY_BYTES))
    revision = g.get(REVISION) if revision is None else revision
    return inputs + _hidden(REVISION, revision) if revision else inputs


def revise(*state: object) -> bool:
    """Note the state that the forms of this page change, and return whether the form that was sent knew another.

    Args:
        state: Values whose `repr` tells two states apart.
    """
    g.revision = digest_of(*state)
    is_other = request.method == "POST" and not is_revision(g.revision)
    if is_other:
        refuse()
    return is_other


def is_revision(revision: str) -> bool:
    """Return whether the form that was sent knew the present state."""
    return request.form.get(REVISION) == revision


def refuse() -> None:
    """Let the page of this request be answered as a conflict: nothing was saved."""
    g.is_refused = True


def sent_form() -> Sent | None:
    """Return the form of this request; None where it needs no key."""
    sent: Sent | None = g.get("sent")
    return sent


def save(address: str, words: str | Callable[[], str] = "") -> ResponseReturnValue:
    """Commit what a form has done together with its key, say so, and lead to an address.

    Args:
        address: Where it leads.
        words: What is said there, nothing if empty; a function where only what is committed can tell.
    """
    sent = sent_form()
    if sent is None or sent.key is None:
        abort(400)
    form, now = SentForm(sent.body, address), time.time()
    if sent.answer is not None:
        if not sent.may_differ:
            return _say_first(sent.answer)
        replace_sent_form(db.session, sent.key, form, now)
    else:
        try:
            note_sent_form(db.session, sent.key, form, now)
        except ClashError:
            db.session.rollback()
            before = find_sent_form(db.session, sent.key)
            if before is None:
                raise
            return _answer_as_before(before) if before.body == sent.body else _say_first(before.answer)
    forget_sent_forms(db.session, now - KEPT_S)
    db.session.commit()
    said = words if isinstance(words, str) else words()
    if said:
        flash(said)
    return _lead(address)


def digest_of(*parts: object) -> str:
    """Return a short digest of values, by their `repr`."""
    return hashlib.blake2b(repr(parts).encode(), digest_size=REVISION_BYTES).hexdigest()


def _answer_as_before(before: SentForm) -> ResponseReturnValue:
    db.session.rollback()
    flash(_(AGAIN))
    return _lead(before.answer)


def _lead(address: str) -> ResponseReturnValue:
    """Lead on from a form that is saved; a script is told so in words that no other answer holds."""
    if request.headers.get(WAITS):
        return "", SCRIPT_OK, {SAVED: address}
    return redirect(address)


def _say_first(answer: str) -> ResponseReturnValue:
    db.session.rollback()
    flash(_(FIRST))
    return redirect(answer)


def _digest_of_body() -> str:
    """Return a digest of where a form goes and all that it holds, files too; token and key are of the page."""
    digest = hashlib.blake2b(request.full_path.encode(), digest_size=32)
    fields = [(name, values) for name, values in request.form.lists() if name not in {TOKEN, KEY}]
    digest.update(repr(sorted(fields)).encode())
    for name, files in sorted(request.files.lists()):
        for file in files:
            digest.update(repr((name, file.filename)).encode())
            for piece in iter(lambda stream=file.stream: stream.read(1 << 20), b""):  # type: ignore[misc]
                digest.update(piece)
            file.stream.seek(0)
    return digest.hexdigest()


def _hidden(name: str, value: str) -> Markup:
    # autocomplete: some browsers else put the value of before into a page that is opened anew
    return Markup('<input type="hidden" name="{}" value="{}" autocomplete="off">').format(name, value)
