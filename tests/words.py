"""The catalogues of words in other languages, brought up to date with what the program says: `make words`.

New words get an empty translation, which `make test` then asks for; what is not said any more is dropped.
"""

import ast

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from app.language import ENGLISH, FOLDER, LANGUAGES
from tests.rules.tree import ROOT

METHODS = [
    ("sheets/typst/*.typ", "app.sheets.typst_words:extract"),
    ("web/templates/**.html", "jinja2"),
    ("**.py", "tests.words:extract_python"),
]
OPTIONS = {
    "web/templates/**.html": {
        "extensions": "jinja2.ext.i18n",
        "trimmed": "true",
        "newstyle_gettext": "true",
        "silent": "false",
    }
}
# Functions that take words, with the places of one, of several and (c) of the context among their arguments.
KEYWORDS = {
    "_": None,
    "gettext": None,
    "N_": None,
    "ngettext": (1, 2),
    "nouns": (1, 2),
    "count_words": (2, 3),
    "pgettext": ((1, "c"), 2),
}


def extract_python(fileobj, keywords, comment_tags, options):
    """Give the words of a module to Babel, those inside f-strings too, which its own reading leaves out."""
    for node in ast.walk(ast.parse(fileobj.read())):
        name = getattr(getattr(node, "func", None), "id", None)
        if name in keywords:
            words = [
                one.value if isinstance(one, ast.Constant) and isinstance(one.value, str) else None for one in node.args
            ]
            yield node.lineno, name, tuple(words), []


def extract_words():
    """Return the catalogue of all that the program says, in the order of its letters."""
    found = Catalog()
    for _path, _line, words, _comments, context in extract_from_dir(
        str(ROOT / "app"), METHODS, OPTIONS, keywords=KEYWORDS
    ):
        found.add(words, context=context)
    return found


def catalogue_path(code):
    """Return where the words of a language are."""
    return FOLDER / code / "messages.po"


def read_words(code):
    """Return the catalogue of a language as it is kept."""
    with catalogue_path(code).open("rb") as file:
        return read_po(file, locale=code)


def write_words(code, catalogue):
    """Keep the catalogue of a language."""
    with catalogue_path(code).open("wb") as file:
        write_po(file, catalogue, width=0, no_location=True, omit_header=True, sort_output=True, ignore_obsolete=True)


def main():
    """Bring every catalogue up to date."""
    said = extract_words()
    for code in LANGUAGES:
        if code != ENGLISH:
            kept = read_words(code)
            kept.update(said, no_fuzzy_matching=True)
            write_words(code, kept)
            waiting = sum(not all(one.string if one.pluralizable else [one.string]) for one in kept if one.id)
            print(f"{code}: {len(kept)} words and sentences, {waiting} without a translation")


if __name__ == "__main__":
    main()
