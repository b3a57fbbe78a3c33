"""Trays: the list, a tray's page with what is marked on it, and the short address on its label."""

from dataclasses import dataclass
from datetime import date, timedelta

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.calendar import iso_week, monday_of, week_start
from app.core.limits import TRAY_NUMBER
from app.core.log.rules import LogRuleError
from app.core.plan import Plan
from app.core.words import PLACES, CellState, Place
from app.extensions import db
from app.language import N_, _, ngettext
from app.services import trays
from app.services.filled import NotYetError, mark_filled, unmark_filled
from app.services.plan import get_plan
from app.services.positions import WaitsError, pin_stay
from app.services.trays import NumberTakenError, SownError
from app.sheets.log_words import rule_words
from app.sheets.names import choice_words
from app.sheets.tray_list import (
    Counts,
    TrayLine,
    WantedTrays,
    choose_trays,
    count_not_dealt,
    count_trays,
    order_trays,
    tray_lines,
)
from app.sheets.tray_page import TrayPage, make_tray_page
from app.sheets.tray_words import place_words
from app.sheets.words import count_words, day_words, number_words, week_full
from app.storage.engine import reading
from app.storage.errors import NotFoundError
from app.storage.queries.trays import (
    CellRow,
    StayRow,
    TrayRow,
    find_tray,
    get_tray,
    list_cells,
    list_stays,
    list_tray_ids_standing,
)
from app.web.access import Who, current_account_id, is_coordinator, may_log, open_to
from app.web.context import current_day
from app.web.forms.labels import MOST_LABELS
from app.web.forms.trays import FilledForm, NumberForm
from app.web.kept import kept
from app.web.once import digest_of, is_revision, refuse, revise, save
from app.web.ordering import Column, Ordering, read_ordering
from app.web.paging import Paging, read_number, read_paging
from app.web.views.labels import range_text
from app.web.weeks import addresses, read_week, week_name

bp = Blueprint("trays", __name__)

KINDS = {"cells": (N_("cells that are sown"), False), "pots": (N_("pots"), True)}
PLACE = "<any(heat, lamp, window, hardening):place>"
WEEK = timedelta(weeks=1)

COLUMNS = (
    Column(words=N_("Tray"), key="number"),
    Column(words=N_("Filled"), key="filled"),
    Column(words=N_("Container"), key="container"),
    Column(words=N_("What is in it, and whose cells")),
    Column(words=N_("Cells"), key="used", down=True, shape="n"),
    Column(words=N_("Stands now")),
    Column(words=N_("Moves next")),
)
TRAYS_ON_PAGE = 60  # each takes several lines, and a screen of them on a phone


@dataclass(frozen=True, kw_only=True)
class Filter:
    """Which trays an address asks for; None for any.

    Attributes:
        place: The place where they stand in the week.
        week: Monday of the week.
        grower_id: Who has cells in them.
        crop_id: What is in them.
        kind: `cells` or `pots`.
        waits: They wait for a position in the week, or from today on.
    """

    place: Place | None
    week: date | None
    grower_id: int | None
    crop_id: int | None
    kind: str | None
    waits: bool

    @property
    def week_value(self) -> str:
        """The week as it stands in addresses, empty for none."""
        return "" if self.week is None else iso_week(self.week)

    @property
    def is_any(self) -> bool:
        """Whether all trays are asked for."""
        return self == Filter(place=None, week=None, grower_id=None, crop_id=None, kind=None, waits=False)


@dataclass(frozen=True, kw_only=True)
class TraysPage:
    """The list of trays.

    Attributes:
        chosen: What the address asks for.
        found: How many they are, where and when, and what is in them, in a sentence.
        lines: Those of this page.
        paging: Where it stands in the list.
        ordering: By what the list is ordered.
        not_dealt: Trays of the plan that are not dealt yet. [1]
        labels: Address of the page that makes their labels.
        wrong: What is wrong with the number that was typed, empty otherwise.
        growers: Id and name of each grower.
        crops: Id and name of each crop.
        places: Value and words of each place.
        weeks: Value and words of each week in use.
        kinds: Value and words of each kind.
    """

    chosen: Filter
    found: str
    lines: list[TrayLine]
    paging: Paging
    ordering: Ordering
    not_dealt: int
    labels: str
    wrong: str
    growers: list[tuple[int, str]]
    crops: list[tuple[int, str]]
    places: list[tuple[str, str]]
    weeks: list[tuple[str, str]]
    kinds: list[tuple[str, str]]


