"""Words for templates: thin names over app.sheets, with the garden's units filled in."""

import time
from collections.abc import Callable, Iterable
from datetime import date
from typing import Any

from flask import Flask
from jinja2 import pass_context
from jinja2.runtime import Context

from app.core.words import Units
from app.language import _
from app.sheets import backup_words, bars, fixed_words, history_words, names, nouns, stored_words, units, words
from app.web.context import current_day, current_garden

WORDS: tuple[Callable[..., Any], ...] = (
    words.day_words,
    words.day_short,
    words.day_year,
    words.day_long,
    words.month_day_words,
    words.week_words,
    words.week_full,
    words.iso_week,
    words.risk_words,
    words.number_words,
    words.figure_words,
    words.count_words,
    words.percent_words,
    words.list_words,
    bars.use_bar,
    fixed_words.say,
    names.name_words,
)
UNIT_WORDS: tuple[Callable[..., str], ...] = (
    units.temperature_words,
    units.temperature_difference_words,
    units.length_words,
    units.size_words,
    units.elevation_words,
    units.depth_words,
    units.sow_depth_words,
    units.volume_words,
    units.area_words,
    units.heat_sum_words,
    units.seeds_by_weight_words,
)


def init_app(app: Flask) -> None:
    """Make every function above a filter under its own name; those of units ask the garden for them."""
    for function in WORDS:
        app.add_template_filter(function, function.__name__)
    for in_units in UNIT_WORDS:
        app.add_template_filter(_in_garden_units(in_units), in_units.__name__)
    for from_today in (words.away_words, words.day_away):
        app.add_template_filter(_from_today(from_today), from_today.__name__)
    app.add_template_filter(moment_ago)
    app.add_template_filter(backup_words.moment_words)
    app.add_template_filter(stored_words.say_again, "said_again")
    app.add_template_filter(nouns.noun_words)
    app.add_template_filter(history_words.action_words)
    app.add_template_filter(device_name)
    app.add_template_filter(flat_errors)
    app.add_template_filter(first_input)
    app.add_template_filter(own_errors)
    app.add_template_filter(wrong_fields)
    app.add_template_filter(without_none)


def device_name(device: str | None) -> str:
    """Return the kind of a device, which is kept in English."""
    return _(device or "Device")


def flat_errors(errors: Iterable[Any]) -> list[str]:
    """Return the messages of a field, those of fields inside it included."""
    found: list[str] = []
    for error in errors:
        if isinstance(error, str):
            found.append(error)
        elif isinstance(error, dict):
            found.extend(flat_errors(error.values()))
        else:
            found.extend(flat_errors(error))
    return found


def own_errors(field: Any) -> list[str]:  # noqa: ANN401 - any field of a form
    """Return the messages of a field itself, those of fields inside it left out."""
    return [error for error in field.errors if isinstance(error, str)]


def wrong_fields(form: Any) -> list[Any]:  # noqa: ANN401 - a form, or a field that holds fields
    """Return the fields with messages of their own in the order of the page, those inside other fields included."""
    found: list[Any] = []
    for field in form:
        if own_errors(field):
            found.append(field)
        if field.type == "FieldList":
            for line in field:
                found.extend(wrong_fields(line.form))
    return found


def without_none(attributes: dict[str, Any]) -> dict[str, Any]:
    """Return the attributes of an input that are given."""
    return {name: value for name, value in attributes.items() if value is not None}


def first_input(field: Any) -> str:  # noqa: ANN401 - any field of a form
    """Return the id of the input that a link to a field leads to."""
    if field.type in {"RadioField", "ManyChoiceField"}:
        return next((str(choice.id) for choice in field), str(field.id))
    if field.type == "FieldList":
        return next((str(part.id) for line in field for part in line.form), str(field.id))
    return str(field.id)


def moment_ago(at: float) -> str:
    """Return a moment with how many days ago it was; moments are real, whatever day is taken for today."""
    return backup_words.moment_ago(at, time.time())


def _from_today(function: Callable[[date, date], str]) -> Callable[..., str]:
    @pass_context
    def filled(_context: Context, day: date) -> str:
        return function(day, current_day())

    return filled


def _in_garden_units(function: Callable[..., str]) -> Callable[..., str]:
    @pass_context  # else a number in a template would be put into words once and for all, in the units of that day
    def filled(_context: Context, *values: float) -> str:
        garden = current_garden()
        return function(*values, garden.units if garden else Units.METRIC)

    return filled
