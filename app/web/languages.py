"""The language of a page: of whoever asks for it, as they chose it, or as their browser says."""

from functools import lru_cache
from typing import TYPE_CHECKING

from babel.support import NullTranslations
from flask import Flask, g, request, session
from markupsafe import Markup
from werkzeug import Request

from app.language import ENGLISH, Marked, catalogue, choose_language, language, list_languages, one_stop, speak
from app.sheets.words import count_words

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIEnvironment

CHOSEN = "language"  # where the browser's session holds what was chosen before signing in


def init_app(app: Flask) -> None:
    """Speak the language of each request, and give templates its words."""
    app.jinja_env.add_extension("jinja2.ext.i18n")
    app.jinja_env.policies["ext.i18n.trimmed"] = True
    app.jinja_env.newstyle_gettext = True  # type: ignore[attr-defined]  # the extension adds it
    app.jinja_env.globals |= {"_": _say, "gettext": _say, "ngettext": _say_number, "pgettext": _say_meaning}
    app.jinja_env.globals["said"] = _say_value
    app.jinja_env.globals["count_words"] = count_words
    app.jinja_env.globals["language"] = language
    app.jinja_env.globals["list_languages"] = list_languages

    app.before_request(listen)

    @app.teardown_request
    def fall_silent(_error: BaseException | None) -> None:
        speak(ENGLISH)


def _say(words: str, /, **values: object) -> Markup:
    """Return words for a template, values escaped; the extension's own way takes ten times as long."""
    return _fill(_found(catalogue(language()), words), values)


def _say_number(one: str, many: str, count: float, /, **values: object) -> Markup:
    """Return words for one or for several."""
    said = catalogue(language()).ngettext(one, many, count)  # type: ignore[arg-type]  # whole numbers or not
    return _fill(_of_the_program(said), {"num": count} | values)


def _say_meaning(context: str, words: str, /, **values: object) -> Markup:
    """Return words by what they mean here."""
    return _fill(_of_the_program(str(catalogue(language()).pgettext(context, words))), values)


def _say_value(words: str) -> str:
    """Return words that come from elsewhere, to be escaped as any other value: they may be people's own."""
    said = catalogue(language()).gettext(words) if words else words
    return said.replace("%%", "%") if isinstance(words, Marked) else said


@lru_cache(maxsize=1 << 14)
def _found(translations: NullTranslations, words: str) -> Markup:
    return _of_the_program(translations.gettext(words))


def _fill(said: Markup, values: dict[str, object]) -> Markup:
    if "%" not in said:
        return said
    filled = said % values
    return _of_the_program(one_stop(filled)) if ".." in filled else filled


def _of_the_program(said: str) -> Markup:
    """Return words of a template, or of a catalogue, as HTML; a test sees to it that templates give no others."""
    return Markup(said)  # noqa: S704 - they are the program's own


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
