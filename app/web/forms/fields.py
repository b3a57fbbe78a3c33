"""Form fields for what people type: text inputs with an input mode, read by app.web.forms.typed.

A field that is empty gives None if it may be empty, and its own message otherwise. Text that is what the
page showed gives back the stored value unchanged, whatever was lost in showing it.
"""

import re
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Any

from flask import request
from flask_wtf import FlaskForm
from flask_wtf.file import FileField
from markupsafe import Markup, escape
from werkzeug.datastructures import CombinedMultiDict, MultiDict
from wtforms import Field, Form, SelectField, SelectMultipleField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # the stubs are older
from wtforms.fields.core import UnboundField
from wtforms.i18n import get_translations
from wtforms.meta import DefaultMeta
from wtforms.validators import ValidationError
from wtforms.widgets import CheckboxInput, ListWidget, TextArea, TextInput

from app.core.limits import NAME_LETTERS, SOURCE_LETTERS, Bounds, find_hidden_letter
from app.core.words import Units
from app.language import ENGLISH, N_, Marked, _, language
from app.sheets.fixed_words import say as say_fixed
from app.sheets.units import Measure, Unit
from app.sheets.words import day_long, decimal_sign, month_day_words, number_words
from app.web.context import current_day, current_garden
from app.web.forms.last_change import last_change
from app.web.forms.revisions import Changed, Clash, find_clash, revision_of, stored_names, take
from app.web.forms.typed import Habits, read_day, read_decimal, read_month_day, read_parts, read_whole
from app.web.once import REVISION, THEIRS, guard_acts, refuse, sent_form

LONGEST_FIGURE = 60
ID = re.compile("[1-9][0-9]{0,9}")  # as pages of ours send it
PERCENT = Decimal(100)
CHOOSE = N_("Choose one from the list.")


class SpokenMeta(DefaultMeta):
    """A form says what is marked in its fields in the language that is being spoken when it is made."""

    def bind_field(self, form: Any, unbound_field: Any, options: Any) -> Any:  # noqa: ANN401 - as WTForms
        """Return a field of the form."""
        return bind_spoken(unbound_field, form=form, **options)

    def get_translations(self, form: Any) -> Any:  # noqa: ANN401, ARG002 - as WTForms
        """Return the library's own messages; in English it needs none."""
        return None if language() == ENGLISH else get_translations((language(),))


class FormMeta(SpokenMeta, FlaskForm.Meta):
    """What a form is read from: texts, and files only where it asks for a file."""

    def wrap_formdata(self, form: FlaskForm, formdata: Any) -> Any:  # noqa: ANN401 - as Flask-WTF
        """Return what was sent for a form; a file in place of a text is nothing, and so is anything but a form."""
        if formdata is None or isinstance(formdata, MultiDict):
            return formdata
        if not form.is_submitted() or not (request.form or request.files):
            return None
        wanted = {field.name for field in form if isinstance(field, FileField)}
        files = MultiDict((name, file) for name, file in request.files.items(multi=True) if name in wanted)
        return CombinedMultiDict((files, request.form)) if files else request.form


