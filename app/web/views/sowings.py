"""Sowings: the list, adding, changing, removing."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue
from wtforms import Field

from app.core.calendar import NO_DAY, as_date
from app.core.plan import Plan
from app.extensions import db
from app.language import N_, _, ngettext
from app.services import sowings
from app.services.plan import get_plan
from app.services.removal import InUseError, used_by
from app.services.sowings import (
    CropIsSownError,
    FarFromSeasonError,
    OutsideWindowError,
    PlacedAbovePlantsError,
    SeedLotOfOtherCropError,
    SownOutsideError,
)
from app.sheets.failing import state_words
from app.sheets.names import choice_words, name_words
from app.sheets.warnings import warnings_of
from app.sheets.wish import make_wish_page
from app.sheets.words import day_words, number_words
from app.storage.engine import reading
from app.storage.models import Sowing
from app.storage.queries.crops import list_crop_choices
from app.storage.queries.drafts import count_drafts
from app.storage.queries.growers import list_grower_choices
from app.storage.queries.rows import row_values
from app.storage.queries.seed_lots import list_seed_lot_choices
from app.storage.queries.sowings import SowingRow, count_sowings, get_sowing, list_sowing_ids, list_sowings
from app.storage.queries.uses import list_trays_sown_with
from app.web.access import Who, is_coordinator, me, open_to, require_own
from app.web.forms.sowings import SowingForm
from app.web.gone import open_row
from app.web.kept import kept
from app.web.once import revise, save
from app.web.ordering import Column, Ordering, read_ordering
from app.web.paging import read_number, read_paging
from app.web.weeks import addresses
from app.web.wishes import make_form, refuse_closed, why_closed

bp = Blueprint("sowings", __name__, url_prefix="/sowings")

SHOW = "show"  # the button that shows what a sowing would mean

# Rules of the domain that a sowing can break; each has its field.
RuleError = (
    CropIsSownError,
    FarFromSeasonError,
    OutsideWindowError,
    PlacedAbovePlantsError,
    SeedLotOfOtherCropError,
    SownOutsideError,
)


@dataclass(frozen=True, slots=True)
class SowingLine:
    """A sowing as the list shows it, with its dates from the plan."""

    row: SowingRow
    sow_from: date | None
    sow_on: date | None
    sow_by: date | None
    plant_out: date | None
    warnings: list[str]
    is_too_late: bool
    is_sown: bool


COLUMNS = (
    Column(words=N_("Key"), key="key"),
    Column(words=N_("Grower"), key="grower"),
    Column(words=N_("Crop"), key="crop"),
    Column(words=N_("Plants"), key="plants", down=True, shape="n"),
    Column(words=N_("Sow from"), key="from", shape="nowrap"),
    Column(words=N_("Sow on"), key="on"),
    Column(words=N_("Sow by"), key="by"),
    Column(words=N_("Plant out"), key="out"),
    Column(words=N_("To watch")),
)
# Which date of the plan orders what.
DATES = {"from": "sow_from", "on": "sow_on", "by": "sow_by", "out": "plant_out"}


@bp.get("")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """List sowings; grower and crop stand in the address, and members see their own."""
    grower_id = read_number("grower") if is_coordinator() else me().grower_id or 0
    chosen = {"grower_id": grower_id, "crop_id": read_number("crop")}
    total, plants = count_sowings(db.session, **chosen)
    paging, ordering = read_paging(total), read_ordering(COLUMNS, "grower")
    plan = get_plan(db.session)
    rows = list_sowings(db.session, paging.cut(list_ids(plan, ordering, **chosen)))
    states = state_words(plan, sowings=[plan.index_of[row.id] for row in rows])
    return render_template(
        "sowings/index.html",
        lines=[line_of(row, plan, states) for row in rows],
        plants=plants,
        paging=paging,
        ordering=ordering,
        chosen=chosen,
        growers=[(grower.id, grower.name) for grower in plan.garden.growers],
        crops=choice_words((card.id, card.name) for card in plan.garden.cards),
        day_address=addresses("sowings.day", "sowing_id"),
        edit_address=addresses("sowings.edit", "sowing_id"),
        grower_address=addresses("growers.show", "grower_id"),
        closed=why_closed(),
        drafts=count_drafts(db.session, grower_id=grower_id),
    )


@bp.route("/new", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def new() -> ResponseReturnValue:
    """Add a sowing, of the grower and crop in the address if there are any."""
    if (refusal := refuse_closed()) is not None:
        return refusal
    form = offer(make_form(grower_id=read_number("grower"), crop_id=read_number("crop")))
    if SHOW in request.form:
        return show_first("sowings/new.html", form)
    if form.validate_on_submit():
        try:
            sowing = sowings.add_sowing(db.session, form.values())
        except RuleError as error:
            say_rule(form, error)
        else:
            more = url_for("sowings.new", grower=sowing.grower_id)
            done = url_for("growers.show", grower_id=sowing.grower_id, _anchor=f"sowing-{sowing.id}")
            return save(
                more if "another" in request.form else done,
                lambda: _("%(name)s added. %(dates)s", name=sowing.name, dates=say_dates(sowing.id)),
            )
    return render_template("sowings/new.html", form=form)


@bp.route("/<int:sowing_id>/edit", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def edit(sowing_id: int) -> ResponseReturnValue:
    """Change a sowing."""
    sowing = open_row(get_sowing, sowing_id, lambda: ("sowings/new.html", {"form": offer(make_form())}))
    require_own(sowing.grower_id)
    if (refusal := refuse_closed()) is not None:
        return refusal
    form = offer(make_form(sowing))
    if SHOW in request.form:
        return show_first("sowings/edit.html", form, sowing)
    if form.validate_on_submit():
        try:
            sowings.change_sowing(db.session, sowing_id, form.values())
        except RuleError as error:
            say_rule(form, error)
        else:
            return save(
                url_for("growers.show", grower_id=sowing.grower_id, _anchor=f"sowing-{sowing_id}"),
                lambda: _("%(name)s saved. %(dates)s", name=sowing.name, dates=say_dates(sowing_id)),
            )
    return render_template("sowings/edit.html", form=form, sowing=sowing)


@bp.route("/<int:sowing_id>/delete", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def delete(sowing_id: int) -> ResponseReturnValue:
    """Ask before a sowing is removed, and remove it; refuse while it is sown in trays."""
    sowing = get_sowing(db.session, sowing_id)
    require_own(sowing.grower_id)
    if (refusal := refuse_closed()) is not None:
        return refusal
    uses, status = used_by(list_trays_sown_with(db.session, sowing_id)), 200
    changed = revise(row_values(sowing))
    if request.method == "POST" and not changed:
        grower_id = sowing.grower_id
        try:
            name = sowings.remove_sowing(db.session, sowing_id)
        except InUseError as error:
            uses, status = error.uses, 409
        else:
            return save(url_for("growers.show", grower_id=grower_id), _("%(name)s removed", name=name))
    return render_template("sowings/delete.html", changed=changed, sowing=sowing, uses=uses), status


def show_first(template: str, form: SowingForm, sowing: Sowing | None = None) -> ResponseReturnValue:
    """Show what was typed, with what it would mean; nothing is saved, and nobody waits for it."""
    page, row = None, sowing
    if form.validate():
        values, row_id = form.values(), None if sowing is None else sowing.id
        db.session.rollback()
        with reading():
            try:
                preview = sowings.preview_sowing(db.session, values, row_id)
            except RuleError as error:
                say_rule(form, error)
            else:
                page = make_wish_page(preview, brings_seed=values.brings_seed)
            return render_template(template, form=form, sowing=row, page=page)
    return render_template(template, form=form, sowing=row)


def list_ids(plan: Plan, ordering: Ordering, *, grower_id: int | None, crop_id: int | None) -> list[int]:
    """Return the ids of the chosen sowings as they are ordered; what has no date of a kind comes last by it."""
    crops = [card.name for card in plan.garden.cards]
    if ordering.key not in DATES:
        return list_sowing_ids(
            db.session, grower_id=grower_id, crop_id=crop_id, sort=ordering.key, down=ordering.down, crops=crops
        )
    days = getattr(plan.timeline, DATES[ordering.key])
    ids = list_sowing_ids(db.session, grower_id=grower_id, crop_id=crop_id, crops=crops)
    day_of = {one: int(days[plan.index_of[one]]) for one in ids}
    side = -1 if ordering.down else 1
    return sorted(day_of, key=lambda one: (day_of[one] == NO_DAY, side * day_of[one]))


def line_of(row: SowingRow, plan: Plan, states: Mapping[int, str]) -> SowingLine:
    """Return a sowing with its dates from the plan."""
    index, timeline = plan.index_of[row.id], plan.timeline
    return SowingLine(
        row=row,
        sow_from=as_date(int(timeline.sow_from[index])),
        sow_on=as_date(int(timeline.sow_on[index])),
        sow_by=as_date(int(timeline.sow_by[index])),
        plant_out=as_date(int(timeline.plant_out[index])),
        warnings=[
            *([states[index]] if index in states else []),
            *(warnings_of(plan, index) if plan.warned[index] else []),
        ],
        is_too_late=bool(plan.is_too_late[index]),
        is_sown=bool(plan.progress.sown_on[index]),
    )


def say_dates(sowing_id: int) -> str:
    """Return when a sowing is sown, and what is to be watched, as the plan has it."""
    plan = get_plan(db.session)
    index, timeline = plan.index_of[sowing_id], plan.timeline
    warnings = "".join(f" {words[:1].upper()}{words[1:]}." for words in warnings_of(plan, index))
    if timeline.sow_on[index] != NO_DAY:
        return _("Sow %(day)s.", day=say_day(timeline.sow_on[index])) + warnings
    first, last = say_day(timeline.sow_from[index]), say_day(timeline.sow_by[index])
    return _("Sow outside, %(first)s to %(last)s.", first=first, last=last) + warnings


def say_day(number: int) -> str:
    """Return a day number in words."""
    return day_words(date.fromordinal(int(number)))


def offer(form: SowingForm) -> SowingForm:
    """Fill the lists to choose from, and return the form."""
    if form.grower_id is not None:
        form.grower_id.offer(list_grower_choices(db.session))
    form.crop_id.offer(choice_words(list_crop_choices(db.session)))
    form.seed_lot_id.offer(
        (lot.id, f"{name_words(lot.crop)}: {lot.name}{', ' + lot.variety if lot.variety else ''}")
        for lot in list_seed_lot_choices(db.session)
    )
    return form


def say_rule(form: SowingForm, error: Exception) -> None:
    """Put the rule that is broken beside its field."""
    if isinstance(error, SeedLotOfOtherCropError):
        form.seed_lot_id.errors = [
            _("This is seed of %(crop)s. Choose a lot of the crop that is sown.", crop=name_words(error.crop))
        ]
    elif isinstance(error, CropIsSownError):
        form.crop_id.errors = [
            ngettext(
                "It is sown in %(num)s tray already, so it stays of its crop. Add another sowing.",
                "It is sown in %(num)s trays already, so it stays of its crop. Add another sowing.",
                error.trays.count,
                num=number_words(error.trays.count),
            )
        ]
    elif isinstance(error, PlacedAbovePlantsError):
        form.placed.errors = [_("No more plants can be granted than are wanted.")]
    elif isinstance(error, FarFromSeasonError):
        _or_own(form, error.column).errors = [
            _(
                "The season is %(season)s. Enter a day in the years from %(first)s to %(last)s.",
                season=error.season,
                first=error.season - 1,
                last=error.season + 1,
            )
        ]
    elif isinstance(error, SownOutsideError):
        _or_own(form, error.column).errors = [_("This crop is sown outside, at the plot: leave this empty.")]
    elif isinstance(error, OutsideWindowError):
        first, last = day_words(error.first), day_words(error.last)
        words = _(
            "Outside its window. Enter a day from %(first)s to %(last)s, or change the plant-out date.",
            first=first,
            last=last,
        )
        if "sow_on" not in form:
            words = _(
                "A coordinator has set a day to sow it, and that would lie outside its window, %(first)s to %(last)s.",
                first=first,
                last=last,
            )
        _or_own(form, "sow_on").errors = [words]


def _or_own(form: SowingForm, column: str) -> Field:
    """Return the field of a column, or where a member has none of it, the one that it depends on."""
    field: Field = form[column if column in form else "plant_out"]
    return field
