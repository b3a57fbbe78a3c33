"""The choice of a language, for whoever is signed in and whoever is not yet."""

from flask import Blueprint, abort, redirect, render_template, request, session, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import LANGUAGES
from app.services.accounts import set_language
from app.web.access import Who, current_person, open_to
from app.web.addresses import safe_next
from app.web.languages import CHOSEN

bp = Blueprint("language", __name__)


@bp.route("/language", methods=["GET", "POST"])
@open_to(Who.EVERYONE)
def index() -> ResponseReturnValue:
    """Ask which language to speak, and speak it; a link leads here, so that pages hold no token and can be kept."""
    back = safe_next(request.values.get("back")) or url_for("week.index")
    if request.method != "POST":
        return render_template("language.html", back=back)
    code = request.form.get("language")
    if code not in LANGUAGES:
        abort(400)
    session[CHOSEN] = code
    person = current_person()
    if person is not None and not person.is_bench:
        set_language(db.session, person.account_id, code)
        db.session.commit()
    return redirect(back)
