"""Crop cards: the list, a card with its sources, adding, changing, removing."""

from collections.abc import Iterable
from dataclasses import dataclass

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.folded import fold
from app.core.plants.card_rules import CardError, read_sources
from app.core.plants.cucurbits import is_cucurbit
from app.core.plants.season import SeasonFit
from app.extensions import db
from app.language import N_, _
from app.services import crops
from app.services.names import NameTakenError
from app.services.plan import get_plan
from app.services.removal import InUseError, used_by
from app.sheets.names import choice_words, name_words
from app.sheets.season_page import CropLine, chances_words, crop_lines
from app.storage.models import Crop
from app.storage.published import emergence_rows, legal_germination
from app.storage.queries.containers import list_container_choices
from app.storage.queries.crops import CARD_COLUMNS, get_crop, list_crops
from app.storage.queries.rows import row_values
from app.storage.queries.uses import list_seed_lots_of_crop, list_sowings_of_crop
from app.web.access import Who, open_to
from app.web.forms.crops import CropForm
from app.web.gone import open_row
from app.web.kept import kept
from app.web.once import revise, save

bp = Blueprint("crops", __name__, url_prefix="/crops")

TAKEN = N_("Another crop card has this name.")


@dataclass(frozen=True, kw_only=True)
class CropPage:
    """A crop card as its page shows it.

    Attributes:
        crop: The card.
        sources: Source of each figure by column; under the empty name, what belongs to the whole card.
        other_sources: Sources of names that are no figure of the card.
        season: What the season says of it and of its varieties, and what would make them fit.
        chances: Where the chance that it ripens is from.
        legal_germination: Legal minimum germination of its kind. [fraction]
        cucurbit: Whether saved seed of it is in doubt.
    """

    crop: Crop
    sources: dict[str, str]
    other_sources: dict[str, str]
    season: CropLine
    chances: str
    legal_germination: float | None
    cucurbit: bool


@bp.get("")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """List crop cards with the season's verdict on each."""
    return render_template("crops/index.html", rows=list_crops(db.session), fits=fits_by_crop())


@bp.get("/<int:crop_id>")
@open_to(Who.MEMBERS)
@kept
def show(crop_id: int) -> ResponseReturnValue:
    """Show a crop card, each figure beside its source."""
    crop = get_crop(db.session, crop_id)
    sources, plan = read_sources(crop.source), get_plan(db.session)
    page = CropPage(
        crop=crop,
        sources=sources,
        other_sources={figure: source for figure, source in sources.items() if figure not in CARD_COLUMNS | {""}},
        season=next(line for line in crop_lines(plan) if line.crop_id == crop_id),
        chances=chances_words(plan),
        legal_germination=legal_germination().get(crop.germination_kind or ""),
        cucurbit=is_cucurbit(crop.name, crop.botanical),
    )
    return render_template("crops/show.html", page=page, crop=crop)


@bp.route("/new", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def new() -> ResponseReturnValue:
    """Add a crop card."""
    form = offer(CropForm())
    if form.validate_on_submit():
        try:
            crop = crops.add_crop(db.session, form.values())
        except NameTakenError:
            form.name.errors = [_(TAKEN)]
        except CardError as error:
            say_faults(form, error)
        else:
            return save(url_for("crops.show", crop_id=crop.id), _("%(name)s added", name=name_words(crop.name)))
    return render_template("crops/new.html", form=form)


@bp.route("/<int:crop_id>/edit", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def edit(crop_id: int) -> ResponseReturnValue:
    """Change a crop card."""
    crop = open_row(get_crop, crop_id, lambda: ("crops/new.html", {"form": offer(CropForm())}))
    form = offer(CropForm(obj=crop))
    if form.validate_on_submit():
        try:
            crops.change_crop(db.session, crop_id, form.values())
        except NameTakenError:
            form.name.errors = [_(TAKEN)]
        except CardError as error:
            say_faults(form, error)
        else:
            return save(url_for("crops.show", crop_id=crop_id), _("%(name)s saved", name=name_words(crop.name)))
    return render_template("crops/edit.html", form=form, crop=crop)


@bp.route("/<int:crop_id>/delete", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def delete(crop_id: int) -> ResponseReturnValue:
    """Ask before a crop card is removed, and remove it; refuse while it has sowings or seed lots."""
    crop = get_crop(db.session, crop_id)
    uses = used_by(list_sowings_of_crop(db.session, crop_id), list_seed_lots_of_crop(db.session, crop_id))
    status = 200
    changed = revise(row_values(crop))
    if request.method == "POST" and not changed:
        try:
            name = crops.remove_crop(db.session, crop_id)
        except InUseError as error:
            uses, status = error.uses, 409
        else:
            return save(url_for("crops.index"), _("%(name)s removed", name=name_words(name)))
    return render_template("crops/delete.html", changed=changed, crop=crop, uses=uses), status


def fits_by_crop() -> dict[int, SeasonFit]:
    """Return the season's verdict on each crop card by its id, as the plan has it."""
    plan = get_plan(db.session)
    return {card.id: fit for card, fit in zip(plan.garden.cards, plan.fits, strict=True)}


def offer(form: CropForm) -> CropForm:
    """Fill the lists to choose from, and return the form."""
    containers = choice_words(list_container_choices(db.session))
    form.start_container_id.offer(containers)
    form.pot_on_container_id.offer(containers)
    form.emergence_row.offer(_named(emergence_rows()))
    form.germination_kind.offer(_named(legal_germination()))
    return form


def _named(rows: Iterable[str]) -> list[tuple[str, str]]:
    return sorted(((row, name_words(row)) for row in rows), key=lambda choice: fold(choice[1]))


def say_faults(form: CropForm, error: CardError) -> None:
    """Put what does not go together beside its fields."""
    fields = {"start_container": "start_container_id", "pot_on_container": "pot_on_container_id"}
    for fault in error.faults:
        field = form[fields.get(fault.column, fault.column)]
        field.errors = [*field.errors, f"{fault.message[:1].upper()}{fault.message[1:]}."]
