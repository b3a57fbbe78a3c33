"""Moving one sowing by hand: what it would do to the shelves is shown first, and stored as it was shown."""

from dataclasses import dataclass
from datetime import date

from flask import abort, render_template, request, url_for
from flask.typing import ResponseReturnValue
from markupsafe import Markup, escape
from werkzeug.datastructures import MultiDict

from app.core.calendar import as_day
from app.core.dealing.one_move import Wish, find_days
from app.core.plan import NO_PLACE, Plan
from app.core.words import LAMP, PLACES, WINDOW
from app.extensions import db
from app.language import _
from app.services.plan import get_plan
from app.services.removal import used_by
from app.services.sowing_day import Move, SownAlreadyError, StaleMoveError, move_sowing, propose_move
from app.sheets.sowing_day import MovePage, day_choice, facts_of, light_words, make_move_page
from app.storage.engine import reading
from app.storage.models import Sowing
from app.storage.queries.sowings import get_sowing
from app.storage.queries.uses import Uses, list_trays_sown_with
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.forms.sowing_day import SowingDayForm
from app.web.once import save
from app.web.views import sowings as sowing_pages
from app.web.views.sowings import RuleError, say_dates
from app.web.weeks import read_week, week_name

bp = sowing_pages.bp  # what is moved by hand belongs to a sowing's page

CHOICES = ("day", "light", "placed")
LIGHTS = (WINDOW, LAMP)


@dataclass(frozen=True, kw_only=True)
class MoveView:
    """A move as its page shows it.

    Attributes:
        page: What it would do, in words.
        is_one: Whether anything of the sowing would be another than it is.
        sent: What is sent to store it: the choices, and the mark of the data that it is made from.
    """

    page: MovePage
    is_one: bool
    sent: dict[str, str]


@dataclass(frozen=True, kw_only=True)
class DayPage:
    """The page of a sowing's day.

    Attributes:
        facts: How it is planned now; empty where it cannot be moved.
        back: Where its reader came from.
        week: The week of the ledger that they came from; empty for none.
        is_dealt: Whether trays of it are dealt.
        uses: The trays in which it is sown.
        is_outside: Whether it is sown outside, so that it takes no room.
        is_outside_window: Whether the day set for it lies outside its window.
    """

    facts: tuple[tuple[str, str], ...]
    back: str
    week: str
    is_dealt: bool
    uses: tuple[Uses, ...]
    is_outside: bool
    is_outside_window: bool


@bp.get("/<int:sowing_id>/day")
@open_to(Who.COORDINATORS)
def day(sowing_id: int) -> ResponseReturnValue:
    """Show the days of a sowing, and what the choices in the address would do."""
    return show(sowing_id, request.args)


@bp.post("/<int:sowing_id>/day")
@open_to(Who.COORDINATORS)
def move(sowing_id: int) -> ResponseReturnValue:
    """Store a move as it was shown; if something has changed since, store nothing and show it anew."""
    sowing = get_sowing(db.session, sowing_id)
    plan = get_plan(db.session)
    index = plan.index_of[sowing_id]
    if plan.light_place[index] == NO_PLACE:
        abort(400)
    week = read_back()
    wish = read_wish(make_form(plan, index, request.form))  # None where what the page offered is not offered any more
    try:
        if wish is not None:
            move_sowing(db.session, sowing_id, wish, mark=request.form.get("mark", ""))
    except (SownAlreadyError, StaleMoveError, *RuleError):
        wish = None
    if wish is None:
        db.session.rollback()
        with reading():
            return show(sowing_id, request.form, is_stale=True), 409
    name, dealt = sowing.name, is_dealt(plan, index)
    anew = Markup('<a href="{}">{}</a>').format(url_for("deal.index"), _("deal them anew"))
    deal = escape(_("Its trays are dealt otherwise: {anew}.")).format(anew=anew) if dealt else ""
    return save(
        back_to(sowing, week),
        lambda: Markup(" ").join(filter(None, (_("%(name)s saved.", name=name), say_dates(sowing_id), deal))),
    )


