"""One's own account: its devices, passphrase and PIN."""

from flask import Blueprint, abort, flash, redirect, render_template, session, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.storage.queries.people import end_sign_ins, get_account, list_sign_ins
from app.web.access import Person, Who, current_person, open_to

bp = Blueprint("account", __name__, url_prefix="/account")


@bp.get("")
@open_to(Who.MEMBERS)
def index() -> ResponseReturnValue:
    """Show one's own account."""
    person = _me()
    return render_template(
        "people/account.html",
        me=person,
        account=get_account(db.session, person.account_id),
        devices=list_sign_ins(db.session, person.account_id),
    )


@bp.post("/sign-out-everywhere")
@open_to(Who.MEMBERS)
def sign_out_everywhere() -> ResponseReturnValue:
    """Sign out on every device, this one too."""
    end_sign_ins(db.session, _me().account_id)
    db.session.commit()
    session.clear()
    flash("You are signed out on every device")
    return redirect(url_for("sign_in.index"))


def _me() -> Person:
    person = current_person()
    if person is None:
        abort(403)
    return person
