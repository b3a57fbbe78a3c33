"""Trays by hand: another position, exchanging sowings, starting a tray on a free number."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np
from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.dealing.apart import Differs
from app.core.dealing.deal import filled_on
from app.core.dealing.offers import NOBODY, list_offers
from app.core.dealing.positions import positions_of_places
from app.core.dealing.redeal import parts_of_trays
from app.core.plan import Plan
from app.core.space.dealt import NOT_DEALT
from app.core.words import Place
from app.extensions import db
from app.language import N_, _, nouns
from app.services import trays
from app.services.deal import StaleDealError
from app.services.plan import get_plan
from app.services.positions import NoSuchPositionError, PositionTakenError, Target, WaitsError, move_tray
from app.services.trays import CannotShareError, Lot, NoRoomError, NotInTrayError, NumberTakenError, SownError
from app.sheets.contents import CropInTray, crops_in
from app.sheets.names import choice_words, name_words
from app.sheets.tray_page import LotLine, stay_line, taken_words
from app.sheets.tray_words import place_words, position_words
from app.sheets.words import count_words, day_words, list_words
from app.storage.engine import reading
from app.storage.errors import NotFoundError
from app.storage.queries.containers import list_container_choices
from app.storage.queries.trays import StayRow, TrayRow, find_tray, get_tray, list_stays_between
from app.storage.queries.version import get_mark
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.forms.trays import ExchangeForm, MoveForm, StartForm, WishForm, offer_value
from app.web.once import revise, save
from app.web.paging import read_number
from app.web.views import trays as tray_pages
from app.web.views.trays import PLACE, find_stay, read_tray, require_number, revision_of_contents

bp = tray_pages.bp  # what is changed by hand belongs to a tray's page

MOST_OFFERS = 200
MOST_PLANNED = 40
MOST_POSITIONS = 200  # in one list to choose from; a larger place is offered shelf by shelf

DIFFERS_WORDS = {
    Differs.CONTAINER: N_("the container"),
    Differs.DAY: N_("the day on which they are sown or potted on"),
    Differs.PLACE: N_("the place where they start"),
    Differs.LIGHT: N_("whether they stand under lamps or at a window"),
    Differs.SPEED: N_("how soon they come up"),
    Differs.POTTING_ON: N_("whether they are potted on"),
    Differs.LEAVING: N_("the week in which they leave"),
}

Groups = list[tuple[str, list[tuple[Target, str]]]]


@dataclass(frozen=True, kw_only=True)
class Shelves:
    """The shelves of a place: id and name of each, and the only one whose positions are offered, None for all."""

    names: list[tuple[int, str]]
    chosen: int | None


@dataclass(frozen=True, kw_only=True)
class PlannedTray:
    """A tray of the plan that is not dealt yet.

    Attributes:
        planned: Its index in the plan.
        day: The day on which it is filled.
        container: Name of its container.
        is_pots: It holds pots that are potted on.
        crops: What is in it.
    """

    planned: int
    day: date
    container: str
    is_pots: bool
    crops: tuple[CropInTray, ...]


@bp.route(f"/trays/<int:number>/{PLACE}/move", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def move(number: int, place: str) -> ResponseReturnValue:
    """Put a tray on another position of a place, or exchange it with the one that stands there."""
    tray = get_tray(db.session, number)
    stay = find_stay(tray, place)
    if stay is None:
        where = place_words(Place(place))
        flash(_("Tray %(number)s does not stand in %(place)s any more, nor will it", number=number, place=where))
        return redirect(url_for("trays.show", number=number))
    shelves = choose_shelves(get_plan(db.session), stay)
    form = MoveForm(belongs=(tray.id, stay.shelf_id, stay.level, stay.slot))
    form.offer(list_positions(get_plan(db.session), stay, shelves.chosen))
    there = f"{stay.shelf_id}-{stay.level}-{stay.slot}"
    if request.form.get("position") == there and stay.pinned:  # where somebody else has put it meanwhile
        said = _("Tray %(number)s stands there already, and keeps its position", number=number)
        return save(url_for("trays.show", number=number), said)
    if not form.validate_on_submit():
        return show_move(tray, stay, form, shelves)
    try:
        move_tray(db.session, stay.id, form.target(), today=current_day(), exchange=form.exchange.data)
    except (PositionTakenError, NoSuchPositionError, WaitsError) as error:
        form.position.errors = [say_refused(error, number)]
        db.session.rollback()
        with reading():
            return show_move(tray, stay, form, shelves), 409
    except NotFoundError:
        db.session.rollback()
        flash(_("Tray %(number)s was dealt anew meanwhile; nothing was changed", number=number))
        return redirect(url_for("trays.show", number=number))
    return save(
        url_for("trays.show", number=number),
        _(
            "Tray %(number)s: %(position)s; it keeps this position when trays are dealt",
            number=number,
            position=say_position(form.target()),
        ),
    )


@bp.route("/trays/<int:number>/exchange", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def exchange(number: int) -> ResponseReturnValue:
    """Put a sowing, named in the address, into another tray, into free cells or in exchange for another sowing."""
    tray, plan = get_tray(db.session, number), get_plan(db.session)
    page = read_tray(tray)
    lots = [lot for lot in page.lots if not lot.is_sown]
    wanted = read_number("sowing")
    lot = next((lot for lot in lots if lot.sowing_id == wanted or wanted is None), None)
    if lot is None:
        flash(
            _(
                "Tray %(number)s has no sowing here that could change trays: what is sown stays in its cells",
                number=number,
            )
        )
        return redirect(url_for("trays.show", number=number))
    changed = revise(revision_of_contents(tray))
    offers = list(say_offers(plan, tray, lot))
    is_wish = "number" in request.form
    form, wish = (ExchangeForm(None), WishForm()) if is_wish else (ExchangeForm(), WishForm(None))
    form.to.offer(offers[:MOST_OFFERS])
    sent: ExchangeForm | WishForm = wish if is_wish else form
    is_right = sent.validate_on_submit()
    if changed:
        sent.refuse(
            _("Changed meanwhile"),
            _(
                "The tray is not as it was when you opened this page, so nothing was saved. Below is how it is now. "
                "What you chose still stands below, if it can still be chosen."
            ),
        )
    elif is_right:
        goal, other = sent.goal()
        try:
            trays.exchange_sowings(db.session, Lot(number=number, sowing_id=lot.sowing_id), goal, other)
        except (SownError, CannotShareError, NoRoomError, NotInTrayError, NotFoundError) as error:
            unchanged = _("Nothing was changed.")
            (wish.number if is_wish else form.to).errors = [f"{say_no(error)} {unchanged}"]
            db.session.rollback()
        else:
            return save(
                url_for("trays.show", number=goal),
                _(
                    "%(crop)s of %(grower)s is in tray %(number)s now. Both trays are pinned: who is in them stays",
                    crop=name_words(lot.crop),
                    grower=lot.grower,
                    number=goal,
                ),
            )
    with reading():
        forms = {"form": form, "wish": wish, "sent": sent}
        more = max(len(offers) - MOST_OFFERS, 0)
        return render_template(
            "trays/exchange.html", tray=tray, lot=lot, lots=lots, offers=len(offers), more=more, **forms
        )


@bp.route("/trays/<int:number>/start", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def start(number: int) -> ResponseReturnValue:
    """Start a tray on a number that none has: one of the plan, or an empty one."""
    require_number(number)
    if find_tray(db.session, number) is not None:
        return redirect(url_for("trays.show", number=number))
    form = StartForm(None, data={"day": current_day()})
    form.container_id.offer(choice_words(list_container_choices(db.session)))
    if request.method == "GET":
        return show_start(number, form)
    try:
        if "planned" in request.form:
            planned = request.form.get("planned", type=int, default=NOT_DEALT)
            trays.start_planned_tray(db.session, number, planned, request.form.get("mark", ""), today=current_day())
        else:
            form = StartForm()
            form.container_id.offer(choice_words(list_container_choices(db.session)))
            if not form.validate():
                return show_start(number, form)
            trays.start_empty_tray(db.session, number, form.container_id.data, form.day.data)
    except StaleDealError:
        db.session.rollback()
        with reading():
            return show_start(number, form, is_stale=True), 409
    except NumberTakenError:
        db.session.rollback()
        flash(_("Somebody else has started tray %(number)s; nothing was changed", number=number))
        return redirect(url_for("trays.show", number=number))
    return save(url_for("trays.show", number=number), _("Tray %(number)s started", number=number))


def choose_shelves(plan: Plan, stay: StayRow) -> Shelves:
    """Return the shelves whose positions are offered: all of the place, or of a large one that in the address."""
    of_place = [shelf for shelf in plan.garden.shelves if shelf.place is stay.place]
    wanted = read_number("shelf") or stay.shelf_id
    chosen = next((shelf.id for shelf in of_place if shelf.id == wanted), of_place[0].id if of_place else None)
    is_large = sum(shelf.positions for shelf in of_place) > MOST_POSITIONS
    return Shelves(names=[(shelf.id, shelf.name) for shelf in of_place], chosen=chosen if is_large else None)


def list_positions(plan: Plan, stay: StayRow, shelf_id: int | None) -> Groups:
    """Return the positions of the place of a stay: those free for the whole of it, then those taken, and by whom.

    Args:
        plan: The garden's plan.
        stay: The stay.
        shelf_id: The only shelf that is wanted; None for all of the place.
    """
    begin = max(stay.begin_on, current_day())
    there: dict[tuple[int | None, int | None, int | None], list[StayRow]] = {}
    for other in list_stays_between(db.session, begin, stay.end_on, shelf_id=shelf_id):
        if other.id != stay.id:
            there.setdefault((other.shelf_id, other.level, other.slot), []).append(other)
    free, taken = [], []
    for position in positions_of_places(plan.garden.shelves)[stay.place]:
        shelf = plan.garden.shelves[position.shelf]
        key = (shelf.id, position.level, position.slot)
        if key == (stay.shelf_id, stay.level, stay.slot) or shelf_id not in {None, shelf.id}:
            continue
        words = position_words(shelf.name, position.level, position.slot)
        target = Target(shelf_id=shelf.id, level=position.level, slot=position.slot)
        if key in there:
            taken.append((target, _("%(position)s: %(trays)s", position=words, trays=taken_words(there[key]))))
        else:
            free.append((target, words))
    return [(_("Free for the whole time"), free), (_("Taken"), taken)]


def show_move(tray: TrayRow, stay: StayRow, form: MoveForm, shelves: Shelves) -> str:
    """Return the page that asks for another position."""
    line = stay_line(get_plan(db.session), stay, current_day())
    return render_template("trays/move.html", tray=tray, stay=line, form=form, shelves=shelves)


def say_position(target: Target) -> str:
    """Return a position in words."""
    names = {shelf.id: shelf.name for shelf in get_plan(db.session).garden.shelves}
    return position_words(names[target.shelf_id], target.level, target.slot)


def say_refused(error: Exception, number: int) -> str:
    """Return why a tray does not get a position."""
    if isinstance(error, NoSuchPositionError):
        return _("This position is no longer there. Nothing was changed: choose another.")
    if isinstance(error, WaitsError):
        return _(
            "Tray %(number)s has no position that it could give in exchange. Nothing was changed: choose a free one.",
            number=number,
        )
    if isinstance(error, PositionTakenError) and error.stays:
        where = position_words(error.stays[0].shelf, error.stays[0].level, error.stays[0].slot)
        return _(
            "%(position)s is taken: %(trays)s. Nothing was changed.", position=where, trays=taken_words(error.stays)
        )
    return _("Another tray stands there by now. Nothing was changed: choose another position.")


def say_offers(plan: Plan, tray: TrayRow, lot: LotLine) -> Iterator[tuple[str, str]]:
    """Yield where a sowing can go: what is sent, and the words of it."""
    dealt, sowings = plan.garden.dealt, plan.garden.sowings
    stored = int(np.searchsorted(dealt.number, tray.number))
    noun = nouns("pot", "pots") if tray.potted_on else nouns("cell", "cells")
    free = nouns("free pot", "free pots") if tray.potted_on else nouns("free cell", "free cells")
    for offer in list_offers(plan, stored, plan.index_of[lot.sowing_id]):
        number = int(dealt.number[offer.tray])
        if offer.lot == NOBODY:
            there = count_words(offer.cells, *free)
            yield offer_value(number, None), _("tray %(number)s: %(cells)s", number=number, cells=there)
            continue
        crop = name_words(plan.garden.cards[sowings.crop[offer.lot]].name)
        who = plan.garden.growers[sowings.grower[offer.lot]].name
        words = ", ".join(filter(None, (crop, sowings.varieties[offer.lot], who, count_words(offer.cells, *noun))))
        yield (
            offer_value(number, int(sowings.ids[offer.lot])),
            _("tray %(number)s, in exchange for %(sowing)s", number=number, sowing=words),
        )


def say_no(error: Exception) -> str:
    """Return why a sowing cannot go to a tray."""
    if isinstance(error, CannotShareError):
        differs = list_words([_(DIFFERS_WORDS[name]) for name in error.differs])
        return _("They cannot share a tray: they differ in %(differs)s.", differs=differs)
    if isinstance(error, NoRoomError):
        return _(
            "Tray %(number)s has room for %(free)s more, and %(needed)s are needed.",
            number=error.number,
            free=error.free,
            needed=error.needed,
        )
    if isinstance(error, SownError):
        return _("What is sown already stays in its cells.")
    if isinstance(error, NotFoundError):
        return _("There is no tray %(number)s.", number=error.row_id)
    return _("Its cells, or those of the other sowing, are not in that tray.")


def show_start(number: int, form: StartForm, *, is_stale: bool = False) -> str:
    """Return the page that starts a tray."""
    plan, today = get_plan(db.session), current_day()
    planned, count = list_planned(plan, today)
    return render_template(
        "trays/start.html",
        number=number,
        form=form,
        planned=planned,
        more=count - len(planned),
        mark=get_mark(db.session),
        is_stale=is_stale,
        today=day_words(today),
    )


def list_planned(plan: Plan, today: date) -> tuple[list[PlannedTray], int]:
    """Return the trays of the plan that are not dealt yet, those of the days nearest to today first; and how many."""
    planned = plan.trays
    waits = np.flatnonzero(planned.stored == NOT_DEALT)
    day = filled_on(plan)
    nearest = waits[np.lexsort((waits, day[waits], np.abs(day[waits] - today.toordinal())))][:MOST_PLANNED]
    parts = parts_of_trays(planned.part_tray, planned.part_lot, planned.part_cells, nearest)
    return [
        PlannedTray(
            planned=tray,
            day=date.fromordinal(int(day[tray])),
            container=plan.garden.containers[planned.container[tray]].name,
            is_pots=bool(planned.is_potted_on[tray]),
            crops=crops_in(plan, parts.get(tray, ())),
        )
        for tray in nearest.tolist()
    ], len(waits)
