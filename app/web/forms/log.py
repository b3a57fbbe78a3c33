"""Writing down what was done and seen: one form for the sowings of a page, and one that corrects an entry."""

from collections.abc import Iterable, Sequence
from typing import Any, cast

from wtforms import BooleanField, HiddenField, RadioField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # the stubs are older

from app.core.limits import Bounds
from app.core.words import Cause, LogKind
from app.language import N_, _
from app.sheets.fixed_words import say
from app.sheets.log_page import LogLine
from app.sheets.log_words import QUESTIONS
from app.sheets.names import name_words
from app.web.forms.fields import ChoiceField, DayField, GardenForm, LongTextField, ManyChoiceField
from app.web.forms.numbers import WholeNumberField

COUNT = Bounds(1, 100_000)
SEEDS = Bounds(1, 1_000_000)
NOTE_LETTERS = 500
# So that the browser's way back keeps what was typed, where no script does.
KEEPS = {"autocomplete": "on"}


class CauseField(RadioField):
    """What plants were lost to."""

    def __init__(self, label: str, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field."""
        super().__init__(label, choices=[SelectChoice(one.value, say(one).capitalize()) for one in Cause], **kwargs)


class LogForm(GardenForm):
    """An entry of one kind for each of some sowings.

    Attributes:
        lines: The sowings; each has `count_ID`, and `take_ID` where there are several.
        kind: What is written down.
    """

    lines: Sequence[LogLine] = ()
    kind = LogKind.SOWN

    day = DayField(N_("Day"), render_kw=KEEPS)
    cause = CauseField(N_("Lost to"), default=Cause.UNKNOWN.value)
    cells = ManyChoiceField(N_("Cells"), ())
    seed_lot_id = ChoiceField(N_("Seed lot"), kind=int, may_be_empty=True, empty_words=N_("that of the sowing"))
    note = LongTextField(N_("Note"), longest=NOTE_LETTERS, may_be_empty=True, render_kw=KEEPS)
    by_grower = BooleanField(N_("The grower did it; I only write it down"))
    typed_by = HiddenField()

    def is_taken(self, line: LogLine) -> bool:
        """Return whether a sowing is written down of."""
        take = f"take_{line.sowing_id}"
        return take not in self or bool(self[take].data)

    def count_of(self, line: LogLine) -> Any:  # noqa: ANN401 - a field
        """Return the field of how many."""
        return self[f"count_{line.sowing_id}"]

    def seeds_of(self, line: LogLine) -> int | None:
        """Return how many seeds were sown; None where that was not asked or not said."""
        name = f"seeds_{line.sowing_id}"
        seeds: int | None = self[name].data if name in self else None
        return seeds

    def validate(self, extra_validators: Any = None) -> bool:  # noqa: ANN401 - as WTForms
        """Tell whether every field is right, something is chosen, and what is chosen has a count."""
        is_right = super().validate(extra_validators)
        if "cells" in self:
            if not self.cells.data and not self.cells.errors:
                self.cells.errors = [_("Tick at least one cell.")]
            return is_right and not self.cells.errors
        taken = [line for line in self.lines if self.is_taken(line)]
        if not taken:
            self.head = _("Nothing is ticked yet")
            self.form_errors.append(_("Tick what you want to log."))
        for line in taken:
            count = self.count_of(line)
            if count.data is None and not count.errors:
                count.errors = [_("Enter how many, from 1 on.")]
                is_right = False
        return is_right and bool(taken)


class CorrectForm(GardenForm):
    """What an entry is to say instead."""

    day = DayField(N_("Day"), render_kw=KEEPS)
    count = WholeNumberField(N_("How many"), COUNT, render_kw=KEEPS)
    seeds = WholeNumberField(N_("Seeds"), SEEDS, may_be_empty=True, render_kw=KEEPS)
    cause = CauseField(N_("Lost to"))
    note = LongTextField(N_("Note"), longest=NOTE_LETTERS, may_be_empty=True, render_kw=KEEPS)
    typed_by = HiddenField()


def make_log_form(
    kind: LogKind,
    lines: Sequence[LogLine],
    *,
    ticked: Iterable[int] | None = None,
    cells: tuple[Sequence[str], Sequence[str]] | None = None,
    seed_lots: Iterable[tuple[int, str]] | None = None,
    can_be_for_grower: bool = False,
    is_empty: bool = False,
    **data: Any,  # noqa: ANN401 - values of its fields
) -> LogForm:
    """Return the form for some sowings.

    Args:
        kind: What is written down.
        lines: The sowings.
        ticked: Row numbers of those that are ticked beforehand; None where there is nothing to choose from.
        cells: Values of the cells that can be ticked, and of those that are; None where counts are asked for instead.
        seed_lots: Seed that can be chosen; None where that is not asked.
        can_be_for_grower: Whether somebody else than the growers themselves types it in.
        is_empty: Whether what was sent is of another form, and not for this one.
        data: What stands in its fields.
    """
    several, chosen = ticked is not None and cells is None, set(ticked or ())
    given = data | {"cells": list(cells[1]) if cells else []}
    fields: dict[str, Any] = {"lines": lines, "kind": kind}
    for line in lines if cells is None else ():
        who = _("%(crop)s of %(grower)s", crop=name_words(line.crop), grower=line.grower)
        question = f"{_(QUESTIONS[kind])}, {who}" if several else _(QUESTIONS[kind])
        fields[f"count_{line.sowing_id}"] = WholeNumberField(question, COUNT, may_be_empty=True)
        given[f"count_{line.sowing_id}"] = line.expected(kind)
        if kind is LogKind.SOWN and not several:
            fields[f"seeds_{line.sowing_id}"] = WholeNumberField(
                _("Seeds, if you counted them"), SEEDS, may_be_empty=True
            )
        if several:
            fields[f"take_{line.sowing_id}"] = BooleanField(who)
            given[f"take_{line.sowing_id}"] = line.sowing_id in chosen
    made = type("LogForm", (LogForm,), fields)
    form = cast("LogForm", made(None, data=given) if is_empty else made(data=given))
    if kind is not LogKind.LOST:
        del form.cause
    if seed_lots is None or kind is not LogKind.SOWN:
        del form.seed_lot_id
    else:
        form.seed_lot_id.offer(seed_lots)
    if cells is None:
        del form.cells
    else:
        form.cells.choices = [SelectChoice(value, value) for value in cells[0]]
    if not can_be_for_grower:
        del form.by_grower
    return form
