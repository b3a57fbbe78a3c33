"""Signing in and out, and one-time links."""

from flask import Blueprint, abort, flash, redirect, render_template, request, session, url_for
from flask.typing import ResponseReturnValue

from app.core.words import SlipKind
from app.extensions import db
from app.language import N_, _
from app.services import accounts
from app.services.accounts import NameTakenError, SlipError, TooManyTriesError, WrongError
from app.services.garden import get_facts
from app.services.passphrases import BusyError, WeakPassphraseError
from app.storage.models import Account
from app.storage.queries.people import end_sign_in, find_demo_account, has_coordinator
from app.web.access import TOKEN, SignedOutError, Who, current_person, is_at_this_machine, may, open_to
from app.web.addresses import safe_next
from app.web.forms.people import SignInForm, SlipForm
from app.web.kept_form import Fields, kept_form_page, posted_fields
from app.web.languages import clear_session
from app.web.request_log import Noted, note

bp = Blueprint("sign_in", __name__)

KEPT, KEPT_PATH = "kept:", "kept_path"  # a form that waits on the page where its person signs in
BUSY = N_("Many people are signing in at this moment. Wait a few seconds, and try again.")
WAIT = N_("There were too many wrong tries. Wait a quarter of an hour, then try again.")
# What a browser says of itself, as its list of devices names it; the first that is found counts.
DEVICE = N_("Device")
DEVICES = (
    ("iPad", "iPad"), ("iPhone", "iPhone"), ("Android", N_("Android device")), ("Windows", N_("Windows computer")),
    ("Macintosh", "Mac"), ("CrOS", "Chromebook"), ("Linux", N_("Linux computer")),
)  # fmt: skip


@bp.route("/sign-in", methods=["GET", "POST"])
@open_to(Who.EVERYONE)
def index() -> ResponseReturnValue:
    """Sign in by name and passphrase, and go on to where one came from."""
    following = safe_next(request.values.get("next"))
    if request.method == "GET" and current_person() is not None:
        return redirect(following or url_for("week.index"))
    form = SignInForm(data={"next": following or ""})
    status = 200
    if form.validate_on_submit():
        try:
            account = accounts.sign_in(
                db.session, form.name.data or "", form.passphrase.data or "", request.remote_addr or ""
            )
        except WrongError:
            db.session.rollback()
            note(Noted.WRONG)
            form.passphrase.errors = [_("Name or passphrase are not right. Capitals in the name do not matter.")]
            status = 403
        except TooManyTriesError:
            note(Noted.TOO_MANY)
            form.passphrase.errors = [_(WAIT)]
            status = 429
        except BusyError:
            form.passphrase.errors = [_(BUSY)]
            status = 503
        else:
            note(Noted.SIGNED_IN)
            return _come_in(account, own_device=form.own_device.data, following=following)
    return _page(form, _kept_fields(), status)


@bp.post("/sign-in/demo")
@open_to(Who.EVERYONE)
def demo() -> ResponseReturnValue:
    """Sign in to the demo garden, from the machine on which the program runs alone."""
    account = find_demo_account(db.session)
    if account is None or not is_at_this_machine():
        abort(403)
    note(Noted.SIGNED_IN)
    return _come_in(account, own_device=True, following=safe_next(request.form.get("next")))


@bp.route("/sign-out", methods=["GET", "POST"])
@open_to(Who.EVERYONE)
def sign_out() -> ResponseReturnValue:
    """Ask once, and sign this device out; a link leads here, so that pages hold no token and can be kept."""
    person = current_person()
    if request.method != "POST":
        return render_template("people/sign_out.html") if person else redirect(url_for("sign_in.index"))
    if person is not None:
        end_sign_in(db.session, person.token)
        db.session.commit()
        note(Noted.SIGNED_OUT)
    return to_sign_in(_("You are signed out on this device"))


def to_sign_in(words: str) -> ResponseReturnValue:
    """End the session of this browser, which forgets the pages it kept; what waits there to be sent stays."""
    clear_session()
    flash(words)
    return redirect(url_for("sign_in.index")), {"Clear-Site-Data": '"cache"'}


@bp.route("/slips/<token>", methods=["GET", "POST"])
@open_to(Who.EVERYONE)
def slip(token: str) -> ResponseReturnValue:
    """Choose a passphrase by a one-time link; opening it uses nothing up, so that a link preview does no harm."""
    try:
        found, account = accounts.open_slip(db.session, token)
    except SlipError:
        return render_template("people/slip_gone.html"), 410
    form = SlipForm(data={"own_device": True})
    if account is not None:
        del form.name
    is_reset = found.kind is SlipKind.RESET
    name = None if account is None else account.name
    status = 200
    if form.validate_on_submit():
        facts = get_facts(db.session)
        try:
            account = accounts.use_slip(
                db.session,
                token,
                name=form.name.data if name is None else name,
                passphrase=form.passphrase.data or "",
                garden=None if facts is None else facts.name,
            )
        except WeakPassphraseError as error:
            form.passphrase.errors = [str(error)]
        except NameTakenError:
            form.name.errors = [_("Somebody has this name already. Take another.")]
        except BusyError:
            form.passphrase.errors, status = [_(BUSY)], 503
        except SlipError:
            db.session.rollback()
            return render_template("people/slip_gone.html"), 410
        else:
            note(Noted.BY_SLIP)
            return _come_in(account, own_device=form.own_device.data, following=None)
    return render_template("people/slip.html", form=form, name=name, is_reset=is_reset), status


@bp.app_errorhandler(SignedOutError)
def show_with_form(_error: SignedOutError) -> ResponseReturnValue:
    """Show the page where people sign in to somebody whose sign-in ended while they filled a form; it is kept."""
    form = SignInForm(None, data={"next": ""})
    path = request.full_path.rstrip("?")
    return _page(form, [(KEPT_PATH, path), *((KEPT + name, value) for name, value in posted_fields())], 401)


def device_words() -> str:
    """Return what kind of device sends the request, as far as it says; in English, as it is kept."""
    agent = request.headers.get("User-Agent", "")
    return str(next((words for mark, words in DEVICES if mark in agent), DEVICE))


def _come_in(account: Account, *, own_device: bool, following: str | None) -> ResponseReturnValue:
    """Sign an account in on this device, and go on; a new session holds nothing of the one before."""
    token = accounts.add_sign_in(db.session, account, own_device=own_device, device=device_words())
    name = account.name
    db.session.commit()
    kept = _kept_fields()
    clear_session()
    session[TOKEN] = token
    session.permanent = own_device
    path = safe_next(dict(kept).get(KEPT_PATH))
    if path is not None and len(kept) > 1:
        fields = [(field.removeprefix(KEPT), value) for field, value in kept if field.startswith(KEPT)]
        reason = _("You are signed in as %(name)s. Your form was not saved yet.", name=name)
        return kept_form_page(_("Your form is still here"), reason, 200, fields=fields, path=path)
    flash(_("Signed in as %(name)s", name=name))
    return redirect(following or url_for("week.index"))


def _kept_fields() -> Fields:
    return [(name, value) for name, value in request.form.items(multi=True) if name.startswith((KEPT, KEPT_PATH))]


def _page(form: SignInForm, kept: Fields, status: int) -> ResponseReturnValue:
    has_demo = find_demo_account(db.session) is not None
    return render_template(
        "people/sign_in.html",
        form=form,
        kept=kept,
        demo=has_demo and is_at_this_machine(),
        has_demo=has_demo,
        somebody=has_coordinator(db.session),
        visitors=may(Who.VISITORS),
    ), status
