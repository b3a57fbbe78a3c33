"""Fields of forms say their words in the language that is being spoken when the form is made."""

from gettext import NullTranslations

import pytest
from flask_wtf import FlaskForm
from werkzeug.datastructures import MultiDict
from wtforms import BooleanField, FieldList, FormField, RadioField
from wtforms.fields.choices import SelectChoice

from app import language
from app.core.limits import Bounds
from app.core.words import Light, Units
from app.language import N_, speaking
from app.sheets.units import LENGTH_CM
from app.web.forms.fields import ChoiceField, GardenForm, GardenPart, ManyChoiceField, TextField
from app.web.forms.numbers import DecimalNumberField, QuantityField, WholeNumberField
from app.web.forms.typed import Habits

METRIC = Habits(units=Units.METRIC, season=2027)
US = Habits(units=Units.US, season=2027)
FRENCH = {
    "Name": "Nom",
    "As people call it: 50 %% peat.": "Comme on l’appelle : 50 %% tourbe.",
    "Where it grows": "Où il pousse",
    "under a lamp": "sous une lampe",
    "The grower did it": "Le jardinier l’a fait",
    "pests": "ravageurs",
    "lamp": "lampe",
    "Enter the %(label)s.": "À remplir : %(label)s.",
    "Say how many.": "Dites combien.",
    "not given": "non indiqué",
    "Choose …": "Choisir…",
    "Dates": "Jours",
    "in": "po",
}


class Dictionary(NullTranslations):
    """What a few words are in French."""

    def gettext(self, message):
        return FRENCH.get(message, message)

    def pgettext(self, _context, message):
        return FRENCH.get(message, message)


@pytest.fixture(autouse=True)
def _in_french(monkeypatch):
    monkeypatch.setattr(language, "catalogue", lambda code: NullTranslations() if code == "en" else Dictionary())


class LineForm(GardenPart):
    name = TextField(N_("Name"))


class PlaceForm(GardenForm):
    class Meta(FlaskForm.Meta):
        csrf = False

    name = TextField(N_("Name"), description=N_("As people call it: 50 %% peat."))
    count = WholeNumberField(N_("Where it grows"), Bounds(1, 5), blank=N_("Say how many."))
    place = ChoiceField(N_("Where it grows"), [("a", N_("under a lamp"))], may_be_empty=True)
    light = ChoiceField("Light", kind=Light)
    done = BooleanField(N_("The grower did it"), render_kw={"title": N_("Name")})
    cause = RadioField(N_("Name"), choices=[SelectChoice("p", N_("pests"))])
    parts = ManyChoiceField("Parts", [("a", N_("under a lamp"))])
    typed = TextField("Name")
    width = QuantityField(N_("Dates"), LENGTH_CM, Bounds(1, 500), may_be_empty=True)
    share = DecimalNumberField("50 % Name", Bounds(0, 10.5))
    lines = FieldList(FormField(LineForm), label=N_("Dates"), min_entries=1)


@pytest.fixture
def form_in(app):
    def make(code, habits=METRIC, **typed):
        with app.test_request_context(), speaking(code):
            form = PlaceForm(MultiDict(typed) if typed else None, habits=habits)
            form.validate()
            return form

    return make


def labels_of(field):
    """Return the words of a field's choices."""
    return [choice.label for choice in field.choices]


def test_labels_descriptions_and_choices_are_said_in_the_language(form_in):
    form = form_in("fr")
    assert form.name.label.text == "Nom"
    assert form.name.description == "Comme on l’appelle : 50 % tourbe."
    assert labels_of(form.place) == ["non indiqué", "sous une lampe"]
    assert labels_of(form.light)[0] == "Choisir…"
    assert "Lampe" in labels_of(form.light)
    assert (form.done.label.text, form.done.render_kw["title"]) == ("Le jardinier l’a fait", "Nom")
    assert labels_of(form.cause) == ["ravageurs"]
    assert labels_of(form.parts) == ["sous une lampe"]
    assert form.lines.label.text == "Jours"
    assert form.lines[0].form.name.label.text == "Nom"


def test_the_same_form_is_english_where_english_is_spoken(form_in):
    form_in("fr")
    form = form_in("en")
    assert form.name.label.text == "Name"
    assert form.name.description == "As people call it: 50 % peat."
    assert labels_of(form.place) == ["not given", "under a lamp"]
    assert "Lamp" in labels_of(form.light)


def test_what_is_not_marked_is_the_words_of_people_and_stays(form_in):
    form = form_in("fr")
    assert form.typed.label.text == "Name"
    assert form.share.label.text == "50 % Name"


def test_messages_for_what_is_left_empty_are_said_in_the_language(form_in):
    form = form_in("fr", name="", count="")
    assert form.name.errors == ["À remplir : nom."]
    assert form.count.errors == ["Dites combien."]


def test_messages_of_the_form_library_are_said_in_the_language(form_in):
    # French and English as WTForms' own catalogue has them
    assert form_in("fr", cause="z").cause.errors == ["N'est pas un choix valide."]
    assert form_in("en", cause="z").cause.errors == ["Not a valid choice."]


def test_figures_have_the_decimal_sign_of_the_language(form_in):
    # a decimal comma in French, a point in English: Unicode CLDR
    assert "10,5" in form_in("fr", share="11").share.errors[0]
    assert "10.5" in form_in("en", share="11").share.errors[0]
    shown = form_in("en").share
    with speaking("fr"):
        assert shown.show(2.5) == "2,5"


@pytest.mark.parametrize("typed", ["48 po", "48 in", "48"])
def test_a_figure_is_read_with_its_unit_in_the_language_or_in_english(form_in, typed):
    width = form_in("fr", US, width=typed).width
    assert width.data == 121.92  # an inch is 2.54 cm: NIST SP 811
    with speaking("fr"):
        assert width.unit_words == "po"
