"""The first steps: what is done and what is next, the demo garden to look at, and clearing it for one's own."""

import time

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import _
from app.services.first_steps import NotDemoError, NotKeptError, clear_demo, look_at_demo, put_steps_away
from app.services.folder import NotEmptyError
from app.sheets.stored_words import say_again
from app.storage.engine import reading
from app.storage.queries.first_steps import find_begun
from app.web.access import Who, open_to
from app.web.backup_notice import current_backup_folder
from app.web.context import current_day
from app.web.first_steps import find_steps
from app.web.kept import kept
from app.web.once import revise, save

bp = Blueprint("first_steps", __name__, url_prefix="/first-steps")


@bp.get("")
@open_to(Who.COORDINATORS)
@kept
def index() -> ResponseReturnValue:
    """Show what is done, what is next, and why."""
    return render_template("first_steps/index.html", page=find_steps())


@bp.post("/demo")
@open_to(Who.COORDINATORS)
def demo() -> ResponseReturnValue:
    """Load the demo garden, where there is no garden yet."""
    try:
        look_at_demo(db.session, today=current_day())
    except NotEmptyError:
        db.session.rollback()
        flash(_("There is a garden already, and it stays as it is"))
        return redirect(url_for("first_steps.index"))
    return save(url_for("ledger.index"), _("This is the demo garden: its people and its weather are made up"))


@bp.post("/away")
@open_to(Who.COORDINATORS)
def away() -> ResponseReturnValue:
    """Let the week be the first page again, or the first steps."""
    hidden = request.form.get("away") == "yes"
    put_steps_away(db.session, hidden=hidden)
    return save(
        url_for("week.index" if hidden else "first_steps.index"),
        _("The first steps are put away. They stay under Set-up") if hidden else _("The first steps are shown again"),
    )


@bp.route("/clear", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def clear() -> ResponseReturnValue:
    """Ask before the demo garden is cleared, keep it as a backup, and clear it."""
    begun = find_begun(db.session)
    if not begun.holds_demo or begun.name is None:
        flash(_("This is not the demo garden, so it is not cleared"))
        return redirect(url_for("first_steps.index"))
    changed = revise(begun.name, begun.season)
    if request.method != "POST" or changed:
        return render_template("first_steps/clear.html", begun=begun, changed=changed, wrong="")
    try:
        cleared = clear_demo(db.session, current_backup_folder(), time.time())
    except NotDemoError:
        db.session.rollback()
        return redirect(url_for("first_steps.index"))
    except NotKeptError as error:
        db.session.rollback()
        with reading():
            wrong = _("The backup could not be made: %(why)s.", why=say_again(str(error)))
            return render_template("first_steps/clear.html", begun=begun, changed=False, wrong=wrong), 409
    db.session.commit()
    flash(_("The demo garden is cleared. It is kept in %(file)s", file=cleared.backup.name))
    if cleared.token is not None:  # nobody else can sign in: whoever clears it becomes the first coordinator
        return redirect(url_for("sign_in.slip", token=cleared.token))
    return redirect(url_for("first_steps.index"))
