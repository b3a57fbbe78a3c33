"""Cells that hold one of a few words, read as people write them, in English and in the language that is spoken."""

import re
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import Any

from app.core.words import Light, Origin, Place, Weekday
from app.language import N_, _
from app.sheets.words import weekday_name
from app.web.forms.typed import fold_letters

LEAST_LETTERS = 2
# Words for each value, with commas between them; the one that a message gives stands first.
PLACES: Mapping[Any, str] = {
    Place.HEAT: N_("heat, heated bench, heat mat, heat bench"),
    Place.LAMP: N_("lamp, lamps, under lamps, under lights, lights"),
    Place.WINDOW: N_("window, sill, window sill, at a window"),
    Place.HARDENING: N_("hardening, cold frame, frame, outside"),
}
LIGHTS: Mapping[Any, str] = {
    Light.LAMP: N_("lamp, lamps, under lamps"),
    Light.WINDOW: N_("window, at a window, sill"),
}
ORIGINS: Mapping[Any, str] = {
    Origin.BOUGHT: N_("bought, shop"),
    Origin.SAVED: N_("saved, own, saved here or by a member"),
    Origin.GIFT: N_("gift, swap, gift or swap"),
}
YES_NO: Mapping[Any, str] = {True: N_("yes, y, x, true, 1, ✓"), False: N_("no, n, false, 0")}
ANY_DAY = N_("any day, any, every day, all, always")


def read_word(words: Mapping[Any, str]) -> Callable[[str], Any]:
    """Return what reads a cell that holds one of these words, capital letters or not.

    It raises ValueError with the words that would be right.
    """

    def read(cell: str) -> Any:  # noqa: ANN401 - what the word stands for
        word = _plain(cell)
        known = {_plain(said): (value, said) for value, names in words.items() for said in _both(names)}
        if word in known:
            return known[word][0]
        right = _("Give one of: %(words)s.", words=", ".join(_(names).split(", ")[0] for names in words.values()))
        close = get_close_matches(word, known, 1)
        if close:
            meant = _("Is it %(word)s?", word=known[close[0]][1])
            right = f"{right} {meant}"
        raise ValueError(right)

    return read


def read_weekdays(cell: str) -> str | None:
    """Return the weekdays of a cell such as `Sat, Sun`, Monday first and separated by spaces; None for any day."""
    text = fold_letters(cell.casefold()).strip()
    if text in map(_plain, _both(ANY_DAY)):
        return None
    names = [(day, {day.value, fold_letters(weekday_name(at))}) for at, day in enumerate(Weekday)]
    found = set()
    for word in filter(None, re.split(r"[\s,;/+&.]+|\b(?:and|et|y)\b", text)):
        one = word.removesuffix("s")  # Saturdays
        days = [day for day, said in names if one in said or any(name.startswith(word) for name in said)]
        if len(word) < LEAST_LETTERS or len(days) != 1:
            raise ValueError(
                _("“%(word)s” is no weekday. Give weekdays, such as: Sat, Sun. Or: any day.", word=word[:24])
            )
        found.add(days[0])
    return " ".join(day for day in Weekday if day in found) or None


def _both(names: str) -> list[str]:
    """Return words in English and in the language that is being spoken."""
    return [*names.split(", "), *_(names).split(", ")]


def _plain(text: str) -> str:
    """Return a word as two are compared: capital letters, accents and blanks do not matter."""
    return " ".join(fold_letters(text.casefold()).split())
