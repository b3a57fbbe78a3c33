"""Text as searches compare it: whatever its capitals, its accents and the way in which they are written."""

import unicodedata

# Letters with a stroke, and two in one, which no form of Unicode takes apart (The Unicode Standard, 2.12 and 5.19).
_PLAIN = str.maketrans(
    {
        "ø": "o",
        "đ": "d",
        "ð": "d",
        "ł": "l",
        "ħ": "h",
        "ŧ": "t",
        "\u0131": "i",
        "æ": "ae",
        "œ": "oe",
        "þ": "th",
        "’": "'",
    }
)


def fold(text: str) -> str:
    """Return a text in small letters, without accents, with single blanks.

    The way is Unicode's compatibility decomposition (UAX 15, NFKD) and full case folding (The Unicode Standard, 3.13,
    D145), from which the marks are left out; then the letters that stay whole.
    """
    apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())
    return " ".join("".join(one for one in apart if not unicodedata.combining(one)).translate(_PLAIN).split())


def holds_all(text: str, words: list[str]) -> bool:
    """Return whether a text holds every one of some folded words, anywhere."""
    folded = fold(text)
    return all(word in folded for word in words)
