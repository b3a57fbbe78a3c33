"""What becomes of an answer: choosing what to accept of it, accepting, throwing away, taking back."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from flask import abort, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.fitting.answer import Answer
from app.core.fitting.explain import explain
from app.extensions import db
from app.language import N_, _, ngettext, pgettext
from app.services import levelling
from app.services.levelling import CannotTakeBackError, NoAnswerError, NothingChosenError, StaleLevellingError
from app.services.levelling_explained import explain_answer
from app.sheets.levelling_changes import ChangeGroup, groups_of_changes, some_of_groups
from app.sheets.levelling_page import AnswerPage, make_answer_page
from app.sheets.words import number_words
from app.storage.engine import reading
from app.storage.queries.rows import LARGEST_ID
from app.web.access import Who, open_to
from app.web.confirm import ask_first
from app.web.context import current_day
from app.web.forms.fields import ID
from app.web.once import save
from app.web.paging import Paging, read_paging
from app.web.views import levelling as pages

bp = pages.bp  # an answer belongs to its levelling

STALE = N_("Something has changed since this plan was found, so nothing was accepted.")
GONE = N_("Somebody has decided about this plan meanwhile, so nothing was changed.")
NOTHING = N_("No change was ticked, so nothing was accepted.")


@dataclass(frozen=True, kw_only=True)
class ChoicePage:
    """Changes to choose from.

    Attributes:
        id: The levelling.
        groups: The changes on this page.
        ticks: Ids of the sowings that are ticked.
        elsewhere: Those of them that are on other pages, as they are sent on.
        paging: Which page of the changes this is.
    """

    id: int
    groups: tuple[ChangeGroup, ...]
    ticks: frozenset[int]
    elsewhere: str
    paging: Paging


@dataclass(frozen=True, kw_only=True)
class SomePage:
    """What some of the changes come to: the levelling, the answer with only these, and what is sent for them."""

    id: int
    answer: AnswerPage
    sent: str


@bp.route("/<int:run_id>/choose", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def choose(run_id: int) -> ResponseReturnValue:
    """Offer every change with a box, a page of them at a time; all are ticked, or none, or those that were sent."""
    with reading():
        answer = find_open(run_id)
        if answer is None:
            return lead_back(run_id, _(STALE))
        changes = explain_answer(answer).changes
        if request.method == "POST":
            ticks = frozenset(read_ticks())
        elif request.args.get("tick") == "none":
            ticks = frozenset()
        else:
            ticks = frozenset(answer.garden.sowings.ids[[change.sowing for change in changes]].tolist())
        paging = read_paging(len(changes))
        groups = some_of_groups(groups_of_changes(answer.before, changes), paging.first - 1, paging.last)
        here = {sowing.id for group in groups for sowing in group.sowings}
        elsewhere = ",".join(map(str, sorted(ticks - here)))
        page = ChoicePage(id=run_id, groups=groups, ticks=ticks, elsewhere=elsewhere, paging=paging)
        return render_template("levelling/choose.html", page=page, **pages.links())


@bp.post("/<int:run_id>/some")
@open_to(Who.COORDINATORS)
def some(run_id: int) -> ResponseReturnValue:
    """Show what the ticked changes come to; nothing is saved."""
    with reading():
        answer = find_open(run_id)
        if answer is None:
            return lead_back(run_id, _(STALE))
        wanted = read_ticks()
        part = part_of(answer, wanted)
        explained = explain(part)
        if not explained.changes:
            return lead_back(run_id, _(NOTHING))
        sent = ",".join(str(answer.garden.sowings.ids[change.sowing]) for change in explained.changes)
        page = SomePage(id=run_id, answer=make_answer_page(part, explained), sent=sent)
        return render_template("levelling/some.html", page=page, **pages.links())


@bp.post("/<int:run_id>/accept")
@open_to(Who.COORDINATORS)
def accept(run_id: int) -> ResponseReturnValue:
    """Accept all changes, or those that were sent."""
    try:
        count = levelling.accept_levelling(db.session, run_id, read_sowings(), today=current_day())
    except StaleLevellingError:
        return lead_back(run_id, _(STALE))
    except NothingChosenError:
        return lead_back(run_id, _(NOTHING))
    except NoAnswerError:
        return lead_back(run_id, _(GONE))
    said = ngettext("%(num)s change accepted", "%(num)s changes accepted", count, num=number_words(count))
    return save(url_for("levelling.show", run_id=run_id), said)


@bp.route("/<int:run_id>/throw-away", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def throw_away(run_id: int) -> ResponseReturnValue:
    """Ask before an answer is forgotten, and forget it."""
    if request.method != "POST":
        if not levelling.get_levelling(db.session, run_id, today=current_day()).is_open:
            return lead_back(run_id, _(GONE))
        what = _("What was found goes, and would have to be looked for again. Sowings and trays stay as they are.")
        back = url_for("levelling.show", run_id=run_id)
        return ask_first(_("Throw this plan away?"), what, pgettext("plan", "Throw it away"), back)
    try:
        levelling.throw_levelling_away(db.session, run_id, today=current_day())
    except NoAnswerError:
        return lead_back(run_id, _(GONE))
    return save(url_for("levelling.index"), _("The plan was thrown away; nothing else has changed"))


@bp.post("/<int:run_id>/take-back")
@open_to(Who.COORDINATORS)
def take_back(run_id: int) -> ResponseReturnValue:
    """Put back what an accepted answer changed."""
    try:
        count = levelling.take_back_levelling(db.session, run_id, today=current_day())
    except CannotTakeBackError:
        return lead_back(run_id, _("This plan cannot be taken back any more; nothing was changed."))
    said = ngettext("%(num)s change taken back", "%(num)s changes taken back", count, num=number_words(count))
    return save(url_for("levelling.show", run_id=run_id), said)


def find_open(run_id: int) -> Answer | None:
    """Return an answer whose changes can be accepted; None where they cannot."""
    row = levelling.get_levelling(db.session, run_id, today=current_day())
    return levelling.find_answer(db.session, row) if row.can_be_accepted else None


def lead_back(run_id: int, why: str) -> ResponseReturnValue:
    """Undo what this request has done, say why, and lead to the page that shows how it is now."""
    db.session.rollback()
    flash(why)
    return redirect(url_for("levelling.show", run_id=run_id))


def part_of(answer: Answer, ids: Iterable[int]) -> Answer:
    """Return an answer that makes only the choices for some sowings."""
    sowings = answer.garden.sowings
    is_taken = np.isin(sowings.ids, list(ids))
    choices = {
        name: np.where(is_taken, getattr(answer.choices, name), getattr(sowings, name))
        for name in ("sow_on", "light", "placed")
    }
    return replace(answer, choices=replace(answer.choices, **choices))


def read_sowings() -> list[int] | None:
    """Return the ids of sowings that were sent in one text; None where there is none."""
    text = request.form.get("sowings")
    return None if text is None else read_ids(filter(None, text.split(",")))


def read_ticks() -> list[int]:
    """Return the ids of sowings that are ticked, on the page that was sent and on others."""
    return [*read_ids(request.form.getlist("take")), *(read_sowings() or ())]


def read_ids(texts: Iterable[str]) -> list[int]:
    """Return ids of rows, or answer that the request is wrong."""
    texts = list(texts)
    ids = [int(text) for text in texts if ID.fullmatch(text)]
    if len(ids) < len(texts) or max(ids, default=0) > LARGEST_ID:
        abort(400)
    return ids
