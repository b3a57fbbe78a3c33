"""Whom a sheet or a message is for: it speaks its reader's language, whoever prints or copies it."""

from functools import wraps
from typing import TYPE_CHECKING

from flask import g, request

from app.extensions import db
from app.language import ENGLISH, LANGUAGES, choose_language, speak, speaking
from app.storage.queries.people import list_languages_of_growers
from app.web.context import current_garden

if TYPE_CHECKING:
    from collections.abc import Callable

    from flask.typing import ResponseReturnValue


def speak_to_all() -> None:
    """Speak the garden's language from now on, or the one in the address: what follows is read by many."""
    speak(_asked() or language_of(None))


def speak_to(grower_id: int | None) -> None:
    """Speak a grower's language from now on, or the one in the address: what follows is for them (None: for all)."""
    speak(_asked() or language_of(grower_id))


def in_english(view: "Callable[..., ResponseReturnValue]") -> "Callable[..., ResponseReturnValue]":
    """Let a view speak English: it makes a file for other programs."""

    @wraps(view)
    def answer(*args: object, **kwargs: object) -> "ResponseReturnValue":
        with speaking(ENGLISH):
            return view(*args, **kwargs)

    return answer


def language_of(grower_id: int | None) -> str:
    """Return the language in which a grower reads: what they chose, else the garden's, which is also that of all.

    It is asked once in each request.
    """
    if grower_id is None:
        return choose_language(language_of_garden())
    if "languages_of_growers" not in g:
        g.languages_of_growers = list_languages_of_growers(db.session)
    return choose_language(g.languages_of_growers.get(grower_id), language_of_garden())


def language_of_garden() -> str | None:
    """Return the garden's language; None before there is a garden."""
    garden = current_garden()
    return None if garden is None else garden.language


def _asked() -> str | None:
    """Return the language in the address, None where there is none, or where it is none of ours."""
    asked = request.args.get("language")
    return asked if asked in LANGUAGES else None
