"""What a form was filled from, and what somebody else has saved since.

A revision is a row of short digests, one for each field as the page showed it and one for what belongs to the form
without being a field. So it is known which fields the sender changed and which somebody else did.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain
from typing import Any

from wtforms import BooleanField, Field, FieldList, FileField, Form, FormField, HiddenField, SelectFieldBase
from wtforms import SelectMultipleField as ManyField

from app.language import N_, _
from app.web.once import REVISION_BYTES, digest_of

DIGEST_LETTERS = 2 * REVISION_BYTES
NOTHING = N_("empty")


class Changed(StrEnum):
    """Who changed a field since the page was made."""

    BOTH = "both"
    THEY = "they"
    YOU = "you"


@dataclass(frozen=True, kw_only=True)
class ClashLine:
    """A field that is stored otherwise than it stands in the form.

    Attributes:
        name: What the field asks for.
        theirs: What is stored now, in words.
        yours: What was sent, in words; `empty` for nothing.
        changed: Who changed it.
        field: The field.
    """

    name: str
    theirs: str
    yours: str
    changed: Changed
    field: Field


@dataclass(frozen=True, kw_only=True)
class Clash:
    """What somebody else has saved since the page of a form was made.

    Attributes:
        lines: The fields that are stored otherwise than they were sent.
        others: What belongs to the form without being a field and has changed, in words; empty where it has not.
    """

    lines: tuple[ClashLine, ...]
    others: str

    @property
    def has_both(self) -> bool:
        """Whether there is a field that both have changed, so that one of the two must give way."""
        return any(line.changed is Changed.BOTH for line in self.lines)


def revision_of(form: Form, names: Iterable[str], belongs: object) -> str:
    """Return the revision of a form as its page shows it.

    Args:
        form: The form, filled from what is stored.
        names: Its fields that are.
        belongs: What belongs to it besides.
    """
    return "".join((digest_of(belongs), *(digest_of(text_of(form[name])) for name in names)))


def find_clash(form: Form, stored: Form, names: list[str], sent: str, belongs: object, others: str) -> Clash | None:
    """Return what was saved since the page of a form was made; None where nothing was, or nothing that differs.

    Args:
        form: The form as it was sent.
        stored: The same form, filled from what is stored now.
        names: Its fields that are stored.
        sent: The revision that was sent with it.
        belongs: What belongs to it besides, as it is stored now.
        others: What that is, in words.
    """
    if sent == revision_of(stored, names, belongs):
        return None
    digests = [sent[at : at + DIGEST_LETTERS] for at in range(0, len(sent), DIGEST_LETTERS)]
    if len(digests) != len(names) + 1:
        digests = [""] * (len(names) + 1)  # of no page of ours, or one of an older program: everything may have changed
    lines = tuple(chain.from_iterable(map(_compare(form, stored), names, digests[1:])))
    has_others = digests[0] != digest_of(belongs)
    if not has_others and all(line.changed is Changed.YOU for line in lines):
        return None
    return Clash(lines=lines, others=others if has_others else "")


def take(field: Field, stored: Field) -> None:
    """Let a field hold what is stored, as if nothing had been sent for it."""
    field.process(None, stored.object_data)
    field.raw_data = None
    field.errors = []


def stored_names(form: Form, given: Iterable[str]) -> list[str]:
    """Return the fields of a form that are filled from what is stored: those of these names that people can see."""
    names = set(given)
    return [
        field.short_name
        for field in form
        if field.short_name in names and not isinstance(field, (HiddenField, FileField))
    ]


def text_of(field: Field) -> str:
    """Return what a browser sends for a field as it stands, in one text."""
    if isinstance(field, FieldList):
        return "\n".join(text for text in (text_of(entry) for entry in field) if text)
    if isinstance(field, FormField):
        return "\t".join(text_of(part) for part in field.form).rstrip("\t")
    if isinstance(field, BooleanField):
        return "y" if field.data else ""
    if isinstance(field, ManyField):
        return ",".join(map(str, field.data or ()))
    if isinstance(field, SelectFieldBase):
        return str(field.raw_data[0]) if field.raw_data else "" if field.data is None else str(field.data)
    text = str(field._value())  # type: ignore[attr-defined]  # noqa: SLF001 - what WTForms puts into the input
    clean = getattr(field, "clean", str.strip)
    return str(clean(text))


def words_of(field: Field, shown: Field | None = None, *, has_unit: bool = True) -> str:
    """Return what stands in a field in words for people.

    Args:
        field: The field.
        shown: The same field of the form that is shown, which knows its choices; by default the field itself.
        has_unit: Whether a figure is said with its unit.
    """
    if isinstance(field, FieldList):
        return "; ".join(_line_words(entry) for entry in field if _has_dates(entry)) or _(NOTHING)
    if isinstance(field, BooleanField):
        return _("yes") if field.data else _("no")
    if isinstance(field, SelectFieldBase):
        return _choice_words(field, shown or field)
    text = text_of(field)
    if not text:
        return _(NOTHING)
    unit = getattr(field, "unit_words", "") if has_unit else ""
    return f"{text} {unit}" if unit and unit not in text else text


def _compare(form: Form, stored: Form) -> Any:  # noqa: ANN401 - a function for map
    def compare(name: str, digest: str) -> Iterator[ClashLine]:
        yours, theirs = form[name], stored[name]
        if _is_same(yours, theirs):
            return
        is_yours = digest_of(text_of(yours)) != digest
        is_theirs = digest_of(text_of(theirs)) != digest
        changed = Changed.BOTH if is_yours and is_theirs else Changed.YOU if is_yours else Changed.THEY
        yield ClashLine(
            name=yours.label.text,
            theirs=words_of(theirs, yours),
            yours=words_of(yours, has_unit=is_yours),  # what was left is in the units of then
            changed=changed,
            field=yours,
        )

    return compare


def _is_same(yours: Field, theirs: Field) -> bool:
    """Return whether two fields come to the same, however it is written."""
    if text_of(yours) == text_of(theirs):
        return True
    is_read = not yours.errors and not yours.process_errors
    return is_read and not isinstance(yours, FieldList) and yours.data == theirs.data


def _line_words(entry: Any) -> str:  # noqa: ANN401 - a form within the list
    """Return a line of a table in words: what it is of, then the rest."""
    first, *rest = map(text_of, entry.form)
    return f"{first}: {', '.join(text or _(NOTHING) for text in rest)}"


def _has_dates(entry: Any) -> bool:  # noqa: ANN401 - a form within the list
    """Return whether a line says more than the chance that stands on it anyway."""
    return any(text_of(part) for part in list(entry.form)[1:])


def _choice_words(field: Any, shown: Any) -> str:  # noqa: ANN401 - any field of choices
    words = {str(value): str(label) for value, label, *_ in shown.choices or ()}
    if isinstance(field, ManyField):
        return ", ".join(words.get(str(value), str(value)) for value in field.data or ()) or _(NOTHING)
    text = text_of(field)
    return words.get(text, text) or _(NOTHING)
