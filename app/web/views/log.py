"""Logging: what was done and seen, by tray, by cell, by sowing, or for many sowings at once; and the log itself."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from flask import Blueprint, abort, render_template, request, url_for
from flask.typing import ResponseReturnValue
from wtforms import Field

from app.core.calendar import NO_DAY
from app.core.log.rules import LogRuleError
from app.core.plan import Plan
from app.core.words import Cause, LogKind, Role
from app.core.work.expected import due_on, waiting_for
from app.extensions import db
from app.language import _
from app.services.log import AlreadyCorrectedError, NewEntry, OtherSeedError, add_entries
from app.services.plan import get_plan
from app.services.spares import GIFT_NOTE
from app.services.trays import NotInTrayError
from app.sheets.backup_words import moment_words
from app.sheets.log_page import (
    BY_CELL,
    IN_TRAYS,
    LogLine,
    TickGrid,
    due_line,
    kinds_in,
    likely_kind,
    line_of_sowing,
    lines_of_tray,
    tick_grid,
)
from app.sheets.log_words import (
    KIND_WORDS,
    QUESTIONS,
    entry_words,
    is_of_day,
    rule_words,
    said_words,
    where_words,
)
from app.sheets.names import name_words
from app.sheets.words import count_words
from app.storage.queries.log import (
    EntryRow,
    list_entries,
    list_entries_of_sowings,
)
from app.storage.queries.seed_lots import list_seed_lot_choices
from app.storage.queries.sowings import get_sowing
from app.storage.queries.trays import CellRow, get_tray, list_cells
from app.web.access import Who, current_account_id, is_bench, may_log, me, open_to
from app.web.context import current_day
from app.web.failing import failing_lines, spares_address
from app.web.forms.log import CorrectForm, LogForm, make_log_form
from app.web.once import revise, save
from app.web.paging import read_number, read_paging
from app.web.views.sheets import read_day

bp = Blueprint("log", __name__)

LINES_ON_PAGE = 40
MOST_LINES = 200
COUNT = re.compile(r"count_([1-9][0-9]{0,8})")
CONFLICT = 409


@dataclass(frozen=True, kw_only=True)
class LogPage:
    """A page on which something is written down.

    Attributes:
        kind: What is written down.
        words: The same, in words.
        question: What is counted.
        tabs: Each kind that makes sense here: its words, its address, and whether it is this one.
        lines: The sowings.
        grid: The cells that can be ticked; None where counts are asked for.
        other: Words and address of the page that asks by cell, or by count again; None for neither.
        anew: Words and address of this page with all cells ticked, or none; None without cells.
        is_changed: Somebody has logged meanwhile.
        action: Where the form goes.
        for_grower: What the tick says by which a coordinator writes down what somebody else did.
    """

    kind: LogKind
    words: str
    question: str
    tabs: list[tuple[str, str, bool]]
    lines: Sequence[LogLine]
    grid: TickGrid | None = None
    other: tuple[str, str] | None = None
    anew: tuple[str, str] | None = None
    is_changed: bool = False
    action: str = ""
    for_grower: str = ""


@dataclass(frozen=True, kw_only=True)
class EntryLine:
    """An entry as a list shows it.

    Attributes:
        row: The entry.
        words: What it says.
        where: The tray and cells that it is of, empty for a whole sowing.
        note: What was written beside it.
        by: Who did it and who typed it.
        at: When it was typed, empty where that is not known.
        state: What became of it: corrected or taken back by which entry; empty where it holds.
        corrects: The entry that it corrects, empty for none.
        is_open: Whether it can be corrected.
    """

    row: EntryRow
    words: str
    where: str
    note: str
    by: str
    at: str
    state: str
    corrects: str
    is_open: bool


@bp.route("/trays/<int:number>/log", methods=["GET", "POST"])
@open_to(Who.BENCH)
def tray(number: int) -> ResponseReturnValue:
    """Log what was done or seen in a tray."""
    row = get_tray(db.session, number)
    cells = list_cells(db.session, [row.id])
    own = list(dict.fromkeys(cell.sowing_id for cell in cells if may_log({cell.grower_id})))
    if not own:
        abort(403)
    entries = list_entries_of_sowings(db.session, own)
    lines = lines_of_tray(get_plan(db.session), row, cells, own, entries)
    kinds = kinds_in(is_pots=row.potted_on)
    kind = read_kind(kinds) or likely_kind(lines, is_pots=row.potted_on)
    by_cell = request.args.get("by") == "cell" and kind in BY_CELL and not row.potted_on
    grid = tick_grid(row, cells, own, kind) if by_cell else None

    def address(kind: LogKind, by: str | None = None, ticked: str | None = None) -> str:
        return url_for("log.tray", number=number, kind=kind.value, by=by, ticked=ticked)

    other = anew = None
    if grid is not None:
        other = (_("Type how many instead"), address(kind))
        all_ticked = are_ticked(kind)
        anew = (_("Start with no cell ticked"), address(kind, by="cell", ticked="none")) if all_ticked else None
        anew = anew or (_("Start with all cells ticked"), address(kind, by="cell", ticked="all"))
    elif kind in BY_CELL and not row.potted_on:
        other = (_("Tick the cells instead"), address(kind, by="cell"))
    changed = revise(kind, [(line.sowing_id, line.entry_ids) for line in lines])
    form = make_log_form(
        kind,
        lines,
        ticked=[line.sowing_id for line in lines if line.expected(kind)] if len(lines) > 1 else None,
        cells=None if grid is None else (grid.all_values, grid.all_values if are_ticked(kind) else ()),
        can_be_for_grower=is_for_others(lines),
        day=current_day(),
        typed_by=str(me().account_id),
    )
    place = None if kind is LogKind.POTTED_ON and not row.potted_on else number
    if is_right(form, changed=changed) and write_down(form, owners_of(cells), tray=place):
        following = url_for("bench.index") if is_bench() else url_for("trays.show", number=number)
        return save(following, words_of(form, _("tray %(number)s", number=number)))
    page = LogPage(
        kind=kind,
        words=_(KIND_WORDS[kind]),
        question=_(QUESTIONS[kind]),
        tabs=[(_(KIND_WORDS[one]), address(one), one is kind) for one in kinds],
        lines=lines,
        grid=grid,
        other=other,
        anew=anew,
        is_changed=changed,
        action=address(kind, "cell" if grid is not None else None, request.args.get("ticked") if grid else None),
        for_grower=for_grower_words(lines),
    )
    return render_template("log/tray.html", tray=row, form=form, page=page)


@bp.route("/sowings/<int:sowing_id>/log", methods=["GET", "POST"])
@open_to(Who.BENCH)
def sowing(sowing_id: int) -> ResponseReturnValue:
    """Log what was done or seen of a whole sowing, and show what was logged of it."""
    row = get_sowing(db.session, sowing_id)
    if not may_log({row.grower_id}):
        abort(403)
    return show_sowing(sowing_id, row.crop_id)


def show_sowing(sowing_id: int, crop_id: int, *, refused: str = "") -> ResponseReturnValue:
    """Return the page of a sowing's log, or save what was sent with it; `refused` says why an entry stays."""
    plan, entries = get_plan(db.session), list_entries(db.session, sowing_id=sowing_id)
    line = line_of_sowing(plan, plan.index_of[sowing_id], entries)
    kind = read_kind(IN_TRAYS) or likely_kind([line])
    changed = not refused and revise(kind, line.entry_ids)
    lots = list_seed_lot_choices(db.session) if kind is LogKind.SOWN else []
    form = make_log_form(
        kind,
        [line],
        seed_lots=[
            (lot.id, ", ".join(filter(None, (lot.name, lot.variety)))) for lot in lots if lot.crop_id == crop_id
        ],
        can_be_for_grower=is_for_others([line]),
        day=current_day(),
        typed_by=str(me().account_id),
        is_empty=bool(refused),
    )
    if not refused and is_right(form, changed=changed) and write_down(form, {}, tray=None):
        following = url_for("bench.index") if is_bench() else url_for("log.sowing", sowing_id=sowing_id)
        return save(following, words_of(form, whose(line)))
    page = LogPage(
        kind=kind,
        words=_(KIND_WORDS[kind]),
        question=_(QUESTIONS[kind]),
        tabs=[
            (_(KIND_WORDS[one]), url_for("log.sowing", sowing_id=sowing_id, kind=one.value), one is kind)
            for one in IN_TRAYS
        ],
        lines=[line],
        is_changed=changed,
        for_grower=for_grower_words([line]),
    )
    dealt = plan.garden.dealt
    trays = sorted(set(dealt.number[dealt.part_tray[dealt.part_lot == plan.index_of[sowing_id]]].tolist()))
    return render_template(
        "log/sowing.html",
        line=line,
        form=form,
        page=page,
        entries=entry_lines(entries),
        trays=trays,
        refused=refused,
        failing_lines=failing_lines(plan, sowing=plan.index_of[sowing_id], counts_spares=False),
        spares=spares_address(),
    ), CONFLICT if refused else 200


