"""People: who has an account, inviting them, what they may do, and erasing them."""

from collections.abc import Iterable
from dataclasses import dataclass
from ipaddress import ip_address
from urllib.parse import urlsplit

from flask import Blueprint, abort, current_app, make_response, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.words import Role
from app.extensions import db
from app.language import N_, _
from app.network import LOCAL_SUFFIXES, is_private
from app.services import accounts
from app.services.accounts import LastCoordinatorError, NameTakenError, NewSlip
from app.services.leaving import WithGrower, erase, find_leaving
from app.services.removal import InUseError
from app.sheets.pdf import PdfError, Template, make_pdf, usual_paper
from app.sheets.slips import SlipOnPaper, SlipSheet, make_slip_on_paper
from app.sheets.words import count_words, list_words
from app.storage.models import SignIn
from app.storage.queries.growers import list_grower_choices
from app.storage.queries.house import find_house, get_house
from app.storage.queries.people import (
    AccountRow,
    end_sign_ins,
    end_tablet,
    get_account,
    list_accounts,
    list_growers_without_account,
    list_sign_ins,
    list_tablets,
)
from app.storage.queries.rows import row_values
from app.web.access import Who, is_coordinator, me, open_to
from app.web.confirm import ask_first
from app.web.context import current_garden
from app.web.forms.people import EraseForm, PersonForm, VisitorsForm
from app.web.once import revise, save
from app.web.public_address import current_public_address
from app.web.readers import speak_to_all
from app.web.views.sheets import current_units

bp = Blueprint("people", __name__, url_prefix="/people")

TAKEN = N_("Somebody has this name already.")
LAST = N_("Nobody else may do everything here. Make somebody else a coordinator first.")
MOST_SLIPS = 500


@dataclass(frozen=True, kw_only=True)
class PeoplePage:
    """Everybody who has an account.

    Attributes:
        rows: The accounts.
        waiting: How many have not come in yet. [1]
        uninvited: Growers whom no account is of. [1]
        tablets: Devices that are a bench tablet.
        visitors: Whether visitors may look.
        address: The address on paper; None where there is none.
    """

    rows: list[AccountRow]
    waiting: int
    uninvited: int
    tablets: list[SignIn]
    visitors: bool
    address: str | None


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """List everybody who has an account."""
    rows = list_accounts(db.session)
    page = PeoplePage(
        rows=rows,
        waiting=sum(row.is_waiting and not row.is_demo for row in rows),
        uninvited=len(list_growers_without_account(db.session)),
        tablets=list_tablets(db.session),
        visitors=find_house(db.session).open_to_visitors,
        address=current_public_address(),
    )
    return render_template("people/index.html", page=page)


