"""Codes that a phone's camera reads, as stretches of dark modules."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

import segno


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """A code without the white around it.

    Attributes:
        modules: Modules along a side. [1]
        runs: Stretches of dark modules: row, first column and length, counted from 0. [1]
    """

    modules: int
    runs: tuple[tuple[int, int, int], ...]


@lru_cache(maxsize=4096)
def make_pattern(text: str) -> Pattern:
    """Return the code of a text, with room for a seventh of it to be damaged (level M of ISO/IEC 18004)."""
    matrix = segno.make_qr(text, error="m", boost_error=False).matrix
    runs = []
    for row, modules in enumerate(matrix):
        column = 0
        for dark, stretch in groupby(modules):
            length = len(list(stretch))
            if dark:
                runs.append((row, column, length))
            column += length
    return Pattern(modules=len(matrix), runs=tuple(runs))