@bp.route("/log", methods=["GET", "POST"])
@open_to(Who.BENCH)
def several() -> ResponseReturnValue:
    """Log the same for several sowings at once, such as a whole sowing day."""
    plan = get_plan(db.session)
    kind = read_kind(IN_TRAYS) or LogKind.SOWN
    waits = [int(index) for index in waiting_for(plan, kind) if may_log({grower_of(plan, int(index))})]
    grower = read_number("grower")
    of_grower = [index for index in waits if grower is None or grower_of(plan, index) == grower]
    days = sorted({due_on(plan, kind, index) for index in of_grower} - {NO_DAY})
    day = read_day()
    wanted = [index for index in of_grower if day is None or due_on(plan, kind, index) == day.toordinal()]
    paging = read_paging(len(wanted), LINES_ON_PAGE)
    shown = wanted[max(paging.first - 1, 0) : paging.last]
    gone = 0
    if request.method == "POST":
        sent = sent_sowings(plan)
        shown = [index for index in sent if index in set(waits)]
        gone = len(sent) - len(shown)
    lines = [due_line(plan, index, kind) for index in shown]
    form = make_log_form(
        kind,
        lines,
        ticked=[line.sowing_id for line in lines] if day is not None else [],
        can_be_for_grower=is_for_others(lines),
        day=min(day or current_day(), current_day()),
        typed_by=str(me().account_id),
    )
    here = request.full_path.rstrip("?")
    if gone and request.method == "POST":
        form.refuse(
            _("Logged meanwhile"),
            _(
                "Of %(sowings)s this was logged by somebody else since you opened the page. The others still stand "
                "below; save them again.",
                sowings=count_words(gone, "sowing", "sowings"),
            ),
        )
    elif is_right(form, changed=False) and write_down(form, {}, tray=None):
        return save(url_for("bench.index") if is_bench() else here, words_of(form, ""))
    person = me()
    page = LogPage(
        kind=kind,
        words=_(KIND_WORDS[kind]),
        question=_(QUESTIONS[kind]),
        tabs=[
            (_(KIND_WORDS[one]), url_for("log.several", kind=one.value, grower=grower), one is kind) for one in IN_TRAYS
        ],
        lines=lines,
        for_grower=for_grower_words(lines),
    )
    return render_template(
        "log/several.html",
        form=form,
        page=page,
        paging=paging,
        days=[(date.fromordinal(one), day is not None and one == day.toordinal()) for one in days],
        growers=[(one.id, one.name) for one in plan.garden.growers] if person.role is Role.COORDINATOR else [],
        grower=grower,
        today=current_day(),
    )


