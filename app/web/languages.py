"""The language of a page: of whoever asks for it, as they chose it, or as their browser says."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from flask import Flask, g, request, session
from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup
from werkzeug import Request

from app.language import ENGLISH, catalogue, choose_language, language, list_languages, one_stop, speak
from app.sheets.words import count_words

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIEnvironment

CHOSEN = "language"  # where the browser's session holds what was chosen before signing in


def init_app(app: Flask) -> None:
    """Speak the language of each request, and give templates its words."""
    app.jinja_env.add_extension("jinja2.ext.i18n")
    app.jinja_env.policies["ext.i18n.trimmed"] = True
    app.jinja_env.install_gettext_callables(  # type: ignore[attr-defined]  # the extension adds it
        # Templates put the values in themselves, escaped.
        lambda words: catalogue(language()).gettext(words),
        lambda one, many, count: catalogue(language()).ngettext(one, many, count),
        newstyle=True,
        pgettext=lambda context, words: catalogue(language()).pgettext(context, words),
    )
    for name in ("gettext", "ngettext", "pgettext"):
        app.jinja_env.globals[name] = _with_one_stop(app.jinja_env.globals[name])  # type: ignore[arg-type]
    app.jinja_env.globals["count_words"] = count_words
    app.jinja_env.globals["language"] = language
    app.jinja_env.globals["list_languages"] = list_languages

    app.before_request(listen)

    @app.teardown_request
    def fall_silent(_error: BaseException | None) -> None:
        speak(ENGLISH)


def _with_one_stop(function: Callable[..., Markup | str]) -> Callable[..., Markup | str]:
    """Return what says words in templates, without the second of two full stops."""

    @pass_context
    def say(context: Context, *words: object, **values: object) -> Markup | str:
        said = function(context, *words, **values)
        return type(said)(one_stop(said))

    return say


def preferred(environ: "WSGIEnvironment") -> str:
    """Return the language that a browser prefers of those there are, of a request that the application never sees."""
    return choose_language(*_accepted(Request(environ)))


def clear_session() -> None:
    """Forget all that the browser's session holds but the language that was chosen on this device."""
    chosen = session.get(CHOSEN)
    session.clear()
    if chosen is not None:
        session[CHOSEN] = chosen


def listen() -> None:
    """Speak what the person chose, else what was chosen on this device, else what the browser prefers."""
    person = g.get("person")
    speak(choose_language(person.language if person else None, session.get(CHOSEN), *_accepted(request)))


def _accepted(asked: Request) -> list[str]:
    """Return the languages that a browser accepts, without their countries, the best first.

    Not the library's best match: it puts a later French before an earlier British English.
    """
    return [tag.partition("-")[0].lower() for tag, quality in asked.accept_languages if quality > 0]