def show(sowing_id: int, chosen: MultiDict[str, str], *, is_stale: bool = False) -> str:
    """Return the page of a sowing's day."""
    sowing = get_sowing(db.session, sowing_id)
    uses = used_by(list_trays_sown_with(db.session, sowing_id))
    plan = get_plan(db.session)
    index, week = plan.index_of[sowing_id], read_back()
    is_outside = int(plan.light_place[index]) == NO_PLACE
    form = view = days = None
    if not uses and not is_outside:
        form = make_form(plan, index, chosen)
        days = find_days(plan.garden, index, int(plan.light_place[index]))
        if any(name in chosen for name in CHOICES) and (wish := read_wish(form)) is not None:
            view = make_view(form, propose_move(db.session, sowing_id, wish))
    page = DayPage(
        facts=tuple(facts_of(plan, index, days)) if days else (),
        back=back_to(sowing, week),
        week=week,
        is_dealt=is_dealt(plan, index),
        uses=uses,
        is_outside=is_outside,
        is_outside_window=days is not None and not days.first <= plan.timeline.sow_on[index] <= days.last,
    )
    return render_template("sowings/day.html", sowing=sowing, form=form, page=page, move=view, is_stale=is_stale)


def make_form(plan: Plan, index: int, chosen: MultiDict[str, str]) -> SowingDayForm:
    """Return the form with what was chosen, else as the sowing is planned; days are those of the place chosen."""
    now = {
        "day": date.fromordinal(int(plan.timeline.sow_on[index])).isoformat(),
        "light": PLACES[int(plan.light_place[index])].value,
        "placed": int(plan.plants[index]),
    }
    is_asked = any(name in chosen for name in CHOICES)
    form = SowingDayForm(
        MultiDict({k: str(v) for k, v in now.items()} | chosen.to_dict()) if is_asked else None, data=now
    )
    lights = open_lights(plan, index)
    light = next((place for place in lights if PLACES[place].value == form.light.data), int(plan.light_place[index]))
    form.offer(
        [(value.isoformat(), words) for value, words in day_choices(plan, index, light)],
        [(PLACES[place].value, light_words(place)) for place in lights],
        int(plan.garden.sowings.plants[index]),
    )
    return form


def open_lights(plan: Plan, index: int) -> tuple[int, ...]:
    """Return the light places that a sowing can have; a lamp crop stands at a window only where it is set to."""
    usual, now = find_days(plan.garden, index).light, int(plan.light_place[index])
    return tuple(place for place in LIGHTS if place in {LAMP, usual, now})


def day_choices(plan: Plan, index: int, light: int) -> list[tuple[date, str]]:
    """Return the sowing days that can be chosen in a light place, those gone by only once the season is over."""
    days = find_days(plan.garden, index, light)
    now, today = int(plan.timeline.sow_on[index]), as_day(current_day())
    started = plan.light_place != NO_PLACE
    is_over = int(plan.timeline.plant_out[started].max()) < today
    offered = {one for one in days.days if one >= today or is_over}
    if days.first <= now <= days.last:
        offered.add(now)
    return [(date.fromordinal(one), day_choice(one, days.best, is_now=one == now)) for one in sorted(offered)]


def read_wish(form: SowingDayForm) -> Wish | None:
    """Return what was chosen, None where something of it is not right."""
    if not form.validate():
        return None
    light = next(place for place in LIGHTS if PLACES[place].value == form.light.data)
    return Wish(day=date.fromisoformat(form.day.data).toordinal(), light=light, plants=form.placed.data)


def make_view(form: SowingDayForm, proposed: Move) -> MoveView:
    """Return a move as its page shows it."""
    page = make_move_page(proposed)
    sent = {name: str(form[name].data) for name in CHOICES}
    return MoveView(
        page=page,
        is_one=any(line.before != line.after for line in page.lines),
        sent=sent | {"mark": proposed.mark},
    )


def is_dealt(plan: Plan, index: int) -> bool:
    """Tell whether trays of a sowing are dealt."""
    return bool((plan.garden.dealt.part_lot == index).any())


def read_back() -> str:
    """Return the week of the ledger in the address that the reader came from, empty for none."""
    text = request.args.get("week")
    return week_name(read_week(text, get_plan(db.session), current_day())) if text else ""


def back_to(sowing: Sowing, week: str) -> str:
    """Return where the reader came from: a week of the ledger, else the grower's page."""
    if week:
        return url_for("ledger.week", week=week)
    return url_for("growers.show", grower_id=sowing.grower_id)