def read_kind(kinds: Sequence[LogKind]) -> LogKind | None:
    """Return the kind in the address, None where there is none that makes sense."""
    text = request.args.get("kind", "")
    return next((kind for kind in kinds if kind.value == text), None)


def are_ticked(kind: LogKind) -> bool:
    """Return whether cells begin ticked: all are sown, and most come up, but few are lost."""
    text = request.args.get("ticked")
    return text != "none" if kind is not LogKind.LOST else text == "all"


def is_for_others(lines: Sequence[LogLine]) -> bool:
    """Return whether whoever sends the request may write down for a grower who is not they."""
    person = me()
    return person.role is Role.COORDINATOR and any(line.grower_id != person.grower_id for line in lines)


def for_grower_words(lines: Sequence[LogLine]) -> str:
    """Return what the tick says by which a coordinator writes down what growers did."""
    names = {line.grower for line in lines}
    if len(names) == 1:
        return _("%(grower)s did it", grower=next(iter(names)))
    return _("The growers did it themselves")


def whose(line: LogLine) -> str:
    """Return what tells a sowing from others: its crop and its grower."""
    return _("%(crop)s of %(grower)s", crop=name_words(line.crop), grower=line.grower)


def grower_of(plan: Plan, index: int) -> int:
    """Return the row number of the grower of a sowing."""
    return plan.garden.growers[int(plan.garden.sowings.grower[index])].id


def sent_sowings(plan: Plan) -> list[int]:
    """Return the indices of the sowings that a form asks for; refuse those that are not for whoever sends it."""
    ids = [int(match[1]) for match in map(COUNT.fullmatch, request.form) if match]
    found = [plan.index_of[one] for one in ids[:MOST_LINES] if one in plan.index_of]
    if not all(may_log({grower_of(plan, index)}) for index in found):
        abort(403)
    return found


def owners_of(cells: Sequence[CellRow]) -> dict[str, int]:
    """Return the sowing of each cell of a tray, by what is sent for it."""
    return {f"{cell.row}-{cell.column}": cell.sowing_id for cell in cells}


def is_right(form: LogForm | CorrectForm, *, changed: bool) -> bool:
    """Return whether a form was sent, every field is right, and whoever typed it sends it."""
    if not form.validate_on_submit() or changed:
        return False
    if form.typed_by.data == str(me().account_id):
        return True
    form.refuse(
        _("Somebody else typed this"),
        _("This was typed under another name, and you are %(name)s. Save it if it is yours.", name=me().name),
    )
    form.typed_by.data = str(me().account_id)
    return False