@bp.route("/new", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def new() -> ResponseReturnValue:
    """Add an account, and go on to the slip that lets its person in."""
    form = PersonForm(data={"role": Role.MEMBER})
    form.grower_id.offer(list_grower_choices(db.session))
    if form.validate_on_submit():
        try:
            account = accounts.invite(db.session, form.name.data, form.role.data, form.grower_id.data)
        except NameTakenError:
            form.name.errors = [_("Somebody has this name already. Add the plot or a second name.")]
        else:
            return save(
                url_for("people.slips", who=account.id), _("%(name)s added; now make the slip", name=account.name)
            )
    return render_template("people/new.html", form=form)


@bp.post("/growers")
@open_to(Who.COORDINATORS)
def invite_growers() -> ResponseReturnValue:
    """Add an account for each grower without one, and go on to their slips."""
    added, taken = accounts.invite_growers(db.session)
    said = _("Nobody was added")
    if added:
        said = _("%(growers)s added; now make the slips", growers=count_words(len(added), "grower", "growers"))
    if taken:
        said = _(
            "%(done)s. Not %(names)s: an account has this name already, so say which grower it is of",
            done=said,
            names=list_words(taken),
        )
    return save(url_for("people.slips") if added else url_for("people.index"), said)


@bp.route("/<int:account_id>/edit", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def edit(account_id: int) -> ResponseReturnValue:
    """Change name, role and grower of an account."""
    account = get_account(db.session, account_id)
    form = PersonForm(obj=account)
    form.grower_id.offer(list_grower_choices(db.session))
    if form.validate_on_submit():
        try:
            accounts.change_account(
                db.session, account_id, name=form.name.data, role=form.role.data, grower_id=form.grower_id.data
            )
        except NameTakenError:
            db.session.rollback()
            form.name.errors = [_(TAKEN)]
        except LastCoordinatorError:
            db.session.rollback()
            form.role.errors = [_(LAST)]
        else:
            return save(
                url_for("people.index", _anchor=f"account-{account_id}"), _("%(name)s saved", name=form.name.data)
            )
    return render_template(
        "people/edit.html",
        form=form,
        account=get_account(db.session, account_id),
        devices=list_sign_ins(db.session, account_id),
    )


@bp.post("/<int:account_id>/sign-out")
@open_to(Who.COORDINATORS)
def sign_out(account_id: int) -> ResponseReturnValue:
    """Sign somebody out on every device."""
    name = get_account(db.session, account_id).name
    devices = count_words(end_sign_ins(db.session, account_id), "device", "devices")
    return save(
        url_for("people.edit", account_id=account_id),
        _("%(name)s is signed out on %(devices)s", name=name, devices=devices),
    )


@bp.route("/<int:account_id>/no-pin", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def clear_pin(account_id: int) -> ResponseReturnValue:
    """Ask before the PIN of somebody who forgot it is removed, and remove it; they choose another by themselves."""
    name = get_account(db.session, account_id).name
    if request.method != "POST":
        what = _(
            "%(name)s logs no more at the bench tablet, until they set another one. Nobody can tell them the old one.",
            name=name,
        )
        back = url_for("people.edit", account_id=account_id)
        return ask_first(_("Remove the PIN of %(name)s?", name=name), what, _("Remove the PIN"), back)
    accounts.clear_pin(db.session, account_id)
    done = _("%(name)s has no PIN any more, and can choose a new one under My account", name=name)
    return save(url_for("people.edit", account_id=account_id), done)


@bp.route("/slips", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def slips() -> ResponseReturnValue:
    """Make one-time links for the chosen people, shown once or as a PDF; a link is never kept, only its digest."""
    rows = [row for row in list_accounts(db.session) if not row.is_demo]
    chosen = read_chosen(rows)
    address = current_public_address()
    wrong = ""
    if request.method == "POST":
        if not chosen:
            wrong = _("Choose who gets a slip.")
        elif address is None:
            wrong = _("There is no address yet that a slip could hold.")
        else:
            return hand_out(chosen, address, as_pdf=request.form.get("as") == "pdf")
    elif "who" not in request.args:
        chosen = [row.id for row in rows if row.is_waiting]
    return render_template(
        "people/slips.html", rows=rows, chosen=chosen, address=address, wrong=wrong
    ), 400 if wrong else 200


@bp.route("/<int:account_id>/erase", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def erase_person(account_id: int) -> ResponseReturnValue:
    """Say what goes and what stays, and erase somebody."""
    leaving = find_leaving(db.session, account_id)
    state = (*row_values(leaving.account), leaving.sowings)
    form = EraseForm(data={"with_grower": WithGrower.KEEP})
    changed = revise(state)
    if leaving.grower is None:
        del form.with_grower
    wrong = ""
    if form.validate_on_submit() and not changed:
        chosen = WithGrower.KEEP if leaving.grower is None else form.with_grower.data
        is_self = account_id == me().account_id
        try:
            name = erase(db.session, account_id, chosen)
        except LastCoordinatorError:
            wrong = _(LAST)
        except InUseError:
            form.with_grower.errors = [_("There are sowings of this grower. Remove those first, or keep the grower.")]
        else:
            return save(url_for("sign_in.index" if is_self else "people.index"), _("%(name)s is erased", name=name))
        db.session.rollback()
        leaving = find_leaving(db.session, account_id)
    return render_template("people/erase.html", form=form, leaving=leaving, changed=changed, wrong=wrong), (
        409 if wrong else 200
    )


@bp.route("/visitors", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def visitors() -> ResponseReturnValue:
    """Open the shelf ledger and the weekly sheet to visitors, or close them."""
    form = VisitorsForm(obj=find_house(db.session))
    if form.validate_on_submit():
        get_house(db.session).open_to_visitors = bool(form.open_to_visitors.data)
        opened = _("Visitors may look at the shelf ledger and the weekly sheet")
        return save(
            url_for("people.index"), opened if form.open_to_visitors.data else _("Only who signs in sees anything")
        )
    return render_template("people/visitors.html", form=form)


@bp.post("/tablets/end")
@open_to(Who.COORDINATORS)
def end_bench() -> ResponseReturnValue:
    """Make a bench tablet a plain device again, from elsewhere."""
    end_tablet(db.session, request.form.get("tablet", ""))
    return save(url_for("people.index"), _("It is not a bench tablet any more"))


def read_chosen(rows: Iterable[AccountRow]) -> list[int]:
    """Return the ids of the people in the form or the address; at most so many as one PDF takes."""
    wanted = set(request.values.getlist("who"))
    return [row.id for row in rows if str(row.id) in wanted][:MOST_SLIPS]


def hand_out(chosen: list[int], address: str, *, as_pdf: bool) -> ResponseReturnValue:
    """Make slips, and answer with what is to be printed or shown; nothing on the way keeps it."""
    if not is_coordinator():
        abort(403)
    made = [accounts.make_slip(db.session, account_id) for account_id in chosen]
    garden = current_garden()
    sheet = SlipSheet(
        garden=garden.name if garden else "Traymates",
        only_here=is_on_own_network(address),
        slips=tuple(on_paper(slip, address) for slip in made),
    )
    if as_pdf:
        speak_to_all()
        try:
            pdf = make_pdf(Template.SLIPS, sheet, usual_paper(current_units()))
        except PdfError:
            db.session.rollback()
            current_app.logger.exception("No PDF of slips")
            return render_template("sheets/no_pdf.html", page=url_for("people.slips", who=chosen)), 500
        db.session.commit()
        response = make_response(pdf)
        response.mimetype = "application/pdf"
        response.headers["Content-Disposition"] = 'attachment; filename="slips.pdf"'
    else:
        db.session.commit()
        response = make_response(render_template("people/links.html", sheet=sheet))
    response.headers["Cache-Control"] = "no-store"
    return response


def on_paper(slip: NewSlip, address: str) -> SlipOnPaper:
    """Return a slip with its link under the address for phones."""
    path = url_for("sign_in.slip", token=slip.token)[len(request.script_root) :]
    return make_slip_on_paper(slip.name or "", slip.kind, f"{address}{path}", slip.expires_at)


def is_on_own_network(address: str) -> bool:
    """Return whether an address is known on the garden's own network alone."""
    host = urlsplit(address).hostname or ""
    try:
        return is_private(ip_address(host))
    except ValueError:
        return "." not in host or host.endswith(tuple(f".{suffix}" for suffix in LOCAL_SUFFIXES))
