"""Safeties taken away on purpose, to see that the tests that show them do find it."""

import re
import sys


def expect_red(check, *args, match, **kwargs):
    """Fail unless a check fails, as it must where its safety is taken away.

    Args:
        check: Raises an AssertionError, or returns a list of what is wrong.
        args: Its own.
        match: A pattern of what it must find; red for another reason shows nothing.
        kwargs: Its own.

    Returns:
        What it has found.
    """
    try:
        found = "\n".join(map(str, check(*args, **kwargs) or ()))
    except AssertionError as error:
        found = str(error)
    assert found, "nothing was found wrong, with the safety taken away"
    assert re.search(match, found), found
    return found


def answer_before_commit():
    """Let forms be answered as saved before they are: what follows the answer commits."""
    from flask import Response, stream_with_context  # noqa: PLC0415 - only in a process that is spoilt

    from app.extensions import db  # noqa: PLC0415
    from app.storage.engine import writing  # noqa: PLC0415
    from app.web import once  # noqa: PLC0415

    filling = b" " * 100_000  # so much that the server does not wait for the end

    def save(address, words=""):
        sent = once.sent_form()
        once.note_sent_form(db.session, sent.key, once.SentForm(sent.body, address), 0.0)
        db.session.flush()

        def late():
            yield filling
            with writing():
                db.session.commit()

        return Response(stream_with_context(late()), 302, {"Location": address})

    for module in list(sys.modules.values()):
        if getattr(module, "__name__", "").startswith("app.web.views") and getattr(module, "save", None) is once.save:
            module.save = save


def no_history():
    """Let nothing be written into the history."""
    from sqlalchemy import event  # noqa: PLC0415
    from sqlalchemy.orm import Session  # noqa: PLC0415

    from app.storage import history  # noqa: PLC0415

    event.remove(Session, "after_flush", history._note_after_flush)


def upgrade_in_steps():
    """Let each step of an upgrade last by itself."""
    from alembic.runtime.environment import EnvironmentContext  # noqa: PLC0415

    real = EnvironmentContext.configure

    def configure(self, *args, **kwargs):
        real(self, *args, **kwargs, transaction_per_migration=True)

    EnvironmentContext.configure = configure


def backup_in_place():
    """Let a backup be written where the one before stands."""
    from contextlib import contextmanager  # noqa: PLC0415

    from app.storage import backup  # noqa: PLC0415

    @contextmanager
    def written_in_place(path):
        yield path

    backup.written_aside = written_in_place


def no_form_keys():
    """Let a form act as often as it is sent."""
    from app.web import once  # noqa: PLC0415

    once.find_sent_form = lambda *_: None
    once.note_sent_form = lambda *_: None


def bare_route():
    """Add a page that does nothing, to hold others against; no saboteur, but let in by the same door."""
    from app.cli import serving, workers  # noqa: PLC0415
    from app.web.access import Who, open_to  # noqa: PLC0415

    real = serving.create_app

    def create_app(settings):
        made = real(settings)
        made.add_url_rule("/bare", "bare", open_to(Who.EVERYONE)(lambda: "x" * 20_000))
        return made

    serving.create_app = workers.create_app = create_app


SPOILERS = {
    "bare route": bare_route,
    "answer before commit": answer_before_commit,
    "no history": no_history,
    "upgrade in steps": upgrade_in_steps,
    "backup in place": backup_in_place,
    "no form keys": no_form_keys,
}
