"""Addresses inside the program, as an answer may lead to them."""

import re

# A browser reads a backslash as a slash and drops tabs and line ends, so that /\host and /<tab>/host lead away.
_INSIDE = re.compile(r"/(?![/\\])[^\x00-\x1f\x7f-\x9f]*")
LONGEST_ADDRESS = 500


def safe_next(text: str | None) -> str | None:
    """Return an address to go on to if it lies inside the program, else None.

    Args:
        text: What a form or an address gave, such as `/trays/12?day=2027-04-10`.
    """
    if text is None or len(text) > LONGEST_ADDRESS or _INSIDE.fullmatch(text) is None:
        return None
    return text
