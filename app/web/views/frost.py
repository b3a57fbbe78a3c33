"""The frost record: the chances behind every date, trying another risk, a station's record, a pasted table."""

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.errors import FrostTableError, NoFrostDateError
from app.core.words import FrostSource
from app.extensions import db
from app.language import _
from app.services import frost as frost_service
from app.services import garden as garden_service
from app.services.frost import RecordInUseError
from app.services.garden import CrossedFrostError, FrostValues, get_garden
from app.services.plan import get_plan
from app.services.record import MOST_BYTES, NoRecordError, record_summary, replace_record
from app.sheets.frost_record import FrostPage, make_frost_page
from app.sheets.record_words import record_lines
from app.sheets.risk_preview import RiskPreview, make_risk_preview
from app.storage.folder import Fault, FaultyFolderError
from app.storage.models import Garden
from app.storage.queries.garden import list_frost_points
from app.web.access import Who, open_to
from app.web.forms.frost import PasteForm, RecordForm, RiskForm, TryRiskForm
from app.web.forms.pasted import PastedTable, read_pasted
from app.web.forms.setup import CROSSED, say_dates
from app.web.kept import kept
from app.web.once import revise, save

bp = Blueprint("frost", __name__, url_prefix="/frost")

RISKS = ("risk", "autumn_risk", "frost_law")
# Room for what a form sends around the file.
AROUND_FILE_BYTES = 64 * 1024
LARGEST_RECORD_BYTES = MOST_BYTES + AROUND_FILE_BYTES


@dataclass(frozen=True, kw_only=True)
class PastePage:
    """A pasted table as it was understood.

    Attributes:
        table: Its chances and dates.
        can_save: Whether it makes a table of the garden.
    """

    table: PastedTable
    can_save: bool


@bp.url_value_preprocessor
def allow_record(endpoint: str | None, _values: dict[str, Any] | None) -> None:
    """Let the page that takes in a record read more than others; this comes before the form's token is looked for."""
    if endpoint == "frost.upload":
        request.max_content_length = LARGEST_RECORD_BYTES


@bp.get("")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """Show the frost record; risks in the address are tried on the garden, and nothing is saved."""
    settings = get_garden(db.session)
    form = TryRiskForm.of_address(settings, request.args)
    is_asked = any(name in request.args for name in RISKS)
    preview = try_risks(form) if is_asked and form.validate() else None
    save_form = RiskForm(formdata=None, obj=settings) if preview else None
    page = make_page(settings, form if preview else None)
    return render_template(
        "frost/index.html",
        page=page,
        form=form,
        settings=settings,
        preview=preview,
        save=save_form,
        is_tried=is_asked,
    )


@bp.post("/risk")
@open_to(Who.COORDINATORS)
def save_risk() -> ResponseReturnValue:
    """Save the risks that were tried."""
    settings = get_garden(db.session)
    form = RiskForm(obj=settings)
    form.anew = url_for("frost.index")
    if settings.frost_source is not FrostSource.STATION:
        form.frost_law.process(None, settings.frost_law)  # nothing on the page asks for it then
    if form.validate_on_submit():
        try:
            frost_service.change_risks(db.session, form.values())
        except NoFrostDateError as error:
            form.risk.errors = [say_dates(str(error))]
        else:
            return save(url_for("frost.index"), _("Risk saved; every date follows it"))
    page = make_page(settings, None)
    return render_template(
        "frost/index.html", page=page, form=form, settings=settings, preview=None, save=None, is_tried=True
    )


@bp.route("/record", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def upload() -> ResponseReturnValue:
    """Take in a station's record, and show what the one there holds."""
    form = RecordForm(revises=True, belongs=get_garden(db.session).record_mark)
    faults, count = tuple[Fault, ...](), 0
    if form.validate_on_submit():
        try:
            summary = replace_record(db.session, form.file.read(), file=form.file.filename or "")
        except FaultyFolderError as error:
            db.session.rollback()
            form.record.errors = [_("Nothing was taken in; what is wrong with the file is listed below.")]
            faults, count = error.faults, error.count
        else:
            return save(url_for("frost.upload"), " ".join([_("The record is taken in."), *summary.notes]))
    summary_there = record_summary(db.session)
    return render_template(
        "frost/upload.html",
        form=form,
        lines=record_lines(summary_there) if summary_there else [],
        in_use=get_garden(db.session).frost_source is FrostSource.STATION,
        faults=faults,
        more=count - len(faults),
    )


@bp.route("/record/remove", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def remove() -> ResponseReturnValue:
    """Ask before the station's record is removed, and remove it."""
    settings = get_garden(db.session)
    in_use = settings.frost_source is FrostSource.STATION
    if settings.record_mark is None:
        return redirect(url_for("frost.upload"))
    changed = revise(settings.record_mark)
    if request.method == "POST" and not changed:
        try:
            frost_service.remove_record(db.session)
        except NoRecordError:
            return redirect(url_for("frost.upload"))
        except RecordInUseError:
            in_use = True
        else:
            return save(url_for("frost.index"), _("The record is removed"))
    return render_template("frost/remove.html", in_use=in_use, changed=changed)


@bp.route("/paste", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def paste() -> ResponseReturnValue:
    """Read a pasted table, show it as it was understood, and save it once it was seen so."""
    settings = get_garden(db.session)
    form = PasteForm(obj=settings, belongs=(settings.frost_source, list_frost_points(db.session)))
    page = None
    if form.validate_on_submit():
        table = read_pasted(form.text.data, form.text.habits)
        wrong = why_no_table(form, table, settings)
        if not wrong and form.seen.data == table.mark:
            return save(url_for("frost.index"), _("Frost dates saved; every date follows them"))
        db.session.rollback()
        form.text.errors = [wrong] if wrong else []
        form.seen.data = table.mark
        form.seen.raw_data = None
        page = PastePage(table=table, can_save=not wrong)
    return render_template("frost/paste.html", form=form, page=page)


def why_no_table(form: PasteForm, table: PastedTable, settings: Garden) -> str:
    """Put a table in place of the garden's dates, or return why it cannot be; the caller commits or rolls back."""
    if table.faults:
        return _("Some lines were not understood; they are listed below.")
    values = FrostValues(
        latitude=settings.latitude,
        longitude=settings.longitude,
        elevation_m=settings.elevation_m,
        frost_source=FrostSource.TABLE,
        frost_law=settings.frost_law,
        threshold_c=form.threshold_c.data,
        risk=settings.risk,
        autumn_risk=settings.autumn_risk,
    )
    try:
        garden_service.change_frost(db.session, values, table.points())
    except FrostTableError as error:
        return say_dates(str(error))
    except CrossedFrostError:
        return _(CROSSED)
    return ""


def try_risks(form: TryRiskForm) -> RiskPreview | None:
    """Return what the risks in a form would do; None where they have no date, which is then said beside them."""
    try:
        after = frost_service.plan_at(db.session, form.values())
    except NoFrostDateError as error:
        form.risk.errors = [say_dates(str(error))]
        return None
    return make_risk_preview(get_plan(db.session), after)


def make_page(settings: Garden, tried: TryRiskForm | None) -> FrostPage:
    """Return the frost record, with risks that are tried drawn in."""
    station = frost_service.find_station_freezes(db.session)
    return make_frost_page(
        get_plan(db.session).garden.frost,
        station.usual if station else (),
        station.own if station else None,
        source=settings.frost_source,
        law=settings.frost_law,
        risks=(settings.risk, settings.autumn_risk),
        tried=(tried.risk.data, tried.autumn_risk.data) if tried else None,
    )