class GardenForm(FlaskForm):
    """A form whose fields know how the garden writes dates and quantities, and that acts once.

    Filled from a row (`obj`), it changes that row: it then knows what somebody else has saved since its page was made,
    and is not valid until its sender has seen it.

    Attributes:
        head: Heading over what is wrong with it; empty for the usual one.
        clash: What somebody else has saved meanwhile; None for nothing.
        changed_by: Who saved it and when, in words; empty where that is not to be told.
        anew: Address of the page that has the form as it is stored.
    """

    Meta = FormMeta

    head = ""
    clash: Clash | None = None
    changed_by = ""
    others = N_("Something that belongs to it")  # what `belongs` is, in words

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - as WTForms
        habits: Habits | None = None,
        revises: bool | None = None,
        belongs: object = None,
        **kwargs: Any,  # noqa: ANN401 - as WTForms
    ) -> None:
        """Take what a form takes, and more.

        Args:
            args: As WTForms takes them.
            habits: How the garden writes; by default as the present one does.
            revises: Whether it changes what is there; by default if it is filled from a row.
            belongs: What its saving changes besides its fields, as it is stored now: values with a `repr`.
            kwargs: As WTForms takes them.
        """
        habits = habits or current_habits()
        super().__init__(*args, meta={"habits": habits}, **kwargs)
        self.row = obj = kwargs.get("obj")
        self.revises = (obj is not None or belongs is not None) if revises is None else revises
        self.anew = request.path
        self.belongs = belongs
        self.stored: GardenForm = self
        self.stored_names: list[str] = []
        self.revision = ""
        if self.revises:
            given = {*kwargs, *(kwargs.get("data") or ()), *(name for name in self._fields if hasattr(obj, name))}
            self.stored_names = stored_names(self, given)
            if self.is_submitted():
                self.stored = type(self)(None, habits=habits, revises=False, **kwargs)
            self.revision = revision_of(self.stored, self.stored_names, belongs)
            for name in set(request.form.getlist(THEIRS)) & set(self.stored_names) if self.is_submitted() else ():
                take(self[name], self.stored[name])

    def hidden_tag(self, *fields: Any) -> Markup:  # noqa: ANN401 - as Flask-WTF
        """Return the hidden inputs: token, key and revision among them."""
        return Markup(super().hidden_tag(*fields)) + guard_acts(self.revision or None)  # noqa: S704 - made by the library

    def validate(self, extra_validators: Any = None) -> bool:  # noqa: ANN401 - as WTForms
        """Tell whether every field is right, the form has not acted yet, and nobody has saved anything meanwhile."""
        is_right = bool(super().validate(extra_validators))
        sent = sent_form()
        if not self.meta.csrf or sent is None:  # sent in the address, or answered each time
            return is_right
        if sent.key is None:
            self.refuse(_("Send this once more"), _("This page was older than the program. Nothing of it is lost."))
        elif sent.answer is not None and not self.revises:
            self.refuse(
                _("This form was sent before"),
                Markup(  # noqa: S704 - the address is escaped
                    _(
                        'Saved is <a href="%(address)s">what was sent first</a>, and now something else stands here. '
                        "Send it again to save this too.",
                        address=escape(sent.answer),
                    )
                ),
            )
        elif self.revises and self._has_clash():
            refuse()
        else:
            sent.may_differ = True
            return is_right
        return False

    def _has_clash(self) -> bool:
        sent = request.form.get(REVISION, "")
        self.clash = find_clash(self, self.stored, self.stored_names, sent, self.belongs, _(self.others))
        for line in self.clash.lines if self.clash else ():
            if line.changed is Changed.THEY:  # its sender left it as it was: theirs stays
                take(line.field, self.stored[line.field.short_name])
            elif line.changed is Changed.BOTH:
                vars(line.field)["theirs"] = line  # stands beside the input
        self.changed_by = last_change(self.row) if self.clash else ""
        return self.clash is not None

    def refuse(self, head: str, words: str) -> None:
        """Say why nothing was saved, on a page that is answered as a conflict and keeps what was typed."""
        self.head = head
        self.form_errors.append(words)
        refuse()


class GardenPart(Form):
    """A group of fields inside a GardenForm, repeated or not; the whole form holds its protection."""

    Meta = SpokenMeta

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Take what a form takes."""
        kwargs["meta"] = {"habits": current_habits()}
        super().__init__(*args, **kwargs)


def current_habits() -> Habits:
    """Return how the present garden writes; before there is one, metric and the present year."""
    garden = current_garden()
    if garden is None:
        return Habits(units=Units.METRIC, season=current_day().year)
    return Habits(units=garden.units, season=garden.season, southern=garden.southern)


class TypedField(Field):
    """A value typed as text; read() and show() say how, and say() repeats it in words below the input."""

    widget: Any = TextInput()
    input_mode = "text"
    longest = LONGEST_FIGURE

    def __init__(
        self,
        label: str,
        *,
        may_be_empty: bool = False,
        blank: str | None = None,
        say: Callable[[Any], str] | None = None,
        **kwargs: Any,  # noqa: ANN401 - as WTForms
    ) -> None:
        """Make the field.

        Args:
            label: What it asks for.
            may_be_empty: Whether an empty input is right, and gives None.
            blank: Message for an empty input that is not.
            say: Words that repeat a valid value below the input, such as a date with its weekday.
            kwargs: As WTForms takes them.
        """
        super().__init__(label, **kwargs)
        self.may_be_empty = may_be_empty
        self.blank = blank or _("Enter the %(label)s.", label=f"{label[:1].lower()}{label[1:]}")
        self.say = say
        self.render_kw = {"inputmode": self.input_mode} | (self.render_kw or {})

    @property
    def habits(self) -> Habits:
        """How the garden writes."""
        habits: Habits = self.meta.habits
        return habits

    @property
    def said(self) -> str:
        """The value in words, empty where there is nothing valid to say."""
        if self.say is None or self.data is None or self.errors or self.process_errors:
            return ""
        return self.say(self.data)

    def read(self, text: str) -> Any:  # noqa: ANN401 - each field has its own kind of value
        """Return the value of the text, or raise ValueError with words for who typed it."""
        raise NotImplementedError

    def show(self, value: Any) -> str:  # noqa: ANN401 - same
        """Return the text that stands in the input for a value."""
        return str(value)

    def clean(self, text: str) -> str:
        """Return the text without blanks around it."""
        return text.strip()

    def process_formdata(self, valuelist: list[Any]) -> None:
        """Read what was sent."""
        text = self.clean(str(valuelist[0])) if valuelist else ""
        self.data = None
        if not text:
            if not self.may_be_empty:
                raise ValueError(self.blank)
            return
        if self.object_data is not None and text == self.clean(self.show(self.object_data)):
            self.data = self.object_data
            return
        if len(text) > self.longest:
            raise ValueError(
                _(
                    "This has %(count)s characters; at most %(most)s can be kept.",
                    count=number_words(len(text)),
                    most=self.longest,
                )
            )
        self.data = self.read(text)

    def _value(self) -> str:
        if self.raw_data:
            return "".join(letter for letter in str(self.raw_data[0]) if letter == "\n" or letter.isprintable())
        return "" if self.data is None else self.show(self.data)


class TextField(TypedField):
    """One line of text: blanks inside run together, letters composed, nothing that does not print."""

    def __init__(self, label: str, *, longest: int = NAME_LETTERS, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `longest` is in characters."""
        super().__init__(label, **kwargs)
        self.longest = longest

    def clean(self, text: str) -> str:
        """Return the text with single blanks, in composed letters."""
        return " ".join(unicodedata.normalize("NFC", text).split())

    def read(self, text: str) -> str:
        """Return the text."""
        return require_printable(text)


