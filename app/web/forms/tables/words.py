"""Cells that hold one of a few words, read as people write them."""

import re
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import Any

from app.core.words import Light, Origin, Place, Weekday

LEAST_LETTERS = 2
# The word that a message gives stands first for each value.
PLACES: Mapping[str, Any] = {
    "heat": Place.HEAT, "heated bench": Place.HEAT, "heat mat": Place.HEAT, "heat bench": Place.HEAT,
    "lamp": Place.LAMP, "lamps": Place.LAMP, "under lamps": Place.LAMP, "under lights": Place.LAMP,
    "lights": Place.LAMP, "window": Place.WINDOW, "sill": Place.WINDOW, "window sill": Place.WINDOW,
    "at a window": Place.WINDOW, "hardening": Place.HARDENING, "cold frame": Place.HARDENING, "frame": Place.HARDENING,
    "outside": Place.HARDENING,
}  # fmt: skip
LIGHTS: Mapping[str, Any] = {
    "lamp": Light.LAMP, "lamps": Light.LAMP, "under lamps": Light.LAMP,
    "window": Light.WINDOW, "at a window": Light.WINDOW, "sill": Light.WINDOW,
}  # fmt: skip
ORIGINS: Mapping[str, Any] = {
    "bought": Origin.BOUGHT, "shop": Origin.BOUGHT, "saved": Origin.SAVED, "own": Origin.SAVED,
    "saved here or by a member": Origin.SAVED, "gift": Origin.GIFT, "swap": Origin.GIFT, "gift or swap": Origin.GIFT,
}  # fmt: skip
YES_NO: Mapping[str, Any] = {
    "yes": True, "no": False, "y": True, "n": False, "x": True, "true": True, "false": False, "1": True, "0": False,
    "✓": True,
}  # fmt: skip
ANY_DAY = frozenset({"any", "any day", "every day", "all", "always"})


def read_word(words: Mapping[str, Any]) -> Callable[[str], Any]:
    """Return what reads a cell that holds one of these words, capital letters or not.

    It raises ValueError with the words that would be right.
    """

    def read(cell: str) -> Any:  # noqa: ANN401 - what the word stands for
        word = " ".join(cell.casefold().split())
        if word in words:
            return words[word]
        wanted = list(dict.fromkeys(next(w for w, v in words.items() if v == value) for value in words.values()))
        close = get_close_matches(word, words, 1)
        meant = f" Is it {close[0]}?" if close else ""
        raise ValueError(f"Give one of: {', '.join(wanted)}.{meant}")

    return read


def read_weekdays(cell: str) -> str | None:
    """Return the weekdays of a cell such as `Sat, Sun`, Monday first and separated by spaces; None for any day."""
    text = cell.casefold().strip()
    if text in ANY_DAY:
        return None
    found = set()
    for word in filter(None, re.split(r"[\s,;/+&.]+|\band\b", text)):
        days = [day for day in Weekday if day.startswith(word.removesuffix("s") if word.endswith("days") else word)]
        if len(word) < LEAST_LETTERS or len(days) != 1:
            raise ValueError(f"“{word[:24]}” is no weekday. Give weekdays, such as: Sat, Sun. Or: any day.")
        found.add(days[0])
    return " ".join(day for day in Weekday if day in found) or None
