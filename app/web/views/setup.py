"""Set-up: the garden's settings, its frost dates, shelves and containers."""

from dataclasses import dataclass
from datetime import date

from flask import Blueprint, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from app.core.errors import CoreError, FrostTableError
from app.core.words import FrostSource, Side, Units
from app.extensions import db
from app.language import N_, _
from app.services import garden as garden_service
from app.services.garden import HALF_PERCENT, CrossedFrostError, GardenThereError, SeasonHoldsError, get_garden
from app.services.plan import get_plan
from app.services.shelves import ShelfRoom, list_shelf_room
from app.sheets.words import day_long
from app.storage.models import Garden
from app.storage.queries.containers import ContainerRow, list_containers
from app.storage.queries.garden import find_garden, list_frost_points
from app.storage.queries.record import NoRecordError
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.forms.setup import CROSSED, FrostForm, GardenSettingsForm, StartForm, frost_lines, say_dates
from app.web.kept import kept
from app.web.once import save

USUAL_NAME = N_("Our garden")
NEXT_SEASON_FROM = 9  # from September on people plan for the year to come: common practice

bp = Blueprint("setup", __name__, url_prefix="/setup")


@dataclass(frozen=True, kw_only=True)
class SetupPage:
    """The garden as the page of its settings shows it.

    Attributes:
        settings: Its row.
        lines: Each entered chance in percent with its spring and autumn date, MM-DD; None where not entered.
        spring_even: Date of an even chance of a later freeze.
        spring_at_risk: Date at the garden's spring risk.
        autumn_even: Date of an even chance of an earlier freeze.
        autumn_at_risk: Date at the garden's autumn risk.
        frost_free_days: Days between the even dates. [d]
        no_safe_month: Whether the spring date at risk is not before the autumn date at risk.
        room: Shelves with their positions.
        containers: Containers.
    """

    settings: Garden
    lines: tuple[tuple[int, str | None, str | None], ...]
    spring_even: date
    spring_at_risk: date
    autumn_even: date
    autumn_at_risk: date
    frost_free_days: int
    no_safe_month: bool
    room: ShelfRoom
    containers: list[ContainerRow]


@bp.get("")
@open_to(Who.COORDINATORS)
@kept
def index() -> ResponseReturnValue:
    """Show the garden's settings."""
    settings = find_garden(db.session)
    if settings is None:
        return redirect(url_for("setup.new"))
    plan = get_plan(db.session)
    frost = plan.garden.frost
    points = list_frost_points(db.session)
    spring, autumn = points[Side.SPRING], points[Side.AUTUMN]
    at_risk = frost.spring_on(settings.risk), frost.autumn_on(settings.autumn_risk)
    page = SetupPage(
        settings=settings,
        lines=tuple((c, spring.get(c), autumn.get(c)) for c in sorted({*spring, *autumn}, reverse=True)),
        spring_even=frost.spring_on(0.5),
        spring_at_risk=at_risk[0],
        autumn_even=frost.autumn_on(0.5),
        autumn_at_risk=at_risk[1],
        frost_free_days=frost.frost_free_days(),
        no_safe_month=at_risk[0] >= at_risk[1],
        room=list_shelf_room(db.session, plan),
        containers=list_containers(db.session),
    )
    return render_template("setup/index.html", page=page, settings=settings)


@bp.route("/new", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def new() -> ResponseReturnValue:
    """Set up a garden in a database that holds none."""
    if find_garden(db.session) is not None:
        return redirect(url_for("setup.index"))
    form = StartForm(name=_(USUAL_NAME), season=usual_season(current_day()), units=Units.METRIC)
    if form.validate_on_submit():
        try:
            garden_service.start_garden(db.session, form.values())
        except GardenThereError:
            db.session.rollback()
            return redirect(url_for("setup.index"))
        except FrostTableError as error:
            form.last.errors = [f"{error}."]
        except CrossedFrostError:
            form.first.errors = [_(CROSSED)]
        else:
            return save(url_for("first_steps.index"), _("The garden is set up, with crop cards and containers"))
    return render_template("setup/new.html", form=form)


def usual_season(day: date) -> int:
    """Return the growing year that somebody who begins on a day most likely means."""
    return day.year + (day.month >= NEXT_SEASON_FROM)


@bp.route("/garden", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def edit_garden() -> ResponseReturnValue:
    """Change the garden's own settings."""
    form = GardenSettingsForm(obj=get_garden(db.session))
    if form.validate_on_submit():
        try:
            garden_service.change_garden(db.session, form.values())
        except SeasonHoldsError as error:
            db.session.rollback()
            form.season.errors = [
                _(
                    "There is %(what)s on %(day)s, far from that season. When this season ends, begin the next one "
                    "under Set-up, Next season.",
                    what=_(error.far.of),
                    day=day_long(error.far.day),
                )
            ]
        else:
            return save(url_for("setup.index"), _("Settings saved; every figure follows them"))
    return render_template("setup/edit_garden.html", form=form)


@bp.route("/frost", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def edit_frost() -> ResponseReturnValue:
    """Change where the garden lies and when it freezes there."""
    settings, points = get_garden(db.session), list_frost_points(db.session)
    is_table = settings.frost_source is not FrostSource.DATES and any(
        set(points[side]) - {HALF_PERCENT} for side in Side
    )
    form = FrostForm(
        obj=settings,
        lines=frost_lines(points if is_table else {side: {} for side in Side}),
        last=points[Side.SPRING].get(HALF_PERCENT),
        first=points[Side.AUTUMN].get(HALF_PERCENT),
    )
    if form.validate_on_submit():
        goes_by_record = form.frost_source.data is FrostSource.STATION
        try:
            garden_service.change_frost(db.session, form.values(), points if goes_by_record else form.points())
        except CrossedFrostError:
            say_frost(form, _(CROSSED))
        except NoRecordError:
            form.frost_source.errors = [
                _("There is no station’s record yet. Hand one in on the page of the frost record.")
            ]
        except CoreError as error:
            say_frost(form, str(error))
        else:
            return save(url_for("setup.index"), _("Frost dates saved; every date follows them"))
    return render_template("setup/edit_frost.html", form=form)


def say_frost(form: FrostForm, message: str) -> None:
    """Put what is wrong with the dates beside them."""
    fields = {FrostSource.DATES: form.last, FrostSource.STATION: form.frost_source}
    field = fields.get(form.frost_source.data, form.lines)
    field.errors = [*field.errors, say_dates(message)]