@bp.get("/trays")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """List trays as the address asks for them, or open the one whose number is in it."""
    text = request.args.get("number", "").strip()
    number = read_number("number")
    if number in TRAY_NUMBER:
        return redirect(url_for("trays.short", number=number))
    highest = number_words(int(TRAY_NUMBER.high))
    wrong = _("A number of a tray goes from 1 to %(highest)s.", highest=highest) if text else ""
    page = make_list(get_plan(db.session), wrong)
    return render_template("trays/index.html", page=page, tray_address=addresses("trays.show", "number"))


@bp.get("/T/<int:number>")
@open_to(Who.BENCH)
def short(number: int) -> ResponseReturnValue:
    """Lead from the address on a label to the tray that has the number now, or to where one is started."""
    require_number(number)
    if find_tray(db.session, number) is not None:
        return redirect(url_for("trays.show", number=number))
    if not is_coordinator():
        raise NotFoundError("tray", number)
    return redirect(url_for("trays.start", number=number))


@bp.get("/trays/<int:number>")
@open_to(Who.BENCH)
def show(number: int) -> ResponseReturnValue:
    """Show a tray."""
    return show_tray(number)


@bp.post("/trays/<int:number>/pin")
@open_to(Who.COORDINATORS)
def pin(number: int) -> ResponseReturnValue:
    """Pin a tray, so that whoever is in it stays, or let it go."""
    pinned = request.form.get("pinned") == "yes"
    if not is_revision(revision_of_tray(get_tray(db.session, number))):
        return show_changed(number)
    trays.pin_tray(db.session, number, pinned=pinned)
    said = (
        _("Tray %(number)s: whoever is in it stays", number=number)
        if pinned
        else _("Tray %(number)s: no longer pinned", number=number)
    )
    return save(url_for("trays.show", number=number), said)


@bp.post(f"/trays/<int:number>/{PLACE}/pin")
@open_to(Who.COORDINATORS)
def pin_position(number: int, place: str) -> ResponseReturnValue:
    """Pin a tray to its position in a place, or let it go."""
    pinned = request.form.get("pinned") == "yes"
    words = place_words(Place(place)).capitalize()
    tray = get_tray(db.session, number)
    stay = find_stay(tray, place)
    if stay is not None and stay.shelf_id is not None and not is_revision(revision_of_place(tray, stay)):
        return show_changed(number)
    try:
        pin_stay(db.session, stay.id if stay else 0, pinned=pinned)
    except (NotFoundError, WaitsError):
        db.session.rollback()
        flash(_("%(place)s: tray %(number)s has no position to keep; nothing was changed", place=words, number=number))
        return redirect(url_for("trays.show", number=number))
    said = (
        _("%(place)s: tray %(number)s keeps its position", place=words, number=number)
        if pinned
        else _("%(place)s: tray %(number)s may be dealt another position", place=words, number=number)
    )
    return save(url_for("trays.show", number=number), said)


@bp.post("/trays/<int:number>/filled")
@open_to(Who.BENCH)
def mark(number: int) -> ResponseReturnValue:
    """Write down that a tray was sown, or its pots potted into, on a day."""
    form, tray = FilledForm(), get_tray(db.session, number)
    require_log(tray)
    is_right = form.validate_on_submit()
    if not is_revision(revision_of_contents(tray)) and not (is_right and is_filled_on(tray, form.day.data)):
        return show_changed(number, filled=form)
    if is_right:
        try:
            mark_filled(db.session, [number], form.day.data, today=current_day(), account_id=current_account_id())
        except NotYetError:
            form.day.errors = [_("This day has not come yet.")]
        except LogRuleError as error:
            form.day.errors = [rule_words(error.rule, error.limit)]
        else:
            day = day_words(form.day.data)
            said = (
                _("Tray %(number)s was potted on on %(day)s", number=number, day=day)
                if tray.potted_on
                else _("Tray %(number)s was sown on %(day)s", number=number, day=day)
            )
            return save(url_for("trays.show", number=number), said)
    db.session.rollback()
    return show_tray(number, filled=form)


@bp.post("/trays/<int:number>/not-filled")
@open_to(Who.BENCH)
def unmark(number: int) -> ResponseReturnValue:
    """Take back that a tray was sown or potted into."""
    tray = get_tray(db.session, number)
    require_log(tray)
    if not is_revision(revision_of_contents(tray)):
        return show_changed(number)
    try:
        unmark_filled(db.session, number, today=current_day(), account_id=current_account_id())
    except LogRuleError as error:
        db.session.rollback()
        why = rule_words(error.rule, error.limit)
        stays = _("Tray %(number)s stays as it is: take back first what was written down since.", number=number)
        flash(f"{stays} {why}")
        return redirect(url_for("trays.show", number=number))
    said = (
        _("Tray %(number)s counts as not potted into again", number=number)
        if tray.potted_on
        else _("Tray %(number)s counts as not sown again", number=number)
    )
    return save(url_for("trays.show", number=number), said)


