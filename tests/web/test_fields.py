"""Fields of forms: what they store, what they show again, and that nothing is lost on the way."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from werkzeug.datastructures import MultiDict
from wtforms import Form

from app.core.limits import Bounds
from app.core.words import Place, Units
from app.sheets import units
from app.web.forms.fields import ChoiceField, DayField, LongTextField, ManyChoiceField, MonthDayField, TextField
from app.web.forms.numbers import DecimalNumberField, PercentField, QuantityField, WholeNumberField
from app.web.forms.typed import Habits

METRIC = Habits(units=Units.METRIC, season=2027)
US = Habits(units=Units.US, season=2027)
SHELF = Bounds(1, 5000)
MEASURES = {
    "temperature": (units.TEMPERATURE, Bounds(-40, 60)),
    "length": (units.LENGTH_CM, SHELF),
    "depth": (units.DEPTH_MM, Bounds(0, 500)),
    "volume": (units.VOLUME_ML, Bounds(0.1, 50_000)),
    "elevation": (units.ELEVATION_M, Bounds(-500, 6000)),
}


def field_of(unbound, typed=None, *, habits=METRIC, stored=None):
    """Return the field of a form that was sent with one text, or shown when `typed` is None."""
    form_class = type("OneField", (Form,), {"it": unbound})
    form = form_class(
        formdata=None if typed is None else MultiDict({"it": typed}),
        data={"it": stored},
        meta={"habits": habits},
    )
    if typed is not None:
        form.validate()
    return form["it"]


def value_of(unbound, typed, **options):
    field = field_of(unbound, typed, **options)
    assert field.errors in ([], ())
    return field.data


def errors_of(unbound, typed, **options):
    return " ".join(field_of(unbound, typed, **options).errors)


def test_a_count_is_read_and_kept_within_its_bounds():
    plants = WholeNumberField("Plants", Bounds(1, 10_000))
    assert value_of(plants, " 1 000 ") == 1000
    assert value_of(plants, "12,0") == 12
    assert errors_of(plants, "0") == "This is too small. Enter a whole number from 1 to 10\u00a0000."
    assert errors_of(plants, "10001").startswith("This is too large.")
    assert "“abc” is no whole number" in errors_of(plants, "abc")


@pytest.mark.parametrize("typed", ["\uff11\uff12", "1_0", "nan", "9" * 19, "9" * 5000, "1\x002", "\ud800", "<b>"])
def test_what_is_no_count_is_refused(typed):
    field = field_of(WholeNumberField("Plants", Bounds(1, 10_000)), typed)
    assert field.errors
    assert field.data is None


def test_what_was_typed_stands_in_the_input_again_without_hidden_characters():
    field = field_of(WholeNumberField("Plants", Bounds(1, 10)), "a\x00b<")
    assert 'value="ab&lt;"' in field()


@pytest.mark.parametrize("typed", ["", "   ", "\u00a0"])
def test_an_empty_input_is_an_answer_only_where_it_may_be(typed):
    assert errors_of(WholeNumberField("Plants wanted", Bounds(1, 10)), typed) == "Enter the plants wanted."
    assert errors_of(WholeNumberField("Plants", Bounds(1, 10), blank="How many?"), typed) == "How many?"
    assert value_of(WholeNumberField("Plants", Bounds(1, 10), may_be_empty=True), typed) is None


def test_a_field_that_was_not_sent_is_empty():
    form_class = type("OneField", (Form,), {"it": TextField("Name"), "other": TextField("Other")})
    form = form_class(formdata=MultiDict({"other": "x"}), data={"it": "kept"}, meta={"habits": METRIC})
    assert not form.validate()
    assert form["it"].data is None


def test_emptying_an_optional_field_empties_what_was_stored():
    assert value_of(WholeNumberField("Rows", Bounds(1, 10), may_be_empty=True), "", stored=4) is None


@pytest.mark.parametrize(("low", "mode"), [(0, "numeric"), (-5, "text")])
def test_counts_ask_a_phone_for_digits_unless_they_need_a_minus(low, mode):
    assert f'inputmode="{mode}"' in field_of(WholeNumberField("Weeks", Bounds(low, 60)))()


def test_numbers_are_text_inputs():
    for field in (
        WholeNumberField("A", SHELF),
        DecimalNumberField("A", SHELF),
        DayField("A"),
        PercentField("A", SHELF),
    ):
        html = field_of(field)()
        assert 'type="text"' in html
        assert "inputmode=" in html


@pytest.mark.parametrize("typed", ["2,5", "2.5", "2.50", "+2,5", "2,5 weeks"])
def test_a_decimal_is_read_with_comma_or_point(typed):
    assert value_of(DecimalNumberField("Weeks", Bounds(0, 60), unit_words="weeks"), typed) == 2.5


@pytest.mark.parametrize(("typed", "share"), [("75", 0.75), ("75 %", 0.75), ("75%", 0.75), ("7,5", 0.075), ("7", 0.07)])
def test_percent_are_stored_as_a_share(typed, share):
    assert value_of(PercentField("Germination", Bounds(0.01, 1)), typed) == share


def test_a_share_typed_as_a_fraction_is_told_about_percent():
    assert (
        errors_of(PercentField("Germination", Bounds(0.01, 1)), "0,75")
        == "This is too small. Enter percent from 1 to 100."
    )


@given(st.decimals(0, 1, places=6))
def test_a_share_survives_being_shown_and_typed_again(share):
    field = PercentField("Risk", Bounds(0, 1))
    typed = field_of(field, stored=float(share))._value()
    assert value_of(field, typed) == float(share)


@given(st.floats(0, 1))
def test_an_untouched_share_keeps_its_stored_value(share):
    field = PercentField("Risk", Bounds(0, 1))
    typed = field_of(field, stored=share)._value()
    assert value_of(field, typed, stored=share) == share


@pytest.mark.parametrize("habits", [METRIC, US], ids=["metric", "us"])
@pytest.mark.parametrize("name", sorted(MEASURES))
@given(data=st.data())
def test_an_untouched_quantity_keeps_its_stored_value(habits, name, data):
    measure, bounds = MEASURES[name]
    stored = data.draw(st.floats(bounds.low, bounds.high))
    field = QuantityField("It", measure, bounds)
    typed = field_of(field, stored=stored, habits=habits)._value()
    assert value_of(field, typed, stored=stored, habits=habits) == stored


@pytest.mark.parametrize("name", sorted(MEASURES))
def test_the_bounds_a_message_names_are_allowed(name):
    measure, bounds = MEASURES[name]
    field = QuantityField("It", measure, bounds)
    for habits in (METRIC, US):
        for figure in measure.unit(habits.units).bounds(*bounds):
            assert bounds.low <= value_of(field, figure, habits=habits) <= bounds.high


def test_a_quantity_is_typed_in_the_garden_s_units_and_stored_in_metric_ones():
    width = QuantityField("Width", units.LENGTH_CM, SHELF)
    assert value_of(width, "54,5") == 54.5
    assert value_of(width, "48", habits=US) == pytest.approx(121.92)
    assert value_of(width, "48 in", habits=US) == pytest.approx(121.92)
    bench = QuantityField("Bench", units.TEMPERATURE, Bounds(-40, 60))
    assert value_of(bench, "32", habits=US) == 0
    assert value_of(bench, "70 °F", habits=US) == pytest.approx(21.111, abs=0.001)
    depth = QuantityField("Depth", units.DEPTH_MM, Bounds(0, 300))
    assert value_of(depth, "1/4", habits=US) == pytest.approx(6.35)
    assert value_of(depth, "0.25", habits=US) == pytest.approx(6.35)
    assert value_of(depth, "6") == 6


def test_a_quantity_out_of_bounds_is_told_the_bounds_in_the_garden_s_units():
    width = QuantityField("Width", units.LENGTH_CM, SHELF)
    assert errors_of(width, "0") == "This is too small. Enter a figure from 1 to 5000 cm."
    assert errors_of(width, "0", habits=US) == "This is too small. Enter a figure from 0.4 to 1968.5 in."
    assert field_of(width, habits=US).unit_words == "in"


@pytest.mark.parametrize("typed", ["15/4", "15.4.", "15 Apr", "2027-04-15", "15/4/2027"])
def test_a_day_is_said_back_with_its_weekday(typed):
    field = field_of(DayField("Plant out"), typed)
    assert field.data == date(2027, 4, 15)
    assert field.said == "Thursday 15 April 2027"


def test_a_day_that_is_wrong_is_not_said_back():
    field = field_of(DayField("Plant out"), "31/4")
    assert field.said == ""
    assert field.errors == ["There is no day 31 in April 2027."]


@given(st.dates(date(1900, 1, 1), date(2200, 12, 31)))
def test_a_shown_day_is_read_as_the_same_day(day):
    for habits in (METRIC, US):
        typed = field_of(DayField("Day"), stored=day, habits=habits)._value()
        assert value_of(DayField("Day"), typed, habits=habits) == day


@given(st.dates(date(2024, 1, 1), date(2024, 12, 31)))
def test_a_shown_day_of_any_year_is_read_as_the_same_day(day):
    kept = f"{day:%m-%d}"
    for habits in (METRIC, US):
        typed = field_of(MonthDayField("Frost"), stored=kept, habits=habits)._value()
        assert value_of(MonthDayField("Frost"), typed, habits=habits) == kept
    assert field_of(MonthDayField("Frost"), stored="05-20").said == "20 May"


def test_a_form_may_say_any_value_back():
    field = field_of(PercentField("Risk", Bounds(0, 1), say=lambda risk: f"a risk of {risk}"), "10")
    assert field.said == "a risk of 0.1"


def test_a_line_of_text_is_trimmed_and_composed():
    assert value_of(TextField("Name"), "  Ines \t  Moreau ") == "Ines Moreau"
    assert value_of(TextField("Name"), "Jose\u0301") == "Jos\u00e9"


@pytest.mark.parametrize("typed", ["a\x00b", "a\x1bb", "a\u202eb", "a\u2066b", "\ud800"])
def test_text_that_cannot_be_printed_is_refused(typed):
    assert "cannot be printed" in errors_of(TextField("Name"), typed)
    assert "cannot be printed" in errors_of(LongTextField("Note"), typed)


def test_text_may_be_as_long_as_its_bound():
    assert value_of(TextField("Name", longest=5), "abcde") == "abcde"
    assert errors_of(TextField("Name", longest=5), "abcdef") == "This has 6 characters; at most 5 can be kept."


def test_long_text_keeps_its_lines():
    assert value_of(LongTextField("Note"), " a  b \r\n\r\n c\r") == "a b\n\nc"


def test_a_choice_is_one_of_the_list():
    place = ChoiceField("Place", kind=Place)
    assert value_of(place, "lamp") is Place.LAMP
    for typed in ("", "attic", "LAMP"):
        assert errors_of(place, typed) == "Choose one from the list."


def test_a_choice_may_be_empty():
    assert value_of(ChoiceField("Place", kind=Place, may_be_empty=True), "") is None


@pytest.mark.parametrize("typed", ["3", "x", "", "9" * 30, "1.0"])
def test_a_choice_of_ids_takes_no_other_id(typed):
    assert errors_of(ChoiceField("Crop", [(1, "Tomato"), (2, "Leek")], kind=int), typed) == "Choose one from the list."


def test_a_choice_shows_what_was_stored():
    html = field_of(ChoiceField("Crop", [(1, "Tomato"), (2, "Leek")], kind=int), stored=2)()
    assert '<option selected value="2">Leek</option>' in html


def test_many_choices_are_a_list():
    field = ManyChoiceField("Days", [("monday", "Monday"), ("friday", "Friday")])
    form_class = type("OneField", (Form,), {"it": field})
    form = form_class(formdata=MultiDict([("it", "monday"), ("it", "friday")]), meta={"habits": METRIC})
    assert form.validate()
    assert form["it"].data == ["monday", "friday"]


@given(st.text(max_size=60))
def test_no_text_breaks_a_field(typed):
    fields = (
        WholeNumberField("A", SHELF),
        DecimalNumberField("A", SHELF),
        PercentField("A", Bounds(0, 1)),
        DayField("A"),
        MonthDayField("A"),
        QuantityField("A", units.DEPTH_MM, SHELF),
        TextField("A"),
        LongTextField("A"),
        ChoiceField("A", kind=Place),
    )
    for unbound in fields:
        field = field_of(unbound, typed, habits=US)
        assert field.errors or field.data is not None
        field()
