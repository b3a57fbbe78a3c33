"""Care rounds: who waters and airs on which day, handing rounds on, and what a round does."""

from dataclasses import dataclass
from datetime import date, timedelta

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.words import Weekday
from app.extensions import db
from app.language import N_, _, ngettext, nouns
from app.services import rounds
from app.services.plan import get_plan
from app.services.rounds import (
    NotOfferedError,
    RoundDayError,
    RoundDoneError,
    RoundOverError,
    SharedOut,
    StaleRoundsError,
    can_come,
    propose_rounds,
    share_out_rounds,
)
from app.sheets.pdf import Template
from app.sheets.round_sheet import RoundFacts, RoundSheet, make_round_sheet
from app.sheets.words import count_words, day_words, list_words, weekday_short
from app.storage.engine import reading
from app.storage.queries.growers import list_grower_choices
from app.storage.queries.rounds import (
    RoundRow,
    find_last_round,
    get_round_row,
    list_coming,
    list_rounds,
)
from app.storage.queries.trays import list_stays_between
from app.web.access import (
    Who,
    current_person,
    is_bench,
    is_coordinator,
    is_own,
    may_log,
    me,
    open_to,
    require_own,
)
from app.web.context import current_day
from app.web.forms.rounds import DoneForm, GiveForm, ShareForm
from app.web.once import digest_of, is_revision, save
from app.web.paging import Paging, read_paging
from app.web.readers import speak_to
from app.web.views.sheets import current_units, read_paper, send_pdf

bp = Blueprint("rounds", __name__, url_prefix="/rounds")

ROWS = 60  # of one page
CONFLICT = 409
MEANWHILE = N_("This round is not as it was when you opened the page; nothing was changed")
IS_DONE, IS_OVER = N_("This round is done already; nothing was changed"), N_("The day of this round is over")


@dataclass(frozen=True, kw_only=True)
class RoundsPage:
    """The rounds as their page shows them.

    Attributes:
        today: The day that is taken for today.
        now: Today's round; None where there is none.
        facts: The line of facts under the heading.
        missed: Rounds that nobody has done; for coordinators alone.
        offered: Rounds that wait for somebody to take them.
        rows: The rounds of this page.
        is_past: These are the past ones, the last first.
        paging: Where this page stands among them.
        revisions: What the forms of each round know of it, by its id.
        grower_id: Who looks, as a grower; None for nobody's.
    """

    today: date
    now: RoundRow | None
    facts: list[tuple[str, str]]
    missed: list[RoundRow]
    offered: list[RoundRow]
    rows: list[RoundRow]
    is_past: bool
    paging: Paging
    revisions: dict[int, str]
    grower_id: int | None


@bp.get("")
@open_to(Who.MEMBERS)
def index() -> ResponseReturnValue:
    """Show the rounds to come, or the past ones."""
    today, found = current_day(), list_rounds(db.session)
    is_past = request.args.get("which") == "past"
    ahead = [row for row in found if row.day >= today]
    missed = [row for row in found if row.day < today and row.done_on is None]
    wanted = [row for row in reversed(found) if row.day < today] if is_past else ahead
    paging = read_paging(len(wanted), ROWS)
    grower_id = me().grower_id
    page = RoundsPage(
        today=today,
        now=next((row for row in ahead if row.day == today), None),
        facts=facts_of(ahead, missed, today, grower_id),
        missed=missed if is_coordinator() else [],
        offered=[row for row in ahead if row.done_on is None and (row.is_offered or row.grower_id is None)],
        rows=wanted[max(paging.first - 1, 0) : paging.last],
        is_past=is_past,
        paging=paging,
        revisions={row.id: revision_of(row) for row in ahead},
        grower_id=grower_id,
    )
    return render_template("rounds/index.html", page=page)


@bp.get("/<int:round_id>")
@open_to(Who.BENCH)
def show(round_id: int) -> ResponseReturnValue:
    """Show a round: what to do at each shelf, and whose it is."""
    return show_round(get_round_row(db.session, round_id))


@bp.get("/<int:round_id>.pdf")
@open_to(Who.MEMBERS)
def pdf(round_id: int) -> ResponseReturnValue:
    """Hand out a round's sheet as PDF."""
    row = get_round_row(db.session, round_id)
    speak_to(row.grower_id)
    page = url_for("rounds.show", round_id=round_id)
    return send_pdf(Template.ROUND, sheet_of(row), f"care-round-{row.day.isoformat()}.pdf", page)


