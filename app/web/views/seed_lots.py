"""Seed lots: the list, adding, changing, removing."""

from operator import itemgetter

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import N_, _, ngettext, pgettext
from app.services import seed_lots, seed_tests
from app.services.names import NameTakenError
from app.services.plan import get_plan
from app.services.removal import InUseError, used_by
from app.services.seed_lots import CropOfUsedLotError, NumberAsNameError
from app.services.seed_tests import MoreUpThanTriedError, NotCountedYetError
from app.sheets.names import choice_words
from app.sheets.seed_lots import LotFacts, age_of, is_doubtful, make_seed_lot_page, seen_words
from app.sheets.words import day_words, day_year, number_words
from app.storage.queries.crops import list_crop_choices
from app.storage.queries.rows import row_values
from app.storage.queries.seed_lots import (
    count_seed_lots,
    get_seed_lot,
    get_seed_test,
    list_seed_lots,
    list_seed_tests,
)
from app.storage.queries.uses import list_sowings_of_seed_lot
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.forms.seed_lots import SeedLotForm, SeedTestForm
from app.web.gone import open_row
from app.web.kept import kept
from app.web.once import revise, save
from app.web.ordering import Column, read_ordering
from app.web.paging import read_number, read_paging

bp = Blueprint("seed_lots", __name__, url_prefix="/seed-lots")


def columns() -> tuple[Column, ...]:
    """Return the columns of the list."""
    return (
        Column(words=N_("Seed lot"), key="name"),
        Column(words=N_("Crop"), key="crop"),
        Column(words=N_("Variety")),
        Column(words=N_("Stated"), key="stated", shape="n"),
        Column(words=N_("Seen here"), shape="n"),
        Column(words=pgettext("where seed is from", "From")),
        Column(words=N_("Age"), key="year"),
        Column(words=N_("Sowings"), key="sowings", down=True, shape="n"),
    )


@bp.get("")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """List seed lots with what was seen of them, those in doubt marked."""
    crop_id, ordering = read_number("crop"), read_ordering(columns(), "crop")
    paging = read_paging(count_seed_lots(db.session, crop_id=crop_id))
    rows = list_seed_lots(db.session, crop_id=crop_id, sort=ordering.key, down=ordering.down, page=paging.page)
    plan = get_plan(db.session)
    seen = {lot.id: seen_words(one) for lot, one in zip(plan.garden.lots, plan.seen_of_lots, strict=True)}
    return render_template(
        "seed_lots/index.html",
        rows=rows,
        seen=seen,
        ages={row.id: age_of(row.year, row.storage_years, current_day()) for row in rows},
        doubtful={row.id for row in rows if is_doubtful(row.origin, row.crop, row.botanical)},
        paging=paging,
        ordering=ordering,
        crop_id=crop_id,
        crops=choice_words(sorted({(card.id, card.name) for card in plan.garden.cards}, key=itemgetter(1, 0))),
    )


@bp.get("/<int:seed_lot_id>")
@open_to(Who.MEMBERS)
@kept
def show(seed_lot_id: int) -> ResponseReturnValue:
    """Show what is stated and what was seen of a seed lot, and what that makes of the cells."""
    lot = get_seed_lot(db.session, seed_lot_id)
    crop = lot.crop
    facts = LotFacts(crop.name, crop.botanical, lot.germination, lot.origin, lot.year, crop.seed_storage_years)
    tests = list_seed_tests(db.session, seed_lot_id)
    page = make_seed_lot_page(get_plan(db.session), seed_lot_id, facts, tests, current_day())
    return render_template("seed_lots/show.html", lot=lot, page=page)


