"""The bench tablet: a shared device on which each person logs by a short PIN."""

from itertools import groupby

from flask import Blueprint, flash, redirect, render_template, request, session, url_for
from flask.typing import ResponseReturnValue

from app.core.limits import TRAY_NUMBER
from app.core.words import Role
from app.extensions import db
from app.language import N_, _
from app.services import accounts
from app.services.accounts import NoPinError, TooManyTriesError, WrongError
from app.services.passphrases import BusyError
from app.storage.queries.people import end_sign_in, get_account, list_with_pin
from app.storage.queries.trays import find_tray, list_trays_to_log
from app.web.access import TOKEN, Who, current_person, is_bench, me, open_to, tablet_token
from app.web.context import current_day
from app.web.forms.people import EndTabletForm, PinForm
from app.web.languages import clear_session
from app.web.paging import read_number
from app.web.request_log import Noted, note
from app.web.rounds_notice import rounds_notice
from app.web.views.sign_in import BUSY, device_words

bp = Blueprint("bench", __name__, url_prefix="/bench")

LOCKED = N_("There were too many wrong tries. Wait a quarter of an hour, or let a coordinator log for you.")
DAYS_AROUND = 7  # trays that are filled so long before and after today stand on a person's list


@bp.get("")
@open_to(Who.TABLET)
def index() -> ResponseReturnValue:
    """Show the start page: who is it, or what they can log."""
    if not is_bench():
        return render_template("bench/other.html")
    person = current_person()
    if person is None:
        people = [
            (letter, list(group))
            for letter, group in groupby(list_with_pin(db.session), key=lambda one: one.name[:1].upper())
        ]
        return render_template("bench/start.html", people=people)
    number = read_number("tray")
    if number in TRAY_NUMBER and find_tray(db.session, number or 0) is not None:
        return redirect(url_for("trays.show", number=number))
    if request.args.get("tray"):
        flash(_("There is no tray %(number)s", number=number) if number else _("Type the number on the tray’s label"))
    everybody = person.role is Role.COORDINATOR
    trays = list_trays_to_log(
        db.session, None if everybody else person.grower_id or 0, current_day(), days_around=DAYS_AROUND
    )
    return render_template(
        "bench/person.html",
        me=person,
        everybody=everybody,
        trays=trays,
        today=current_day(),
        rounds=rounds_notice(),
    )


@bp.route("/<int:account_id>", methods=["GET", "POST"])
@open_to(Who.TABLET)
def person(account_id: int) -> ResponseReturnValue:
    """Say by a PIN who one is."""
    if not is_bench():
        return redirect(url_for("bench.index"))
    name = get_account(db.session, account_id).name
    form, status = PinForm(), 200
    if form.validate_on_submit():
        try:
            accounts.come_to_bench(
                db.session, tablet_token(), account_id, form.pin.data or "", request.remote_addr or ""
            )
        except WrongError:
            note(Noted.WRONG)
            form.pin.errors, status = [_("This is another PIN. Try again.")], 403
        except NoPinError:
            form.pin.errors, status = [_("Set a PIN first, under My account on your own device.")], 403
        except TooManyTriesError:
            note(Noted.TOO_MANY)
            form.pin.errors, status = [_(LOCKED)], 429
        except BusyError:
            form.pin.errors, status = [_(BUSY)], 503
        else:
            db.session.commit()
            note(Noted.BY_PIN)
            return redirect(url_for("bench.index"))
        db.session.rollback()
    return render_template("bench/pin.html", form=form, name=name), status


@bp.post("/done")
@open_to(Who.TABLET)
def done() -> ResponseReturnValue:
    """Let the tablet forget who is at it."""
    if is_bench():
        accounts.leave_bench(db.session, tablet_token())
        db.session.commit()
    return redirect(url_for("bench.index"))


@bp.post("/begin")
@open_to(Who.COORDINATORS)
def begin() -> ResponseReturnValue:
    """Make this device the bench tablet; who does so is signed out on it."""
    end_sign_in(db.session, me().token)
    token = accounts.add_bench(db.session, device_words())
    db.session.commit()
    clear_session()
    session[TOKEN] = token
    session.permanent = True
    return redirect(url_for("bench.index"))


@bp.route("/end", methods=["GET", "POST"])
@open_to(Who.TABLET)
def end() -> ResponseReturnValue:
    """Make the bench tablet a plain device again, which takes a coordinator's passphrase."""
    if not is_bench():
        return redirect(url_for("bench.index"))
    token = tablet_token()
    form, status = EndTabletForm(), 200
    if form.validate_on_submit():
        try:
            account = accounts.sign_in(
                db.session, form.name.data or "", form.passphrase.data or "", request.remote_addr or ""
            )
        except WrongError:
            note(Noted.WRONG)
            form.passphrase.errors, status = [_("Name or passphrase are not right.")], 403
        except TooManyTriesError:
            note(Noted.TOO_MANY)
            form.passphrase.errors, status = [_(LOCKED)], 429
        except BusyError:
            form.passphrase.errors, status = [_(BUSY)], 503
        else:
            if account.role is Role.COORDINATOR:
                end_sign_in(db.session, token)
                db.session.commit()
                clear_session()
                flash(_("This is a plain device again"))
                return redirect(url_for("sign_in.index"))
            form.name.errors, status = [_("Only a coordinator can do this.")], 403
        db.session.rollback()
    return render_template("bench/end.html", form=form), status