@bp.post("/<int:round_id>/done")
@open_to(Who.BENCH)
def done(round_id: int) -> ResponseReturnValue:
    """Write down that a round was done, or change what was written."""
    row = get_round_row(db.session, round_id)
    if not may_finish(row.grower_id):
        abort(403)
    form = done_form(row)
    if form.validate_on_submit():
        try:
            rounds.finish_round(
                db.session,
                round_id,
                done_on=form.done_on.data,
                done_by_id=form.done_by_id.data if is_coordinator() else me().grower_id,
                note=form.note.data,
                today=current_day(),
            )
        except RoundDayError:
            first = day_words(row.day - rounds.EARLY)
            words = _("Give a day from %(day)s to today: it was done then, not later.", day=first)
            form.done_on.errors = [words]
        else:
            page = url_for("rounds.show", round_id=round_id) if is_bench() else url_for("rounds.index")
            return save(page, _("Round of %(day)s is done. Thank you", day=day_words(row.day)))
    with reading():
        return show_round(row, form)


@bp.post("/<int:round_id>/not-done")
@open_to(Who.MEMBERS)
def reopen(round_id: int) -> ResponseReturnValue:
    """Take back that a round was done."""
    row = get_round_row(db.session, round_id)
    require_own(row.grower_id)
    if not is_revision(revision_of(row)):
        return refuse(round_id)
    rounds.reopen_round(db.session, round_id)
    return save(url_for("rounds.show", round_id=round_id), _("Round of %(day)s is not done", day=day_words(row.day)))


@bp.post("/<int:round_id>/offer")
@open_to(Who.MEMBERS)
def offer(round_id: int) -> ResponseReturnValue:
    """Ask for somebody to take over one's round."""
    return turn_offer(round_id, offered=True)


@bp.post("/<int:round_id>/keep")
@open_to(Who.MEMBERS)
def keep(round_id: int) -> ResponseReturnValue:
    """Do one's round after all."""
    return turn_offer(round_id, offered=False)


def turn_offer(round_id: int, *, offered: bool) -> ResponseReturnValue:
    """Offer a round, or keep it."""
    row = get_round_row(db.session, round_id)
    require_own(row.grower_id)
    if not is_revision(revision_of(row)):
        return refuse(round_id)
    try:
        rounds.offer_round(db.session, round_id, today=current_day(), offered=offered)
    except (RoundDoneError, RoundOverError) as error:
        return refuse(round_id, why(error))
    day = day_words(row.day)
    if offered:
        words = _("Others see that the round of %(day)s waits for somebody", day=day)
    else:
        words = _("The round of %(day)s stays yours", day=day)
    return save(url_for("rounds.show", round_id=round_id), words)


@bp.post("/<int:round_id>/take")
@open_to(Who.MEMBERS)
def take(round_id: int) -> ResponseReturnValue:
    """Take over a round that waits for somebody."""
    row, grower_id = get_round_row(db.session, round_id), me().grower_id
    if grower_id is None:
        if not is_coordinator():
            abort(403)
        flash(_("Your account is of no grower. Give the round to somebody instead"))
        return redirect(url_for("rounds.give", round_id=round_id))
    if not is_revision(revision_of(row)):
        return refuse(round_id)
    try:
        rounds.take_round(db.session, round_id, grower_id, today=current_day())
    except (RoundDoneError, RoundOverError, NotOfferedError) as error:
        return refuse(round_id, why(error))
    words = _("The round of %(day)s is yours now. Thank you", day=day_words(row.day))
    return save(url_for("rounds.show", round_id=round_id), words)