@bp.route("/<int:seed_lot_id>/tests/new", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def new_test(seed_lot_id: int) -> ResponseReturnValue:
    """Write down a test of a seed lot."""
    lot = get_seed_lot(db.session, seed_lot_id)
    form = SeedTestForm()
    if form.validate_on_submit():
        try:
            test = seed_tests.add_seed_test(db.session, form.values(seed_lot_id), today=current_day())
        except MoreUpThanTriedError:
            form.up.errors = [_("No more than the %(count)s seeds laid out can come up.", count=form.tried.data)]
        except NotCountedYetError as error:
            day = day_words(error.counted_on)
            form.days.errors = [
                _("That would be on %(day)s, which is still to come. Enter the days until the last count.", day=day)
            ]
        else:
            words = _(
                "%(up)s of %(tried)s seeds of %(lot)s came up: written down",
                up=test.up,
                tried=test.tried,
                lot=lot.name,
            )
            return save(url_for("seed_lots.show", seed_lot_id=seed_lot_id), words)
    return render_template("seed_lots/new_test.html", form=form, lot=lot)


@bp.route("/tests/<int:seed_test_id>/delete", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def delete_test(seed_test_id: int) -> ResponseReturnValue:
    """Ask before a test is removed, and remove it."""
    test = get_seed_test(db.session, seed_test_id)
    lot, day = get_seed_lot(db.session, test.seed_lot_id), day_year(test.date)
    changed = revise(row_values(test))
    if request.method == "POST" and not changed:
        seed_tests.remove_seed_test(db.session, seed_test_id)
        return save(url_for("seed_lots.show", seed_lot_id=lot.id), _("The test of %(day)s removed", day=day))
    return render_template("seed_lots/delete_test.html", changed=changed, lot=lot, test=test)


@bp.route("/new", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def new() -> ResponseReturnValue:
    """Add a seed lot, of the crop in the address if there is one."""
    form = offer(SeedLotForm(crop_id=read_number("crop")))
    if form.validate_on_submit():
        try:
            lot = seed_lots.add_seed_lot(db.session, form.values())
        except (NameTakenError, NumberAsNameError) as error:
            say_name(form, error)
        else:
            return save(url_for("seed_lots.index", _anchor=f"lot-{lot.id}"), _("%(name)s added", name=lot.name))
    return render_template("seed_lots/new.html", form=form)


@bp.route("/<int:seed_lot_id>/edit", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def edit(seed_lot_id: int) -> ResponseReturnValue:
    """Change a seed lot."""
    lot = open_row(get_seed_lot, seed_lot_id, lambda: ("seed_lots/new.html", {"form": offer(SeedLotForm())}))
    form = offer(SeedLotForm(obj=lot))
    if form.validate_on_submit():
        try:
            seed_lots.change_seed_lot(db.session, seed_lot_id, form.values())
        except (NameTakenError, NumberAsNameError) as error:
            say_name(form, error)
        except CropOfUsedLotError as error:
            count = error.uses[0].count
            form.crop_id.errors = [
                ngettext(
                    "%(num)s sowing takes this seed for its present crop. Change those first.",
                    "%(num)s sowings take this seed for its present crop. Change those first.",
                    count,
                    num=number_words(count),
                )
            ]
        else:
            return save(url_for("seed_lots.index", _anchor=f"lot-{seed_lot_id}"), _("%(name)s saved", name=lot.name))
    return render_template("seed_lots/edit.html", form=form, lot=lot)


@bp.route("/<int:seed_lot_id>/delete", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def delete(seed_lot_id: int) -> ResponseReturnValue:
    """Ask before a seed lot is removed, and remove it; refuse while sowings take it."""
    lot = get_seed_lot(db.session, seed_lot_id)
    uses, status = used_by(list_sowings_of_seed_lot(db.session, seed_lot_id)), 200
    changed = revise(row_values(lot))
    if request.method == "POST" and not changed:
        try:
            name = seed_lots.remove_seed_lot(db.session, seed_lot_id)
        except InUseError as error:
            uses, status = error.uses, 409
        else:
            return save(url_for("seed_lots.index"), _("%(name)s removed", name=name))
    return render_template("seed_lots/delete.html", changed=changed, lot=lot, uses=uses), status


def offer(form: SeedLotForm) -> SeedLotForm:
    """Fill the list to choose from, and return the form."""
    form.crop_id.offer(choice_words(list_crop_choices(db.session)))
    return form


def say_name(form: SeedLotForm, error: Exception) -> None:
    """Put what is wrong with the name beside it."""
    if isinstance(error, NumberAsNameError):
        form.name.errors = [_("A spreadsheet would take this for a number or a date. Put a letter in it.")]
    else:
        form.name.errors = [_("Another seed lot has this name.")]
