"""Days typed in the language that is spoken; months and weekdays by their names in Unicode CLDR, as babel has them."""

from datetime import date

import pytest
from babel.dates import format_date
from hypothesis import given
from hypothesis import strategies as st

from app.core.words import Side, Units
from app.language import LANGUAGES, speaking
from app.sheets.words import day_long, day_short, day_words
from app.web.forms.pasted import read_pasted
from app.web.forms.typed import Habits, read_day, read_month_day

METRIC = Habits(units=Units.METRIC, season=2027)
DAYS = st.dates(date(1900, 1, 1), date(2200, 12, 31))
CODES = st.sampled_from(sorted(LANGUAGES))


@given(CODES, DAYS, st.sampled_from(["long", "full", "d MMMM y", "d MMM y", "EEE d MMM y", "EEEE, d MMMM y"]))
def test_a_day_is_read_as_each_language_writes_it(code, day, pattern):
    with speaking(code):
        assert read_day(format_date(day, pattern, locale=code), METRIC) == day


@given(CODES, DAYS, st.sampled_from(["d MMMM y", "EEE d MMM y"]))
def test_english_is_read_in_every_language(code, day, pattern):
    with speaking(code):
        assert read_day(format_date(day, pattern, locale="en"), METRIC) == day


@given(CODES, DAYS)
def test_a_day_comes_back_as_the_language_shows_it(code, day):
    with speaking(code):
        assert read_day(day_long(day), METRIC) == day
        assert read_day(f"{day_words(day)} {day.year}", METRIC) == day
        assert read_month_day(day_short(day), METRIC) == f"{day:%m-%d}"


@pytest.mark.parametrize(
    ("code", "text", "kept"),
    [
        ("fr", "10 avril", "04-10"),
        ("fr", "1er août", "08-01"),
        ("fr", "le 14 juil.", "07-14"),
        ("fr", "3 fevrier", "02-03"),
        ("fr", "31 Déc", "12-31"),
        ("es", "3 de mayo", "05-03"),
        ("es", "el 1.º de enero", "01-01"),
        ("es", "15 sept", "09-15"),
        ("fr", "20 May", "05-20"),
    ],
)
def test_a_day_of_the_year_is_read_in_french_and_spanish(code, text, kept):
    with speaking(code):
        assert read_month_day(text, METRIC) == kept


@pytest.mark.parametrize("text", ["lun 5 abr", "lunes, 5 de abril", "el lunes 5 de abril de 2027", "Mon 5 Apr"])
def test_a_weekday_is_read_in_spanish(text):
    with speaking("es"):
        assert read_day(text, METRIC) == date(2027, 4, 5)


@pytest.mark.parametrize("text", ["5 jui", "mardi 5 avril", "5 de", "le 5", "abc 5 avril"])
def test_what_may_be_two_months_or_is_no_day_is_refused(text):
    with speaking("fr"), pytest.raises(ValueError, match="5"):
        read_day(text, METRIC)


def test_months_of_a_language_are_no_months_in_english():
    with pytest.raises(ValueError, match="no day"):
        read_day("10 avril", METRIC)


@pytest.mark.parametrize(
    ("code", "rows"),
    [
        ("fr", "90\t1er avr.\t12 oct.\n10\t24 mai\t23 sept."),
        ("fr", "90 1 avril 12 octobre\n10 24-mai 23-sept."),
        ("es", "90 1 de abril 12 de octubre\n10 24 de mayo 23 de septiembre"),
        ("es", "90;1 abr;12 oct\n10;24 may;23 sept"),
        ("fr", "90;1 Apr;12 Oct\n10;24 May;23 Sep"),
    ],
)
def test_a_pasted_table_is_read_in_each_language(code, rows):
    with speaking(code):
        table = read_pasted(rows, METRIC)
    assert table.faults == ()
    assert table.points() == {Side.SPRING: {90: "04-01", 10: "05-24"}, Side.AUTUMN: {90: "10-12", 10: "09-23"}}