class LongTextField(TextField):
    """Several lines of text; their breaks are kept."""

    widget: Any = TextArea()

    def __init__(self, label: str, *, longest: int = SOURCE_LETTERS, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `longest` is in characters."""
        super().__init__(label, longest=longest, **kwargs)

    def clean(self, text: str) -> str:
        """Return the text with each line cleaned as a line of its own."""
        lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
        return "\n".join(TextField.clean(self, line) for line in lines).strip()

    def read(self, text: str) -> str:
        """Return the text."""
        return require_printable(text, allowed="\n")


class WholeNumberField(TypedField):
    """A count, typed as `12`, `1 000` or `12,0`."""

    input_mode = "numeric"

    def __init__(self, label: str, bounds: Bounds, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `bounds` are the smallest and the largest count allowed."""
        self.bounds = bounds
        if bounds.low < 0:
            self.input_mode = "text"  # the number keys of some phones have no minus
        super().__init__(label, **kwargs)

    def read(self, text: str) -> int:
        """Return the count."""
        low, high = int(self.bounds.low), int(self.bounds.high)
        wanted = _("Enter a whole number from %(low)s to %(high)s.", low=number_words(low), high=number_words(high))
        try:
            value = read_whole(text)
        except ValueError as error:
            raise ValueError(f"{error}. {wanted}") from None
        require_between(value, low, high, wanted)
        return value


class DecimalNumberField(TypedField):
    """A number, typed as `2,5` or `2.5`."""

    input_mode = "decimal"

    def __init__(self, label: str, bounds: Bounds, *, unit_words: str = "", **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `bounds` are in the unit whose words stand behind the input."""
        self.bounds = bounds
        self.unit_words = unit_words
        if bounds.low < 0:
            self.input_mode = "text"
        super().__init__(label, **kwargs)

    def read(self, text: str) -> float:
        """Return the number."""
        low, high = self.bounds
        first, last = (with_sign(f"{bound:.12g}") for bound in self.bounds)
        if self.unit_words:
            wanted = _("Enter a number from %(low)s to %(high)s %(unit)s.", low=first, high=last, unit=self.unit_words)
        else:
            wanted = _("Enter a number from %(low)s to %(high)s.", low=first, high=last)
        value = float(_decimal(without_unit(text, self.unit_words), low, high, wanted))
        require_between(value, low, high, wanted)
        return value

    def show(self, value: float) -> str:
        """Return the number without needless zeros."""
        return plain_number(Decimal(repr(value)))


class PercentField(TypedField):
    """A share from 0 to 1, typed in percent as `75` or `75 %`."""

    input_mode = "decimal"
    unit_words = "%"

    def __init__(self, label: str, bounds: Bounds, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `bounds` are shares from 0 to 1."""
        self.bounds = bounds
        super().__init__(label, **kwargs)

    def read(self, text: str) -> float:
        """Return the share."""
        low, high = (PERCENT * Decimal(repr(bound)) for bound in self.bounds)
        wanted = _("Enter percent from %(low)s to %(high)s.", low=plain_number(low), high=plain_number(high))
        percent = _decimal(without_unit(text, "%"), float(low), float(high), wanted)
        require_between(float(percent), float(low), float(high), wanted)
        return float(percent / PERCENT)

    def show(self, value: float) -> str:
        """Return the share in percent."""
        return plain_number(PERCENT * Decimal(repr(value)))


class QuantityField(TypedField):
    """A quantity shown and typed in the garden's units and stored in metric ones."""

    def __init__(self, label: str, measure: Measure, bounds: Bounds, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `bounds` are in the stored, metric unit."""
        self.measure = measure
        self.bounds = bounds
        super().__init__(label, **kwargs)
        typed_with_digits = bounds.low >= 0 and not self.unit.parts
        self.render_kw["inputmode"] = "decimal" if typed_with_digits else "text"

    @property
    def unit(self) -> Unit:
        """The unit in which the garden reads this quantity."""
        return self.measure.unit(self.habits.units)

    @property
    def unit_words(self) -> str:
        """The unit's symbol, which stands behind the input."""
        return self.unit.said

    def read(self, text: str) -> float:
        """Return the quantity in its stored unit."""
        low, high = self.bounds
        first, last = self.unit.bounds(low, high)
        wanted = _("Enter a figure from %(low)s to %(high)s %(unit)s.", low=first, high=last, unit=self.unit_words)
        text = without_unit(without_unit(text, self.unit_words), self.unit.symbol)
        parts = read_parts(text) if self.unit.parts else None
        if parts is None:
            parts = Fraction(_decimal(text, self._figure(low), self._figure(high), wanted))
        value = self.unit.to_stored(parts)
        require_between(value, low, high, wanted)
        return value

    def show(self, value: float) -> str:
        """Return the quantity in the garden's unit, without its symbol."""
        return self.unit.number(value)

    def _figure(self, stored: float) -> float:
        return float(self.unit.from_stored(stored))


class DayField(TypedField):
    """A day, typed as `15/4`, `15.4.`, `15 Apr` or `2027-04-15`, said back with its weekday."""

    def __init__(self, label: str, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field."""
        super().__init__(label, **({"say": day_long} | kwargs))

    def read(self, text: str) -> date:
        """Return the day, in the growing year where no year was typed."""
        return read_day(text, self.habits)

    def clean(self, text: str) -> str:
        """Return the text with single blanks."""
        return " ".join(text.split())

    def show(self, value: date) -> str:
        """Return the day so that it reads the same in every country."""
        return f"{month_day_words(f'{value:%m-%d}')} {value.year}"


class MonthDayField(TypedField):
    """A day of any year, typed as `20 May`, `20/5` or `05-20`, kept as `05-20`."""

    def __init__(self, label: str, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field."""
        super().__init__(label, **({"say": month_day_words} | kwargs))

    def read(self, text: str) -> str:
        """Return the day as month and day."""
        return read_month_day(text, self.habits)

    def clean(self, text: str) -> str:
        """Return the text with single blanks."""
        return " ".join(text.split())

    def show(self, value: str) -> str:
        """Return the day with its month's name."""
        return month_day_words(value)


class ChoiceField(SelectField):
    """One of a list; with `may_be_empty`, or nothing."""

    def __init__(
        self,
        label: str,
        choices: Iterable[tuple[Any, str]] = (),
        *,
        kind: type[StrEnum] | type[int] | type[str] = str,
        may_be_empty: bool = False,
        empty_words: str | None = None,
        **kwargs: Any,  # noqa: ANN401 - as WTForms
    ) -> None:
        """Make the field.

        Args:
            label: What it asks for.
            choices: Value and words of each choice; by default those of an enum `kind`. Choices
                that come from the database are given later with `offer`.
            kind: What a value is turned into: an enum, int for an id, or str.
            may_be_empty: Whether nothing may be chosen, which gives None.
            empty_words: Words of that choice; by default `not given`.
            kwargs: As WTForms takes them.
        """
        super().__init__(label, coerce=lambda value: _chosen(value, kind), **kwargs)
        self.may_be_empty = may_be_empty
        self.empty_words = _("not given") if empty_words is None else empty_words
        words = list(choices)
        if not words and issubclass(kind, StrEnum):
            words = [(member.value, say_fixed(member).capitalize()) for member in kind]
        self.offer(words)

    def offer(self, choices: Iterable[tuple[Any, str]]) -> None:
        """Set the choices: value and words of each."""
        empty = [("", self.empty_words if self.may_be_empty else _("Choose …"))]
        offered = [*empty, *choices]
        self.choices = [SelectChoice(value, words) for value, words in offered]
        self.values = {self.coerce(value) for value, words in offered}

    def process_formdata(self, valuelist: list[Any]) -> None:
        """Read what was sent; anything that is no choice is refused by pre_validate."""
        try:
            self.data = self.coerce(valuelist[0]) if valuelist else None
        except ValueError:
            raise ValueError(_(CHOOSE)) from None

    def pre_validate(self, form: Any) -> None:  # noqa: ANN401, ARG002 - as WTForms
        """Refuse what is not on the list."""
        if self.process_errors or (self.data is None and self.may_be_empty):
            return
        if self.data is None or self.data not in self.values:
            raise ValidationError(_(CHOOSE))


class ManyChoiceField(SelectMultipleField):
    """Any number of a list, as tick boxes."""

    widget = ListWidget(prefix_label=False)
    option_widget = CheckboxInput()
    may_be_empty = True

    def __init__(
        self,
        label: str,
        choices: Iterable[tuple[str, str]],
        *,
        kind: type[StrEnum] | type[str] = str,
        **kwargs: Any,  # noqa: ANN401 - as WTForms
    ) -> None:
        """Make the field; the value is a list of `kind`."""
        super().__init__(label, coerce=kind, **kwargs)
        self.choices = [SelectChoice(value, words) for value, words in choices]
        self.invalid_value_message = _("Choose from the list.")
        self.invalid_choice_message = _("“%(value)s” is not on the list.", value="%(value)s")


def bind_spoken(unbound: Any, **options: Any) -> Any:  # noqa: ANN401 - as WTForms
    """Return a field whose label, description, choices and messages are said in the language being spoken.

    What is not marked is words of people or was said already; it stays as it is.

    Args:
        unbound: The field as a form's class has it.
        options: What WTForms binds it with.
    """
    args = tuple(map(_say_marked, unbound.args))
    kwargs = {name: _say_marked(value) for name, value in unbound.kwargs.items()}
    return UnboundField(unbound.field_class, *args, **kwargs).bind(**options)


def _say_marked(value: Any) -> Any:  # noqa: ANN401 - whatever a field is made with
    if isinstance(value, Marked):
        return _(value)
    if isinstance(value, SelectChoice):
        return replace(value, label=_say_marked(value.label))
    if type(value) in {list, tuple}:
        return type(value)(map(_say_marked, value))
    if type(value) is dict:
        return {key: _say_marked(one) for key, one in value.items()}
    return value


def require_printable(text: str, allowed: str = "") -> str:
    """Return the text, or raise ValueError where it holds characters that cannot be printed or kept."""
    letter = find_hidden_letter(text, allowed=allowed)
    if letter is not None:
        raise ValueError(
            _("This holds a character that cannot be printed (%(code)s). Type it again.", code=f"U+{ord(letter):04X}")
        )
    return text


def require_between(value: float, low: float, high: float, wanted: str) -> None:
    """Raise ValueError with what is wanted unless low <= value <= high."""
    if value < low:
        raise ValueError(_("This is too small. %(wanted)s", wanted=wanted))
    if value > high:
        raise ValueError(_("This is too large. %(wanted)s", wanted=wanted))


def without_unit(text: str, symbol: str) -> str:
    """Return the text without the unit that stands behind the input anyway."""
    return text.removesuffix(symbol).rstrip() if symbol else text


def plain_number(value: Decimal) -> str:
    """Return a number without needless zeros and without an exponent."""
    text = f"{value:f}"
    return with_sign(text.rstrip("0").rstrip(".") if "." in text else text)


def with_sign(figure: str) -> str:
    """Return a figure with the decimal sign of the language."""
    return figure.replace(".", decimal_sign())


def _chosen(value: Any, kind: Callable[[Any], Any]) -> Any:  # noqa: ANN401 - a choice of any kind
    """Return what was chosen; of an id, only the text that a page of ours sends."""
    if value in {None, ""}:
        return None
    if kind is int and isinstance(value, str) and ID.fullmatch(value) is None:
        raise ValueError(_(CHOOSE))
    return kind(value)


def _decimal(text: str, low: float, high: float, wanted: str) -> Decimal:
    try:
        return read_decimal(text, low, high)
    except ValueError as error:
        raise ValueError(f"{error}. {wanted}") from None
