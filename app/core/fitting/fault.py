"""The rules of levelling, and how breaking one is said."""

from dataclasses import dataclass
from enum import StrEnum


class Rule(StrEnum):
    """The rules that an answer may break."""

    FIXED = "what is sown, pinned or sown outside stays as it is"
    PLACED = "no fewer plants than none and no more than wanted"
    LIGHT = "a light place that is open to the crop"
    DAY = "a sowing day of the window"
    CELLS = "every cell in one tray"
    TRAY = "no tray over its cells"
    SHARING = "only what goes together in one tray"
    POSITIONS = "no more trays than positions"


@dataclass(frozen=True, kw_only=True)
class Fault:
    """A rule that an answer breaks.

    Attributes:
        rule: Which.
        what: What is wrong, in words.
    """

    rule: Rule
    what: str