@bp.route("/<int:round_id>/give", methods=["GET", "POST"])
@open_to(Who.COORDINATORS)
def give(round_id: int) -> ResponseReturnValue:
    """Give a round to somebody, or let two exchange theirs."""
    row, today = get_round_row(db.session, round_id), current_day()
    if row.done_on is not None or row.day < today:
        flash(_(IS_DONE) if row.done_on is not None else _(IS_OVER))
        return redirect(url_for("rounds.show", round_id=round_id))
    form = GiveForm(belongs=state_of(row))
    form.grower_id.offer(
        (who.id, who.name if can_come(who, row.day) else cannot_words(who.name, row.day))
        for who in list_coming(db.session)
        if who.id != row.grower_id
    )
    others = [each for each in list_rounds(db.session) if is_open(each, today) and each.grower_id]
    form.other_id.offer((each.id, f"{day_words(each.day)}, {each.grower}") for each in others if each.id != row.id)
    if form.validate_on_submit():
        try:
            if form.other_id.data is not None:
                rounds.swap_rounds(db.session, round_id, form.other_id.data, today=today)
            else:
                rounds.give_round(db.session, round_id, form.grower_id.data, today=today)
        except (RoundDoneError, RoundOverError) as error:
            return refuse(round_id, why(error))
        if form.other_id.data:
            words = _("They have exchanged their rounds. It stays so when rounds are shared out")
        else:
            words = _("The round is given. It stays so when rounds are shared out")
        return save(url_for("rounds.show", round_id=round_id), words)
    with reading():
        return render_template("rounds/give.html", row=row, form=form)


def cannot_words(name: str, day: date) -> str:
    """Return a grower who cannot come on such days of the week, as a list to choose from shows them."""
    on_weekday = (
        N_("%(name)s (cannot come on Mondays)"),
        N_("%(name)s (cannot come on Tuesdays)"),
        N_("%(name)s (cannot come on Wednesdays)"),
        N_("%(name)s (cannot come on Thursdays)"),
        N_("%(name)s (cannot come on Fridays)"),
        N_("%(name)s (cannot come on Saturdays)"),
        N_("%(name)s (cannot come on Sundays)"),
    )
    return _(on_weekday[day.weekday()], name=name)


@bp.get("/share")
@open_to(Who.COORDINATORS)
def share() -> ResponseReturnValue:
    """Show how the rounds would be shared out; how stands in the address."""
    return show_share(is_stale=False)


@bp.post("/share")
@open_to(Who.COORDINATORS)
def accept() -> ResponseReturnValue:
    """Share out the rounds as it was shown; if something has changed since, store nothing and show it anew."""
    today = current_day()
    every, without = share_form().asked()
    mark = request.form.get("mark", "") if request.form.get("today") == today.isoformat() else ""
    try:
        shared = share_out_rounds(db.session, today=today, by_hand_days=every, without=without, mark=mark)
    except StaleRoundsError:
        db.session.rollback()
        with reading():
            return show_share(is_stale=True), 409
    return save(
        url_for("rounds.index"), ngettext("%(num)s round shared out", "%(num)s rounds shared out", len(shared.rounds))
    )


def show_share(*, is_stale: bool) -> str:
    """Return the page of the sharing in the address."""
    form = share_form()
    every, without = form.asked()
    shared = propose_rounds(db.session, today=current_day(), by_hand_days=every, without=without)
    return render_template(
        "rounds/share.html",
        form=form,
        shared=shared,
        told=share_facts(shared),
        changes=share_words(shared),
        is_stale=is_stale,
        address=url_for("rounds.accept", every=every, without=sorted(without)),
        sent={"today": current_day().isoformat(), "mark": shared.mark},
        days_words=days_words,
    )


def share_form() -> ShareForm:
    """Return the form of the sharing, as the address has it."""
    asked = request.args if "every" in request.args else None
    form = ShareForm(asked, data={"every": rounds.BY_HAND_DAYS})
    form.offer(list_grower_choices(db.session))
    form.validate()
    return form


def share_words(shared: SharedOut) -> str:
    """Return what sharing out would change, in words; empty where nothing."""
    counts = (
        (sum(one.is_new for one in shared.rounds), *nouns("new round", "new rounds")),
        (
            sum(one.is_other and not one.is_new for one in shared.rounds),
            *nouns("round of somebody else", "rounds of somebody else"),
        ),
        (len(shared.gone), *nouns("round not needed any more", "rounds not needed any more")),
    )
    return list_words([count_words(count, one, many) for count, one, many in counts if count])


def share_facts(shared: SharedOut) -> list[tuple[str, str]]:
    """Return the line of facts: how many rounds, among how many, and how far the parts are apart."""
    nobody = sum(one.grower_id is None for one in shared.rounds)
    facts = [
        (_("Rounds"), count_words(len(shared.rounds), "day", "days")),
        (_("Shared among"), count_words(len(shared.parts), "grower", "growers")),
        (_("Stay as they are"), count_words(sum(one.is_kept for one in shared.rounds), "round", "rounds")),
    ]
    return [*facts, (_("Nobody can come"), count_words(nobody, "day", "days"))] if nobody else facts


