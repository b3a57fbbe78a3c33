"""What a member may wish for themselves: their own sowings, until the garden's day for wishes has passed."""

from datetime import date
from typing import Any

from flask import render_template
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import N_, _
from app.services.garden import find_closing_day
from app.services.sowings import values_of
from app.sheets.words import day_long
from app.web.access import is_coordinator, me
from app.web.context import current_day
from app.web.forms.sowings import MemberSowingForm, SowingForm

FORBIDDEN = 403
NO_GROWER = N_(
    "Your account is of no grower, so there is nobody whose sowings these would be. Ask a coordinator to say which "
    "grower you are."
)


def why_closed() -> str:
    """Return why whoever sends the request may not change sowings now, in words; empty where they may."""
    if is_coordinator():
        return ""
    if me().grower_id is None:
        return _(NO_GROWER)
    closed_on = closed_since()
    if closed_on is None:
        return ""
    return _(
        "Wishes closed on %(day)s. What was wished stands; a coordinator can still change it.", day=day_long(closed_on)
    )


def closed_since() -> date | None:
    """Return the last day on which members could change their sowings, once it has passed."""
    day = find_closing_day(db.session)
    return day if day is not None and day < current_day() else None


def refuse_closed() -> ResponseReturnValue | None:
    """Return the page that says why sowings may not be changed now; None where they may."""
    reason = why_closed()
    return (render_template("sowings/closed.html", reason=reason), FORBIDDEN) if reason else None


def make_form(sowing: Any = None, **kwargs: Any) -> SowingForm:  # noqa: ANN401 - a row, and as WTForms
    """Return the form by which whoever sends the request wishes for plants.

    Args:
        sowing: What it changes; None where it adds one.
        kwargs: What stands in a new one.
    """
    given = kwargs if sowing is None else {"obj": sowing}
    if is_coordinator():
        return SowingForm(**given)
    form = MemberSowingForm(**given)
    form.own_grower_id, form.before = me().grower_id or 0, None if sowing is None else values_of(sowing)
    return form
