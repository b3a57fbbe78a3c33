"""The shelf ledger: weeks by places, and what stands where in a week."""

from dataclasses import dataclass
from datetime import date

from flask import Blueprint, Response, abort, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.calendar import week_start
from app.core.words import PLACES, Place, Units
from app.extensions import db
from app.services.plan import get_plan
from app.sheets.ledger_page import make_ledger_page
from app.sheets.tables import csv_text, ledger_rows
from app.sheets.weekly import PlaceOnSheet, WeeklySheet, make_weekly_sheet
from app.web.access import Who, open_to
from app.web.context import current_day, current_garden
from app.web.kept import kept
from app.web.readers import in_english
from app.web.weeks import addresses, read_week, week_name

bp = Blueprint("ledger", __name__)

# With more trays than this a week shows one place at a time.
TRAYS_OF_ALL_PLACES = 400
CURRENT = frozenset({Place.HEAT, Place.LAMP})


@dataclass(frozen=True, kw_only=True)
class LedgerWeekPage:
    """A week of the ledger as its page shows it.

    Attributes:
        monday: First day of the week.
        name: The week as it stands in addresses.
        is_now: Whether today lies in the week.
        sheet: What stands where, what comes and goes.
        shown: The places shown in full.
        place: The one place in the address; None for all.
        under_current: The place where the caution of electricity stands; None where no tray is under lamps or on heat.
        previous: Address of the week before.
        next: Address of the week after.
        grower_ids: Row number of each grower by name.
        sowing_ids: Row number of each sowing.
        sowing_names: Key of each sowing.
    """

    monday: date
    name: str
    is_now: bool
    sheet: WeeklySheet
    shown: tuple[PlaceOnSheet, ...]
    place: str | None
    under_current: str | None
    previous: str
    next: str
    grower_ids: dict[str, int]
    sowing_ids: list[int]
    sowing_names: tuple[str, ...]


@bp.get("/ledger")
@open_to(Who.VISITORS)
@kept
def index() -> ResponseReturnValue:
    """Show the ledger of the season."""
    page = make_ledger_page(get_plan(db.session))
    return render_template(
        "ledger/index.html", page=page, this_monday=week_start(current_day()), this_week=week_name(current_day())
    )


@bp.get("/ledger/<week>")
@open_to(Who.VISITORS)
@kept
def week(week: str) -> ResponseReturnValue:
    """Show which trays and sowings stand where in a week."""
    plan, today = get_plan(db.session), current_day()
    monday = read_week(week, plan, today)
    place = request.args.get("place") or None
    if place is not None and place not in {one.value for one in PLACES}:
        abort(404)
    garden = current_garden()
    sheet = make_weekly_sheet(plan, monday, units=garden.units if garden else Units.METRIC, today=today)
    shown = shown_places(sheet, place)
    page = LedgerWeekPage(
        monday=monday,
        name=week_name(monday),
        is_now=week_start(today) == monday,
        sheet=sheet,
        shown=shown,
        place=place,
        under_current=next((one.key for one in shown if one.key in CURRENT and one.lines), None),
        previous=url_for("ledger.week", week=week_name(monday, -1), place=place),
        next=url_for("ledger.week", week=week_name(monday, 1), place=place),
        grower_ids={grower.name: grower.id for grower in plan.garden.growers},
        sowing_ids=plan.garden.sowings.ids.tolist(),
        sowing_names=plan.garden.sowings.names,
    )
    return render_template(
        "ledger/week.html",
        page=page,
        grower_address=addresses("growers.show", "grower_id"),
        sowing_address=addresses("sowings.edit", "sowing_id"),
        day_address=addresses("sowings.day", "sowing_id"),
    )


@bp.get("/ledger.csv")
@open_to(Who.VISITORS)
@kept
@in_english
def csv() -> ResponseReturnValue:
    """Hand out the ledger as a file."""
    plan = get_plan(db.session)
    name = f"shelf-ledger-{plan.garden.settings.season}.csv"
    return Response(
        csv_text(ledger_rows(plan)),
        mimetype="text/csv",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def shown_places(sheet: WeeklySheet, place: str | None) -> tuple[PlaceOnSheet, ...]:
    """Return the places shown in full: the one asked for, or all, or of very many trays the fullest place."""
    if place is not None:
        return tuple(one for one in sheet.places if one.key == place)
    if sheet.trays <= TRAYS_OF_ALL_PLACES:
        return sheet.places
    return (max(sheet.places, key=lambda one: one.trays),)
