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


def no_queue():
    """Let whoever writes wait for SQLite alone, which lets somebody in by chance."""
    from app.storage.engine import QueuedConnection  # noqa: PLC0415

    QueuedConnection.wait_to_write = lambda _self: None


def no_form_keys():
    """Let a form act as often as it is sent."""
    from app.web import once  # noqa: PLC0415

    once.find_sent_form = lambda *_: None
    once.note_sent_form = lambda *_: None


SPOILERS = {
    "answer before commit": answer_before_commit,
    "no queue": no_queue,
    "no form keys": no_form_keys,
}
