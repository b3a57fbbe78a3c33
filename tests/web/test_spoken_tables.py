"""Tables from a spreadsheet are read in the language that is spoken, and in English always."""

import pytest
from babel import Locale

from app.core.words import Place, Units, Weekday
from app.language import LANGUAGES, _, speaking
from app.sheets.fixed_words import say
from app.storage.queries.rows import Choice
from app.web.forms.tables.columns import KINDS
from app.web.forms.tables.reading import read_table
from app.web.forms.tables.words import PLACES, YES_NO, read_weekdays, read_word
from app.web.forms.typed import Habits

METRIC = Habits(units=Units.METRIC, season=2027)


def names_of(text):
    """Return every cell of a table as a name that is there, for what may refer to one."""
    cells = {cell for line in text.splitlines() for cell in line.split("\t")}
    choices = [Choice(number, cell) for number, cell in enumerate(sorted(cells), 1)]
    return dict.fromkeys(("grower", "crop", "seed lot"), choices)


@pytest.mark.parametrize("code", LANGUAGES)
@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_the_example_that_a_page_shows_is_understood(code, kind):
    with speaking(code):
        example = _(kind.example)
        table = read_table(example, kind, METRIC, names_of(example), chosen={})
    assert (table.left_out, table.faults) == ((), ())
    assert len(table.lines) == example.count("\n")


@pytest.mark.parametrize("code", LANGUAGES)
@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_the_english_example_is_understood_in_every_language(code, kind):
    example = kind.example.replace("%%", "%")
    with speaking(code):
        table = read_table(example, kind, METRIC, names_of(example), chosen={})
    assert (table.left_out, table.faults) == ((), ())


@pytest.mark.parametrize("code", LANGUAGES)
@pytest.mark.parametrize("width", ["wide", "abbreviated"])
def test_weekdays_are_read_as_the_language_writes_them(code, width):
    # the names of Unicode CLDR, as babel has them
    names = Locale.parse(code).days["format"][width]
    with speaking(code):
        for number, day in enumerate(Weekday):
            assert read_weekdays(names[number]) == day
            assert read_weekdays(names[number].upper()) == day
        assert read_weekdays(f"{names[0]}, {names[6]}") == "monday sunday"


@pytest.mark.parametrize("code", LANGUAGES)
def test_places_are_read_as_the_language_says_them(code):
    with speaking(code):
        for place in Place:
            assert read_word(PLACES)(say(place)) is place
            assert read_word(PLACES)(place.value) is place
        assert read_word(YES_NO)(_("yes")) is True
        assert read_word(YES_NO)(_("no")) is False
