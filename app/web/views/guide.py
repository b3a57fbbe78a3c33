"""Help: the guides, as pages."""

from flask import Blueprint, abort, render_template, send_from_directory
from flask.typing import ResponseReturnValue

from app.language import _, language
from app.web.access import Who, open_to
from app.web.guides import FOR_ALL, FOR_COORDINATORS, PICTURES, Guide, NoGuideError, list_pictures, read_guide

bp = Blueprint("guide", __name__, url_prefix="/help")

PICTURE_S = 24 * 60 * 60  # how long a browser may show a picture without asking again


@bp.get("")
@open_to(Who.EVERYONE)
def index() -> ResponseReturnValue:
    """List the guides."""
    groups = ((_("For everybody"), _there(FOR_ALL)), (_("For coordinators"), _there(FOR_COORDINATORS)))
    return render_template("help/index.html", groups=groups)


@bp.get("/<page>")
@open_to(Who.EVERYONE)
def show(page: str) -> ResponseReturnValue:
    """Show a guide."""
    try:
        return render_template("help/show.html", guide=read_guide(page, language()))
    except NoGuideError:
        return render_template("help/missing.html"), 404


@bp.get("/pictures/<name>")
@open_to(Who.EVERYONE)
def picture(name: str) -> ResponseReturnValue:
    """Hand out a picture of a guide; nothing else that lies in the folder."""
    if name not in list_pictures():
        abort(404)
    return send_from_directory(PICTURES, name, max_age=PICTURE_S)


def _there(guides: tuple[tuple[str, str], ...]) -> list[tuple[Guide, str]]:
    """Return the guides whose files are there, with what they are for."""
    found = []
    for name, what in guides:
        try:
            found.append((read_guide(name, language()), _(what)))
        except NoGuideError:
            continue
    return found
