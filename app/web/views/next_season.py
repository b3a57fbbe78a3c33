"""The next season: what is carried over and what leaves, asked first and done in one go."""

import io
import time
import zipfile
from pathlib import Path

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import N_, _
from app.services.folder import FolderError, dump_folder
from app.services.garden import get_garden
from app.services.season_end import (
    Ending,
    LevellingRunsError,
    NoBackupError,
    OtherSeasonError,
    carry_season,
    find_ending,
    passing_folder,
)
from app.sheets.stored_words import say_again
from app.storage.engine import reading
from app.web.access import Who, open_to
from app.web.backup_notice import current_backup_folder
from app.web.once import revise, save
from app.web.views.sheets import read_paper, send_file

bp = Blueprint("next_season", __name__, url_prefix="/next-season")

LEVELLING = N_("A plan that fits is being looked for. Wait for it, or stop it under Make it fit.")


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """Say what goes into the next season and what leaves."""
    return show()


@bp.post("")
@open_to(Who.COORDINATORS)
def carry() -> ResponseReturnValue:
    """Begin the next season."""
    ending = find_ending(db.session, time.time())
    if revise(*state_of(ending)):
        return show()
    try:
        carried = carry_season(db.session, current_backup_folder(), time.time(), season=ending.season)
    except OtherSeasonError:
        db.session.rollback()
        flash(_("Another season has begun already. Nothing was changed now"))
        return redirect(url_for("next_season.index"))
    except LevellingRunsError:
        return refuse(_(LEVELLING))
    except NoBackupError as error:
        return refuse(_("The backup could not be made: %(reason)s.", reason=error))
    return save(
        url_for("setup.index"),
        _(
            "The season %(season)s has begun. That of %(before)s is kept in %(backup)s. "
            "Look through the dates and settings of the garden.",
            season=carried.season,
            before=ending.season,
            backup=carried.backup.name,
        ),
    )


@bp.get("/folder.zip")
@open_to(Who.COORDINATORS)
def folder() -> ResponseReturnValue:
    """Hand out the garden as it is now as a folder of tables, packed."""
    season = get_garden(db.session).season
    try:
        with passing_folder(current_backup_folder()) as room:
            dump_folder(db.session, room / "garden")
            packed = zipped(room / "garden", f"garden-{season}")
    except (FolderError, OSError) as error:
        return render_template("next_season/no_folder.html", reason=say_again(str(error).rstrip("."))), 500
    response = send_file(packed, "application/zip", f"garden-{season}.zip")
    response.headers["Cache-Control"] = "no-store"
    return response


def zipped(folder: Path, name: str) -> bytes:
    """Return the files of a folder packed, each under a folder of a name."""
    with io.BytesIO() as packed:
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted(folder.rglob("*")):
                if path.is_file():
                    archive.write(path, f"{name}/{path.relative_to(folder).as_posix()}")
        return packed.getvalue()


def show(wrong: str = "") -> str:
    """Return the page, with what was wrong if anything was."""
    ending = find_ending(db.session, time.time())
    changed = revise(*state_of(ending)) and not wrong
    return render_template("next_season/index.html", ending=ending, changed=changed, wrong=wrong, paper=read_paper())


def refuse(wrong: str) -> ResponseReturnValue:
    """Answer that nothing was changed, and why."""
    db.session.rollback()
    with reading():
        return show(wrong), 409


def state_of(ending: Ending) -> tuple[object, ...]:
    """Return what the page has told, so that nobody ends a season that has gone on meanwhile."""
    return ending.season, sorted(ending.counts.items()), ending.tests, ending.here