def days_words(days: str | None) -> str:
    """Return the weekdays on which somebody can come."""
    if not days:
        return _("any day")
    return list_words([weekday_short(number) for number, day in enumerate(Weekday) if day in days.split()])


def facts_of(
    ahead: list[RoundRow], missed: list[RoundRow], today: date, grower_id: int | None
) -> list[tuple[str, str]]:
    """Return the line of facts: today's round, one's own next one, what waits for somebody, and what was missed."""
    facts = []
    first = next((row for row in ahead if row.done_on is None), None)
    if first:
        facts.append(
            (
                _("Today") if first.day == today else _("Next, %(day)s", day=day_words(first.day)),
                first.grower or _("nobody yet"),
            )
        )
    own = next((row for row in ahead if row.grower_id == grower_id and not row.done_on), None) if grower_id else None
    if own:
        facts.append((_("Your next round"), _("today") if own.day == today else day_words(own.day)))
    waits = sum(row.done_on is None and (row.is_offered or row.grower_id is None) for row in ahead)
    if waits:
        facts.append((_("Wait for somebody"), count_words(waits, "round", "rounds")))
    if missed and is_coordinator():
        facts.append((_("Not done"), count_words(len(missed), "round", "rounds")))
    return facts


def show_round(row: RoundRow, form: DoneForm | None = None, told: str = "") -> str:
    """Return the page of a round; told: what could not be done, in words."""
    today = current_day()
    may = is_own(row.grower_id)
    person = current_person()
    return render_template(
        "rounds/show.html",
        row=row,
        sheet=sheet_of(row),
        form=(form or done_form(row)) if may_finish(row.grower_id) and row.day - rounds.EARLY <= today else None,
        revision=revision_of(row),
        may=may,
        is_open=is_open(row, today),
        may_take=is_open(row, today)
        and (row.is_offered or row.grower_id is None)
        and person is not None
        and not person.is_bench
        and person.grower_id not in {None, row.grower_id},
        paper=read_paper(),
        today=today,
        told=told,
    )


def done_form(row: RoundRow) -> DoneForm:
    """Return the form that says that a round was done."""
    given = {
        "done_on": row.done_on or min(current_day(), row.day),
        "done_by_id": row.done_by_id if row.done_on else row.grower_id,
        "note": row.note,
    }
    form = DoneForm(data=given, belongs=state_of(row))
    if is_coordinator():
        form.done_by_id.offer(list_grower_choices(db.session))
    else:
        del form.done_by_id
    return form


def sheet_of(row: RoundRow) -> RoundSheet:
    """Return what a round does, in words."""
    plan, today = get_plan(db.session), current_day()  # the plan first: with it comes what else is asked of the garden
    last = find_last_round(db.session, row.day, today)
    facts = RoundFacts(
        day=row.day,
        today=today,
        who=row.done_by or row.grower,
        last=last,
        stays=list_stays_between(db.session, last or row.day, row.day + timedelta(days=1)),
        units=current_units(),
    )
    return make_round_sheet(plan, facts)


def may_finish(grower_id: int | None) -> bool:
    """Return whether whoever sends the request may say that a grower's round is done, at the bench tablet too."""
    return may_log(() if grower_id is None else (grower_id,))


def state_of(row: RoundRow) -> tuple[object, ...]:
    """Return what tells two states of a round apart."""
    return (row.id, row.day, row.grower_id, row.is_offered, row.is_swapped, row.done_on, row.done_by_id)


def revision_of(row: RoundRow) -> str:
    """Return what the forms of a round know of it."""
    return digest_of(*state_of(row))


def is_open(row: RoundRow, today: date) -> bool:
    """Return whether a round is still to be done, today or later."""
    return row.done_on is None and row.day >= today


def why(error: Exception) -> str:
    """Return why a round cannot change hands, in words."""
    if isinstance(error, RoundDoneError):
        return _(IS_DONE)
    if isinstance(error, RoundOverError):
        return _("The day of this round is over; nothing was changed")
    return _("Somebody else has this round and keeps it; nothing was changed")


def refuse(round_id: int, words: str = "") -> ResponseReturnValue:
    """Return the page of a round that is not as it was, and say so."""
    db.session.rollback()
    with reading():
        return show_round(get_round_row(db.session, round_id), told=words or _(MEANWHILE)), CONFLICT
