"""What the script says that keeps entries until they are sent (static/waiting.js), in the language of its page.

The script has its words in English; in other languages the page that loads it brings them along.
"""

import json
from functools import cache

from flask import Flask

from app.language import ENGLISH, N_, _, language, speaking

WORDS = (
    N_("waits for the network"),
    N_("waits until you sign in again"),
    N_("waits until whoever typed it is signed in here again"),
    N_("was not taken: look at it"),
    N_("is being sent"),
    N_("typed at %(time)s"),
    N_("Not taken, and kept here"),
    N_("1 entry is waiting to be sent"),
    N_("%(number)s entries are waiting to be sent"),
    N_(
        "Not saved yet. It is kept on this device, and sent by itself once the network is there and a page of the "
        "garden is open."
    ),
    N_("Not saved. Look at it, put it right, and save it."),
    N_("Sign in"),
    N_("Look at it"),
    N_("Throw it away"),
    N_("Send now"),
    N_("Sent and saved: %(entries)s."),
    N_("What you typed here before stands in the form again; it is not saved yet."),
    N_("Begin anew"),
    N_("Sending …"),
)


def init_app(app: Flask) -> None:
    """Give templates the words of the script."""
    app.add_template_global(waiting_words)


def waiting_words() -> str:
    """Return the words of the script by what they are in English, as JSON; empty in English."""
    return "" if language() == ENGLISH else _in_language(language())


@cache
def _in_language(code: str) -> str:
    with speaking(code):
        # No values are put in here: the script does that.
        return json.dumps({words: _(words, **_KEPT) for words in WORDS}, ensure_ascii=False)


_KEPT = {name: f"%({name})s" for name in ("time", "number", "entries")}
