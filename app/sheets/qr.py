"""Codes that a phone's camera reads, as a path to be filled."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

import segno


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """A code without the white around it.

    Attributes:
        modules: Modules along a side. [1]
        path: The dark modules as an SVG path, a module being a unit long and the upper left corner the origin.
    """

    modules: int
    path: str


@lru_cache(maxsize=4096)
def make_pattern(text: str) -> Pattern:
    """Return the code of a text, with room for a seventh of it to be damaged (level M of ISO/IEC 18004)."""
    matrix = segno.make_qr(text, error="m", boost_error=False).matrix
    path = []
    for row, modules in enumerate(matrix):
        column = 0
        for dark, stretch in groupby(modules):
            length = len(list(stretch))
            if dark:
                path.append(f"M{column} {row}h{length}v1h-{length}z")
            column += length
    return Pattern(modules=len(matrix), path="".join(path))
