"""Names of crops and containers as they are said to people."""

from app.language import language
from app.storage.published import names_in


def name_words(name: str) -> str:
    """Return a name in the language that is being spoken if it is one that comes with the program, else as it is."""
    return names_in(language()).get(name, name)
