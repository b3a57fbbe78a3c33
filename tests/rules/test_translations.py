"""Every word that the program says is marked, and has a translation that fits."""

import re
from collections import Counter

import pytest

from app.language import ENGLISH, LANGUAGES
from tests.rules.tree import relative
from tests.rules.unmarked import (
    LAYOUTS,
    environment,
    find_in_layout,
    find_in_python,
    find_in_template,
    modules,
    templates,
)
from tests.rules.words_of_programs import SAID_TO_NOBODY
from tests.words import catalogue_path, extract_words, read_words

OTHERS = [code for code in LANGUAGES if code != ENGLISH]
VALUES = re.compile(r"%\((\w+)\)[0-9.]*[a-z]")
BRACES = re.compile(r"\{\w+\}")
TAGS = re.compile(r"<(/?\w+)")
SHORT = ("EE. UU.", "EE.\N{NO-BREAK SPACE}UU.", "liq.", "pulg.", "líq.")  # that end in a full stop
LINKS = re.compile(r'href="([^"]*)"')


@pytest.fixture(scope="module")
def said():
    return extract_words()


def key_of(message):
    return message.context, message.id if isinstance(message.id, str) else message.id[0]


def pairs_of(code):
    """Yield each sentence of a catalogue with a translation, as the program would put values into them."""
    for message in read_words(code):
        if not message.id:
            continue
        if not message.pluralizable:
            yield message.id, message.string
        else:
            for translation in message.string:
                yield message.id[-1], translation


@pytest.mark.parametrize("code", OTHERS)
def test_a_catalogue_has_what_the_program_says_and_nothing_else(code, said):
    kept = Counter(key_of(message) for message in read_words(code) if message.id)
    wanted = {key_of(message) for message in said if message.id}
    assert wanted - set(kept) == set(), "make words, then translate"
    assert set(kept) - wanted == set(), "make words"
    assert [key for key, count in kept.items() if count > 1] == []


@pytest.mark.parametrize("code", OTHERS)
def test_everything_is_translated(code):
    assert [words for words, translation in pairs_of(code) if not translation] == []
    assert "fuzzy" not in catalogue_path(code).read_text()


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_takes_the_same_values_and_the_same_marks(code):
    wrong = []
    for words, translation in pairs_of(code):
        given = set(VALUES.findall(words))
        if not set(VALUES.findall(translation)) <= given or set(BRACES.findall(translation)) != set(
            BRACES.findall(words)
        ):
            wrong.append((words, translation))
        if Counter(TAGS.findall(translation)) != Counter(TAGS.findall(words)):
            wrong.append((words, translation))
        if sorted(LINKS.findall(translation)) != sorted(LINKS.findall(words)):
            wrong.append((words, translation))
        try:
            translation % dict.fromkeys(given, 1)
        except (ValueError, TypeError, KeyError):
            wrong.append((words, translation))
        if words[:1].isspace() != translation[:1].isspace() or words[-1:].isspace() != translation[-1:].isspace():
            wrong.append((words, translation))
    assert wrong == []


@pytest.mark.parametrize("code", OTHERS)
def test_a_sentence_ends_as_a_sentence(code):
    ends = [
        (words, translation)
        for words, translation in pairs_of(code)
        if translation and (words[-1] in ".?!") != (translation[-1] in ".?!" and not translation.endswith(SHORT))
    ]
    assert ends == []


def test_no_words_are_unmarked():
    reading = environment()
    found = set()
    for path in templates():
        found |= {f"{relative(path)}: {words}" for _, words in find_in_template(path.read_text(), reading)}
    for path in modules():
        found |= {f"{relative(path)}: {words}" for _, words in find_in_python(path.read_text())}
    for path in sorted(LAYOUTS.glob("*.typ")):
        found |= {f"{relative(path)}: {words}" for _, words in find_in_layout(path.read_text())}
    assert found - SAID_TO_NOBODY == set(), "mark it with _, or say in words_of_programs.py that nobody reads it"
    assert SAID_TO_NOBODY - found == set(), "not there any more"


def test_an_unmarked_word_is_found():
    reading = environment()
    assert find_in_template('<p title="Sow now">{{ _("Sown") }}</p>', reading) == [(1, "Sow now")]
    assert find_in_template("<p>{% trans n=1 %}One{% endtrans %} tray</p>", reading) == [(1, "… tray")]
    assert find_in_template('<p>{{ "Sow now" if x else _("Wait") }}</p>', reading) == [(1, "Sow now")]
    assert find_in_python('A = _("Sow now")\nB = f"{n} trays wait"\nC = "Sow now"\n') == [
        (2, "… trays wait"),
        (3, "Sow now"),
    ]
    assert find_in_layout('[Trays #t("wait")] + [#t("Sow now")]') == [(1, "Trays")]
