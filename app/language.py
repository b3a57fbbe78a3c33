"""The language that is being spoken: of a page, a sheet, a letter; and what is said in it.

English words stand in the code, and are what translations are found by. Each is marked where it is said, by `_` or
`ngettext`; what is only written down, to be said later, by `N_` or `nouns`. A `%` of such words is written `%%`.

Translations are in `translations/*/messages.po` and are read at their first use (docs/decisions/0031).
"""

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from io import BytesIO
from pathlib import Path

from babel import Locale
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal
from babel.support import NullTranslations, Translations

FOLDER = Path(__file__).parent / "translations"
ENGLISH = "en"
# Each language under its own name.
LANGUAGES = {ENGLISH: "English", "fr": "Français", "es": "Español"}

_TWO_STOPS = re.compile(r"(?<=\w)\.\.(?=\s|<|$)")

_spoken: ContextVar[str] = ContextVar("language", default=ENGLISH)


def language() -> str:
    """Return the code of the language that is being spoken (ISO 639-1)."""
    return _spoken.get()


def locale() -> Locale:
    """Return how the language that is being spoken writes days and numbers."""
    return _locale(_spoken.get())


def speak(code: str) -> None:
    """Speak a language from now on, in this thread."""
    _spoken.set(code)


def grouped(number: float) -> str:
    """Return a number as the language that is being spoken writes it, its thousands set apart, as `4,310.5`."""
    return format_decimal(number, locale=locale())


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Speak a language for a while."""
    before = _spoken.set(code)
    try:
        yield
    finally:
        _spoken.reset(before)


def choose_language(*wished: str | None) -> str:
    """Return the first language of those wished for that there is; else English."""
    return next((code for code in wished if code in LANGUAGES), ENGLISH)


def _(words: str, /, **values: object) -> str:
    """Return words in the language that is being spoken.

    Args:
        words: What is said in English; `%(name)s` stands for a value, `%%` for a percent sign.
        values: What is put in, by name.
    """
    said = catalogue(_spoken.get()).gettext(words)
    return one_stop(said % values) if "%" in said else said


def ngettext(one: str, many: str, count: float, /, **values: object) -> str:
    """Return words for one or for several, as the language tells one from several.

    Args:
        one: What is said in English of one.
        many: What is said in English of none or several.
        count: How many; put in for `%(num)s` unless `values` has another `num`.
        values: What is put in, by name.
    """
    said = catalogue(_spoken.get()).ngettext(one, many, count)  # type: ignore[arg-type]  # whole numbers or not
    return one_stop(said % ({"num": count} | values)) if "%" in said else said


def pgettext(context: str, words: str, /, **values: object) -> str:
    """Return words that mean different things in different places, by what they mean here."""
    said = str(catalogue(_spoken.get()).pgettext(context, words))
    return one_stop(said % values) if "%" in said else said


def one_stop(said: str) -> str:
    """Return words without the second of two full stops: a short month may end in one, and so may its sentence."""
    return _TWO_STOPS.sub(".", said) if ".." in said else said


class Marked(str):
    """Words that are said later: where they go, they can be told from words that people typed."""

    __slots__ = ()


def N_(words: str) -> str:  # noqa: N802 - the name that gettext has for it
    """Mark words that are said later, by `_`."""
    return Marked(words)


def nouns(one: str, many: str) -> tuple[str, str]:
    """Mark a noun for one and for several that is said later, by `ngettext`."""
    return one, many


@cache
def catalogue(code: str) -> NullTranslations:
    """Return what is said in a language; of English there is nothing to translate."""
    if code == ENGLISH:
        return NullTranslations()
    with (FOLDER / code / "messages.po").open("rb") as file:
        read = read_po(file, locale=code)
    compiled = BytesIO()
    write_mo(compiled, read)
    compiled.seek(0)
    translations = Translations(compiled)
    translations._catalog.pop("", None)  # noqa: SLF001 - else nothing would be said as the head of the file
    return translations


@cache
def _locale(code: str) -> Locale:
    return Locale.parse(code)


def list_languages() -> Iterable[tuple[str, str]]:
    """Return the code and the own name of each language."""
    return LANGUAGES.items()
