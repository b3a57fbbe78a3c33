"""One's own account: name, passphrase, PIN, devices, and what is kept of one."""

import json

from flask import Blueprint, abort, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import _
from app.services import accounts
from app.services.accounts import NameTakenError, TooManyTriesError, WrongError
from app.services.leaving import own_data
from app.services.passphrases import BusyError, WeakPassphraseError
from app.sheets.history_words import history_csv
from app.storage.queries.history import list_history_to_hand_out
from app.storage.queries.house import find_house
from app.storage.queries.people import end_sign_in, end_sign_ins, get_account, list_sign_ins
from app.web.access import Who, me, open_to
from app.web.confirm import ask_first
from app.web.context import current_garden
from app.web.forms.mail import OwnAddressForm
from app.web.forms.people import NameForm, NewPassphraseForm, NewPinForm
from app.web.once import save
from app.web.readers import in_english
from app.web.request_log import Noted, note
from app.web.views.sheets import send_file
from app.web.views.sign_in import BUSY, WAIT, to_sign_in

bp = Blueprint("account", __name__, url_prefix="/account")


@bp.get("")
@open_to(Who.MEMBERS)
def index() -> ResponseReturnValue:
    """Show one's own account."""
    person, house = me(), find_house(db.session)
    return render_template(
        "people/account.html",
        me=person,
        account=get_account(db.session, person.account_id),
        devices=list_sign_ins(db.session, person.account_id),
        keeping=house.keep_months,
        sends_letters=house.mail_host is not None,
    )


@bp.route("/name", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def name() -> ResponseReturnValue:
    """Change one's own name."""
    account = get_account(db.session, me().account_id)
    form = NameForm(obj=account)
    if form.validate_on_submit():
        try:
            accounts.rename(db.session, account.id, form.name.data)
        except NameTakenError:
            form.name.errors = [_("Somebody has this name already. Take another.")]
        else:
            return save(url_for("account.index"), _("You sign in as %(name)s from now on", name=form.name.data))
    return render_template("people/own_name.html", form=form)


@bp.route("/letter", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def email() -> ResponseReturnValue:
    """Say where one's own weekly letter goes, or that none is wanted."""
    account = get_account(db.session, me().account_id)
    form = OwnAddressForm(obj=account)
    if form.validate_on_submit():
        account.email = form.email.data
        return save(
            url_for("account.index"), _("Weekly letter: saved") if account.email else _("You get no weekly letter")
        )
    return render_template("people/own_email.html", form=form)


@bp.route("/passphrase", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def passphrase() -> ResponseReturnValue:
    """Choose another passphrase, knowing the present one."""
    form, status = NewPassphraseForm(), 200
    person, garden = me(), current_garden()
    if form.validate_on_submit():
        try:
            accounts.change_passphrase(
                db.session,
                person.account_id,
                form.old_passphrase.data or "",
                form.passphrase.data or "",
                garden=garden.name if garden else None,
                token=person.token,
            )
        except WeakPassphraseError as error:
            form.passphrase.errors = [str(error)]
        except WrongError:
            note(Noted.WRONG)
            form.old_passphrase.errors, status = [_("This is not your present passphrase.")], 403
        except TooManyTriesError:
            note(Noted.TOO_MANY)
            form.old_passphrase.errors, status = [_(WAIT)], 429
        except BusyError:
            form.passphrase.errors, status = [_(BUSY)], 503
        else:
            return save(url_for("account.index"), _("Passphrase changed; you are signed out on every other device"))
        db.session.rollback()
    return render_template("people/own_passphrase.html", form=form), status


@bp.route("/pin", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def pin() -> ResponseReturnValue:
    """Choose a PIN for the bench tablet, knowing one's passphrase."""
    form, status = NewPinForm(), 200
    if form.validate_on_submit():
        try:
            accounts.change_pin(db.session, me().account_id, form.old_passphrase.data or "", form.pin.data or "")
        except WeakPassphraseError as error:
            form.pin.errors = [str(error)]
        except WrongError:
            note(Noted.WRONG)
            form.old_passphrase.errors, status = [_("This is not your passphrase.")], 403
        except TooManyTriesError:
            note(Noted.TOO_MANY)
            form.old_passphrase.errors, status = [_(WAIT)], 429
        except BusyError:
            form.pin.errors, status = [_(BUSY)], 503
        else:
            return save(url_for("account.index"), _("PIN saved; it holds at the bench tablet alone"))
        db.session.rollback()
    return render_template("people/own_pin.html", form=form), status


@bp.route("/no-pin", methods=["GET", "POST"])
@open_to(Who.MEMBERS)
def clear_pin() -> ResponseReturnValue:
    """Ask before one's own PIN is removed, and remove it."""
    if request.method != "POST":
        what = _("You log no more at the bench tablet by yourself, until you set another PIN. Everything logged stays.")
        return ask_first(_("Remove your PIN?"), what, _("Remove the PIN"), url_for("account.index"))
    accounts.clear_pin(db.session, me().account_id)
    return save(url_for("account.index"), _("You have no PIN any more"))


@bp.post("/devices/end")
@open_to(Who.MEMBERS)
def end_device() -> ResponseReturnValue:
    """Sign one's own account out on one device."""
    token = request.form.get("device", "")
    if token not in {device.token for device in list_sign_ins(db.session, me().account_id)}:
        abort(404)
    end_sign_in(db.session, token)
    return save(url_for("account.index"), _("That device is signed out"))


@bp.post("/sign-out-everywhere")
@open_to(Who.MEMBERS)
def sign_out_everywhere() -> ResponseReturnValue:
    """Sign out on every device, this one too."""
    end_sign_ins(db.session, me().account_id)
    db.session.commit()
    return to_sign_in(_("You are signed out on every device"))


@bp.get("/export.json")
@open_to(Who.MEMBERS)
def export() -> ResponseReturnValue:
    """Hand out everything that is kept of oneself."""
    data = own_data(db.session, me().account_id)
    text = json.dumps(data, ensure_ascii=False, indent=2, default=str)
    return send_file(f"{text}\n", "application/json", "my-data.json")


@bp.get("/export.csv")
@open_to(Who.MEMBERS)
@in_english
def export_changes() -> ResponseReturnValue:
    """Hand out one's own entries in the history as a table."""
    person = me()
    rows = list_history_to_hand_out(db.session, person.account_id, person.grower_id)
    return send_file(history_csv(rows, person.account_id), "text/csv", "my-changes.csv")
