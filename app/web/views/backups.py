"""Backups: the last good one, what is kept, a fresh one to download, and how one is restored."""

import time
from contextlib import ExitStack

from flask import Blueprint, Response, flash, redirect, render_template, url_for
from flask import send_file as send_whole_file
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import _
from app.services import backups as service
from app.services.backups import BackupError, DatabaseError, get_overview, words_of
from app.sheets.backup_words import age_words, checked_counts_words, checked_words, late_words, moment_words, size_words
from app.storage.queries.house import find_house
from app.web.access import Who, open_to
from app.web.backup_notice import current_backup_folder
from app.web.context import current_settings
from app.web.forms.backups import BackupForm
from app.web.once import save

bp = Blueprint("backups", __name__, url_prefix="/setup/backups")

SQLITE_FILE = "application/vnd.sqlite3"


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """Show the last good backup, what is kept, and how one is restored."""
    now = time.time()
    folder = current_backup_folder()
    page = get_overview(db.session, folder, now)
    state, last = page.state, page.last
    is_of_last = last is not None and state.name == last.path.name and state.revision is not None
    checked = checked_counts_words(state.rows or 0, state.tables or 0, state.revision or "") if is_of_last else None

    def rows(backups: list[service.KeptBackup]) -> list[tuple[str, str, str, str]]:
        return [
            (
                moment_words(kept.at),
                age_words(now - kept.at) if kept.at <= now else _("of the future: a clock was wrong"),
                size_words(kept.size_bytes),
                kept.path.name,
            )
            for kept in backups
        ]

    return render_template(
        "backups/index.html",
        page=page,
        folder=folder,
        late=late_words(None if last is None else now - last.at) if page.is_late else "",
        last=rows([last])[0] if last else None,
        checked=checked,
        kept=rows(page.kept),
        before=rows(page.before),
        seasons=rows(page.seasons),
        second=rows(page.second[:1]) if page.second is not None else None,
        tried=moment_words(state.tried_at) if state.tried_at else None,
        second_at=moment_words(state.second_at) if state.second_at else None,
    )


@bp.route("/settings", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def settings() -> ResponseReturnValue:
    """Change how many backups are kept, and where a second copy goes."""
    form = BackupForm(obj=find_house(db.session))
    if form.validate_on_submit() and form.check_folder(current_backup_folder()):
        service.change_settings(db.session, form.values())
        return save(url_for("backups.index"), _("How backups are kept is saved"))
    return render_template("backups/settings.html", form=form)


@bp.post("/now")
@open_to(Who.COORDINATORS)
def make() -> ResponseReturnValue:
    """Make a backup out of turn."""
    url = current_settings().database_url
    look = service.look_after_backups(url, current_backup_folder(), time.time(), at_once=True)
    if look is None:
        flash(_("A backup is being made right now"))
    elif look.made is not None and look.facts is not None:
        flash(_("Backup made. Checked: %(checked)s", checked=checked_words(look.facts)))
    elif look.fault is None:
        flash(_("There is nothing to back up yet"))
    return redirect(url_for("backups.index"))  # which says what went wrong, if anything


@bp.get("/download")
@open_to(Who.COORDINATORS)
def download() -> ResponseReturnValue:
    """Hand out a fresh backup; nothing is left of it here."""
    with ExitStack() as stack:
        try:
            path = stack.enter_context(service.fresh_backup(current_settings().database_url, current_backup_folder()))
        except (OSError, BackupError, DatabaseError) as error:
            return render_template("backups/no_copy.html", reason=words_of(error)), 500
        response: Response = send_whole_file(path, SQLITE_FILE, as_attachment=True, download_name=path.name)
        response.direct_passthrough = False  # the server would close the file, but not the response
        response.call_on_close(stack.pop_all().close)
    response.headers["Cache-Control"] = "no-store"
    return response
