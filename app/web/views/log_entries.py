"""The entries of the log in one list, corrected or taken back: beside the views that write it."""

from flask import abort, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.core.log.rules import LogRuleError
from app.core.words import Cause, LogKind, Role
from app.extensions import db
from app.language import N_, _, ngettext
from app.services.log import AlreadyCorrectedError, NewEntry
from app.services.log import take_back as take_back_entry
from app.services.plan import get_plan
from app.sheets.fixed_words import say
from app.sheets.log_page import IN_TRAYS
from app.sheets.log_words import KIND_WORDS, NOUNS, QUESTIONS, entry_words, log_table, rule_words, said_words
from app.sheets.tables import csv_text
from app.storage.queries.log import EntryRow, count_entries, get_entry, list_entries
from app.storage.queries.sowings import get_sowing
from app.web.access import Who, current_account_id, is_bench, may_log, me, open_to
from app.web.context import current_day
from app.web.forms.log import CorrectForm
from app.web.kept import kept
from app.web.once import save
from app.web.ordering import Column, read_ordering
from app.web.paging import read_number, read_paging
from app.web.readers import in_english
from app.web.views import log as pages
from app.web.views.log import entry_lines, is_right, read_kind, show_sowing, try_to_add
from app.web.views.sheets import send_file
from app.web.weeks import addresses

bp = pages.bp  # an entry belongs to the log

COLUMNS = (
    Column(words=N_("Day"), key="day", down=True),
    Column(words=N_("What")),
    Column(words=N_("Sowing"), key="sowing"),
    Column(words=N_("Grower"), key="grower"),
    Column(words=N_("By")),
    Column(words=N_("Entry"), key="entry", down=True),
)
NO_GROWER = 0  # a row number that no grower has


def whose_log() -> int | None:
    """Return the grower whose sowings' log is shown: to members their own, to coordinators any; None for all."""
    person = me()
    return read_number("grower") if person.role is Role.COORDINATOR else person.grower_id or NO_GROWER


@bp.get("/log/entries")
@open_to(Who.MEMBERS)
@kept
def index() -> ResponseReturnValue:
    """List the log, those made last first: to coordinators the whole of it, to members that of their sowings."""
    whose, kind = whose_log(), read_kind(IN_TRAYS)
    is_whole = me().role is Role.COORDINATOR
    paging = read_paging(count_entries(db.session, whose_id=whose, kind=kind))
    ordering = read_ordering(COLUMNS, "entry")
    entries = list_entries(
        db.session, whose_id=whose, kind=kind, sort=ordering.key, down=ordering.down, page=paging.page
    )
    return render_template(
        "log/index.html",
        entries=entry_lines(entries),
        paging=paging,
        ordering=ordering,
        growers=[(one.id, one.name) for one in get_plan(db.session).garden.growers] if is_whole else [],
        is_whole=is_whole,
        grower=whose if is_whole else None,
        kinds=[(one.value, _(KIND_WORDS[one])) for one in IN_TRAYS],
        kind=kind,
        log_address=addresses("log.sowing", "sowing_id"),
    )


@bp.get("/log/entries.csv")
@open_to(Who.MEMBERS)
@kept
@in_english
def csv() -> ResponseReturnValue:
    """Hand out the log as a file, all of it or as the address asks; to members that of their sowings."""
    whose = whose_log()
    entries = list_entries(db.session, whose_id=whose, kind=read_kind(IN_TRAYS))
    names = {one.id: one.name for one in list_entries(db.session, whose_id=whose)}
    return send_file(csv_text(log_table(reversed(entries), names)), "text/csv", "log.csv")


@bp.route("/log/<int:entry_id>/correct", methods=["GET", "POST"])
@open_to(Who.BENCH)
def correct(entry_id: int) -> ResponseReturnValue:
    """Correct an entry by another one; both stay."""
    entry = get_entry(db.session, entry_id)
    row = get_sowing(db.session, entry.sowing_id)
    if not may_log({row.grower_id}):
        abort(403)
    found = next(one for one in list_entries(db.session, sowing_id=row.id) if one.id == entry_id)
    following = url_for("log.sowing", sowing_id=row.id)
    if (found.superseded_by or not found.number) and request.method == "GET":
        flash(_("Entry %(entry)s was corrected already. What holds now stands below.", entry=found.name))
        return redirect(following)
    form = CorrectForm(
        data={
            "day": entry.date,
            "count": entry.count or None,
            "seeds": entry.seeds,
            "cause": (entry.cause or Cause.UNKNOWN).value,
            "note": entry.note,
            "typed_by": str(me().account_id),
        }
    )
    if entry.kind is not LogKind.SOWN:
        del form.seeds
    if entry.kind is not LogKind.LOST:
        del form.cause
    form.count.label.text = _(QUESTIONS[entry.kind])
    if is_right(form, changed=False) and write_correction(form, found):
        about = _("correction of %(entry)s", entry=found.name)
        said = said_words(entry.kind, form.count.data, form.day.data, about)
        return save(url_for("bench.index") if is_bench() else following, said)
    return render_template(
        "log/correct.html",
        form=form,
        entry=found,
        words=entry_words(found),
        back=following,
        unit=ngettext(*NOUNS[entry.kind], 2),
    )


@bp.post("/log/<int:entry_id>/take-back")
@open_to(Who.BENCH)
def take_back(entry_id: int) -> ResponseReturnValue:
    """Take an entry back; it stays readable."""
    entry = get_entry(db.session, entry_id)
    row = get_sowing(db.session, entry.sowing_id)
    if not may_log({row.grower_id}):
        abort(403)
    name, kind, sowing_id, crop_id = entry.name, entry.kind, row.id, row.crop_id
    try:
        take_back_entry(db.session, entry_id, today=current_day(), account_id=current_account_id())
    except LogRuleError as error:
        db.session.rollback()
        why = _(
            "Entry %(entry)s was not taken back, since what was logged after it would not go with the rest. %(rule)s "
            "Take the later entry back first.",
            entry=name,
            rule=rule_words(error.rule, error.limit),
        )
        return show_sowing(sowing_id, crop_id, refused=why)
    except AlreadyCorrectedError:
        db.session.rollback()
        return show_sowing(sowing_id, crop_id, refused=_("Entry %(entry)s was corrected already.", entry=name))
    return save(
        url_for("log.sowing", sowing_id=sowing_id), _("Taken back: %(what)s, %(kind)s", what=name, kind=say(kind))
    )


def write_correction(form: CorrectForm, entry: EntryRow) -> bool:
    """Write down what an entry is to say instead; where that cannot be, say so beside its field and return False."""
    parts = (one.partition("-") for one in (entry.cells or "").split())
    cells = tuple((int(row), int(column)) for row, _, column in parts)
    again = NewEntry(
        sowing_id=entry.sowing_id,
        kind=entry.kind,
        date=form.day.data,
        count=form.count.data,
        seeds=form.seeds.data if "seeds" in form else entry.seeds,
        tray=entry.tray,
        cells=cells if form.count.data == len(cells) else (),
        cause=Cause(form.cause.data) if "cause" in form and form.cause.data else None,
        note=form.note.data,
        grower_id=get_entry(db.session, entry.id).grower_id,
        supersedes_id=entry.id,
    )
    return try_to_add(again, form, form.count)