@bp.post("/trays/<int:number>/number")
@open_to(Who.COORDINATORS)
def renumber(number: int) -> ResponseReturnValue:
    """Give a tray the number of another tag."""
    form = NumberForm()
    if not is_revision(revision_of_tray(get_tray(db.session, number))):
        return show_changed(number, new=form)
    if form.validate_on_submit():
        try:
            trays.renumber_tray(db.session, number, form.new.data)
        except NumberTakenError:
            form.new.errors = [_("Another tray has this number. Give that one another number first.")]
        else:
            return save(
                url_for("trays.show", number=form.new.data),
                _("Tray %(number)s has the number %(new)s now", number=number, new=form.new.data),
            )
    db.session.rollback()
    return show_tray(number, new=form)


@bp.route("/trays/<int:number>/delete", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def delete(number: int) -> ResponseReturnValue:
    """Ask before a tray without sowings is removed, and remove it."""
    tray = get_tray(db.session, number)
    is_empty, status = not list_cells(db.session, [tray.id]), 200
    changed = revise(revision_of_tray(tray))
    if request.method == "POST" and not changed:
        try:
            trays.remove_tray(db.session, number)
        except SownError:
            is_empty, status = False, 409
        else:
            return save(url_for("trays.index"), _("Tray %(number)s removed", number=number))
    return render_template("trays/delete.html", tray=tray, is_empty=is_empty, changed=changed), status


def show_changed(
    number: int, *, filled: FilledForm | None = None, new: NumberForm | None = None
) -> ResponseReturnValue:
    """Undo what this request has done, and return the page of a tray as it is now: it is not the one that was seen."""
    db.session.rollback()
    refuse()
    return show_tray(number, filled=filled, new=new, is_changed=True)


def show_tray(
    number: int, *, filled: FilledForm | None = None, new: NumberForm | None = None, is_changed: bool = False
) -> str:
    """Return the page of a tray, with a form on it that was not right."""
    today, wrong = current_day(), filled or new
    with reading():
        tray = get_tray(db.session, number)
        cells, stays = list_cells(db.session, [tray.id]), list_stays(db.session, [tray.id])
        page = make_tray_page(get_plan(db.session), tray, cells, stays, current_day())
        filled = filled or FilledForm(None, data={"day": today})
        filled.day.label.text = _("Day on which it was potted on") if tray.potted_on else _("Day on which it was sown")
        return render_template(
            "trays/show.html",
            tray=tray,
            page=page,
            wrong=wrong,
            is_changed=is_changed,
            revisions={
                "tray": revision_of_tray(tray),
                "contents": revision_of_contents(tray, cells),
                **{stay.place: revision_of_place(tray, stay) for stay in stays},
            },
            filled=filled,
            may_log=may_log({cell.grower_id for cell in cells}),
            new=new or NumberForm(None),
            deal=url_for("deal.index", day=tray.sow_on.isoformat()),
            grower_address=addresses("growers.show", "grower_id"),
        )


def growers_in(tray: TrayRow) -> set[int]:
    """Return the growers who have cells in a tray."""
    return {cell.grower_id for cell in list_cells(db.session, [tray.id])}


def require_log(tray: TrayRow) -> None:
    """Refuse to log for a tray in which whoever sends the request has nothing; coordinators log for everybody."""
    if not may_log(growers_in(tray)):
        abort(403)


def read_tray(tray: TrayRow) -> TrayPage:
    """Return a tray as its page shows it."""
    cells, stays = list_cells(db.session, [tray.id]), list_stays(db.session, [tray.id])
    return make_tray_page(get_plan(db.session), tray, cells, stays, current_day())


def revision_of_tray(tray: TrayRow) -> str:
    """Return what tells this tray from another one that gets its number."""
    return digest_of(tray.id)


def revision_of_contents(tray: TrayRow, cells: list[CellRow] | None = None) -> str:
    """Return what tells two states of what is in a tray apart; its cells are read where they are not given."""
    cells = list_cells(db.session, [tray.id]) if cells is None else cells
    return digest_of(tray.id, tray.container_id, tray.sow_on, tray.potted_on, cells)


def revision_of_place(tray: TrayRow, stay: StayRow) -> str:
    """Return what tells two positions of a tray in a place apart."""
    return digest_of(tray.id, stay.place, stay.shelf_id, stay.level, stay.slot)


def is_filled_on(tray: TrayRow, day: date) -> bool:
    """Return whether all of a tray is sown or potted into already, and on this day."""
    cells = list_cells(db.session, [tray.id])
    return tray.sow_on == day and bool(cells) and all(cell.state is not CellState.EMPTY for cell in cells)


def find_stay(tray: TrayRow, place: str) -> StayRow | None:
    """Return the stay of a tray in a place that it has not left yet; None where there is none."""
    stays = list_stays(db.session, [tray.id])
    return next((stay for stay in stays if stay.place == place and stay.end_on > current_day()), None)


def require_number(number: int) -> None:
    """Answer that there is no such page for a number that no tray can have."""
    if number not in TRAY_NUMBER:
        abort(404)


def read_filter(plan: Plan) -> Filter:
    """Return which trays the address asks for; what it does not know it leaves out."""
    place, week, kind = (request.args.get(name, "") for name in ("place", "week", "kind"))
    return Filter(
        place=Place(place) if place in set(Place) else None,
        week=read_week(week, plan, current_day()) if week else None,
        grower_id=read_number("grower"),
        crop_id=read_number("crop"),
        kind=kind if kind in KINDS else None,
        waits=request.args.get("waits") == "yes",
    )


def found_words(chosen: Filter, counts: Counts, when: str) -> str:
    """Return how many trays were found, where and when they stand or wait, and what is in them, in a sentence."""
    place = place_words(chosen.place) if chosen.place else ""
    values = {"count": number_words(counts.trays), "place": place, "when": when}
    if not when:
        trays = count_words(counts.trays, "tray", "trays")
    elif chosen.waits and place:
        trays = ngettext(
            "%(count)s tray that waits for a position in %(place)s %(when)s",
            "%(count)s trays that wait for a position in %(place)s %(when)s",
            counts.trays,
            **values,
        )
    elif chosen.waits:
        trays = ngettext(
            "%(count)s tray that waits for a position %(when)s",
            "%(count)s trays that wait for a position %(when)s",
            counts.trays,
            **values,
        )
    elif place:
        trays = ngettext(
            "%(count)s tray that stands in %(place)s %(when)s",
            "%(count)s trays that stand in %(place)s %(when)s",
            counts.trays,
            **values,
        )
    else:
        trays = ngettext(
            "%(count)s tray that stands %(when)s", "%(count)s trays that stand %(when)s", counts.trays, **values
        )
    if not counts.trays:
        return f"{trays}."
    return _(
        "%(trays)s: %(used)s of %(cells)s taken, %(filled)s.",
        trays=trays,
        used=number_words(counts.used),
        cells=count_words(counts.cells, "cell", "cells"),
        filled=count_words(counts.filled, "tray sown or potted on", "trays sown or potted on"),
    )


def make_list(plan: Plan, wrong: str) -> TraysPage:
    """Return the list of the trays that the address asks for."""
    today, chosen = current_day(), read_filter(plan)
    ids, when = None, ""
    if chosen.place or chosen.week or chosen.waits:
        first = chosen.week or week_start(today)
        end: date | None = first + WEEK
        when = _("in %(week)s", week=week_full(first))
        if chosen.waits and chosen.week is None:
            first, end, when = today, None, _("from %(day)s on", day=day_words(today))
        ids = list_tray_ids_standing(db.session, first, end, place=chosen.place, is_waiting=chosen.waits)
    is_pots = KINDS[chosen.kind][1] if chosen.kind else None
    found = choose_trays(
        plan, WantedTrays(grower_id=chosen.grower_id, crop_id=chosen.crop_id, is_pots=is_pots, ids=ids)
    )
    paging, ordering = read_paging(len(found), TRAYS_ON_PAGE), read_ordering(COLUMNS, "number")
    shown = order_trays(plan, found, ordering.key, down=ordering.down)[max(paging.first - 1, 0) : paging.last]
    stays = list_stays(db.session, plan.garden.dealt.ids[shown].tolist()) if len(shown) else []
    numbers = plan.garden.dealt.number[found].tolist()
    return TraysPage(
        chosen=chosen,
        found=found_words(chosen, count_trays(plan, found), when),
        lines=tray_lines(plan, shown, stays, today),
        paging=paging,
        ordering=ordering,
        not_dealt=count_not_dealt(plan),
        labels=url_for("labels.index", trays=range_text(numbers) if 0 < len(numbers) <= MOST_LABELS else None),
        wrong=wrong,
        growers=[(grower.id, grower.name) for grower in plan.garden.growers],
        crops=choice_words((card.id, card.name) for card in plan.garden.cards),
        places=[(place.value, place_words(place)) for place in PLACES],
        weeks=[(week_name(monday), week_full(monday)) for monday in map(monday_of, plan.ledger.weeks)],
        kinds=[(kind, _(words)) for kind, (words, _is_pots) in KINDS.items()],
    )