def write_down(form: LogForm, owner_of: dict[str, int], *, tray: int | None) -> bool:
    """Write down what a form says; where that cannot be, say so beside its fields and return False."""
    ticked: dict[int, list[tuple[int, int]]] = {}
    by_cell = "cells" in form
    for value in (form.cells.data or ()) if by_cell else ():
        row, _, column = value.partition("-")
        ticked.setdefault(owner_of[value], []).append((int(row), int(column)))
    cause = Cause(form.cause.data) if "cause" in form and form.cause.data else None
    for line in form.lines:
        cells = tuple(ticked.get(line.sowing_id, ()))
        if not (cells if by_cell else form.is_taken(line)):
            continue
        entry = NewEntry(
            sowing_id=line.sowing_id,
            kind=form.kind,
            date=form.day.data,
            count=len(cells) if by_cell else form.count_of(line).data,
            seeds=None if by_cell else form.seeds_of(line),
            tray=tray,
            cells=cells,
            seed_lot_id=form.seed_lot_id.data if "seed_lot_id" in form else None,
            cause=cause,
            note=form.note.data,
            grower_id=line.grower_id if "by_grower" in form and form.by_grower.data else me().grower_id,
        )
        field: Field = form.cells if by_cell else form.count_of(line)
        about = whose(line) if len(form.lines) > 1 else ""
        if not try_to_add(entry, form, field, about):
            return False
    return True


def try_to_add(entry: NewEntry, form: LogForm | CorrectForm, count: Field, about: str = "") -> bool:
    """Add an entry; where that cannot be, undo all that this request has done and say why beside the form's fields."""
    try:
        add_entries(db.session, [entry], today=current_day(), account_id=current_account_id())
    except LogRuleError as error:
        db.session.rollback()
        words = rule_words(error.rule, error.limit)
        field = form.day if is_of_day(error.rule) else count
        field.errors = [f"{about}: {words}" if about else words]
    except NotInTrayError:
        db.session.rollback()
        form.refuse(
            _("Dealt anew meanwhile"), _("This sowing has other cells now. Open the tray anew, and log it there.")
        )
    except OtherSeedError as error:
        db.session.rollback()
        words = _("This is seed of %(crop)s. Choose a lot of the crop that was sown.", crop=name_words(error.crop))
        if "seed_lot_id" in form:
            form.seed_lot_id.errors = [words]
        else:
            form.refuse(_("Seed of another crop"), words)
    except AlreadyCorrectedError:
        db.session.rollback()
        form.refuse(_("Corrected meanwhile"), _("Somebody corrected this entry already. Look at its sowing’s log."))
    else:
        return True
    return False


def words_of(form: LogForm, about: str) -> str:
    """Return what a form has written down."""
    day = form.day.data
    if "cells" in form:
        return said_words(form.kind, len(form.cells.data or ()), day, about)
    taken = [line for line in form.lines if form.is_taken(line)]
    total = sum(form.count_of(line).data for line in taken)
    if len(taken) == 1:
        line = taken[0]
        one = whose(line)
        return said_words(form.kind, total, day, f"{about}, {one}" if about and about != one else one)
    about = (
        f"{about}, {count_words(len(taken), 'sowing', 'sowings')}"
        if about
        else count_words(len(taken), "sowing", "sowings")
    )
    return said_words(form.kind, total, day, about)


def entry_lines(entries: Sequence[EntryRow]) -> list[EntryLine]:
    """Return entries as a list shows them."""
    names = {one.id: one for one in entries}
    return [_entry_line(one, names) for one in entries]


def _entry_line(row: EntryRow, there: dict[int, EntryRow]) -> EntryLine:
    later = there.get(row.superseded_by or 0)
    state = ""
    if row.superseded_by:
        state = (
            _("taken back by %(entry)s", entry=later.name) if later is not None and not later.number else _("corrected")
        )
        if later is not None and later.number:
            state = _("corrected by %(entry)s", entry=later.name)
    earlier = there.get(row.supersedes_id or 0)
    by = row.grower or row.typed_by or _("not said")
    if row.typed_by and row.typed_by != by:
        by = _("%(who)s, typed by %(typist)s", who=by, typist=row.typed_by)
    return EntryLine(
        row=row,
        words=entry_words(row),
        where=where_words(row),
        note=_("Spare plants") if row.note == GIFT_NOTE else row.note or "",
        by=by,
        at=moment_words(row.made_at) if row.made_at else "",
        state=state,
        corrects=earlier.name if earlier is not None else _("another entry") if row.supersedes_id else "",
        is_open=row.superseded_by is None and row.number > 0,
    )
