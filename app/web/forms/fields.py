"""Form fields for what people type: text inputs with an input mode, read by app.web.forms.typed.

A field that is empty gives None if it may be empty, and its own message otherwise. Text that is what the
page showed gives back the stored value unchanged, whatever was lost in showing it.
"""

import re
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from enum import StrEnum
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

from app.core.limits import NAME_LETTERS, SOURCE_LETTERS, find_hidden_letter
from app.core.words import Units
from app.language import ENGLISH, N_, Marked, _, language
from app.sheets.fixed_words import say as say_fixed
from app.sheets.words import day_long, month_day_words, number_words
from app.web.context import current_day, current_garden
from app.web.forms.last_change import last_change
from app.web.forms.revisions import Changed, Clash, find_clash, revision_of, stored_names, take
from app.web.forms.typed import Habits, read_day, read_month_day
from app.web.once import REVISION, THEIRS, guard_acts, refuse, sent_form

LONGEST_FIGURE = 60
ID = re.compile("[1-9][0-9]{0,9}")  # as pages of ours send it
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

    def show(self, value: Any) -> str:  # noqa: ANN401 - each field has its own kind of value
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


def _chosen(value: Any, kind: Callable[[Any], Any]) -> Any:  # noqa: ANN401 - a choice of any kind
    """Return what was chosen; of an id, only the text that a page of ours sends."""
    if value in {None, ""}:
        return None
    if kind is int and isinstance(value, str) and ID.fullmatch(value) is None:
        raise ValueError(_(CHOOSE))
    return kind(value)
