"""Batches: changes that were made together, and what stands in the way of undoing them."""

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session, aliased

from app.storage.base import Base
from app.storage.history import NOUNS, plain_value
from app.storage.models import Account, Batch, History, LevellingChange, Sowing
from app.storage.queries.rows import PAGE_ROWS, find_name_id, get_row

MODELS = {noun: model for model, noun in NOUNS.items()}
GARDEN_ANEW = ("loaded from a folder", "carried into the next season", "cleared")  # rows of before are other rows now
# What a search for a plan that fits has noted of sowings is not built upon them.
_PASSING = frozenset({LevellingChange.__tablename__})
MOST_IDS = 500  # in one statement


class BatchRow(NamedTuple):
    """A batch as the list shows it."""

    id: int
    at: float
    account_id: int | None
    who: str | None
    what: str
    rows: int
    undone_at: float | None
    undone_by: str | None


class InTheWay(NamedTuple):
    """A row of a batch that cannot be undone.

    Attributes:
        noun: What it is.
        name: What it is called.
        why: The reason in words, that end a sentence.
    """

    noun: str
    name: str
    why: str


class Net(NamedTuple):
    """What a batch has made of one row, all of its changes together.

    Attributes:
        noun: What it is.
        row_id: Its row number.
        name: What it was called.
        before: Its columns before, those that were changed; None where it was not there.
        after: The same after; None where it is not there any more.
    """

    noun: str
    row_id: int
    name: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None


def get_batch(session: Session, batch_id: int) -> Batch:
    """Return a batch, or raise NotFoundError."""
    return get_row(session, Batch, batch_id, "batch")


def find_batch_sent(session: Session, digest: str) -> Batch | None:
    """Return the newest batch in which the same was sent and that was not undone; None where there is none."""
    query = select(Batch).where(Batch.digest == digest, Batch.undone_at.is_(None))
    return session.scalars(query.order_by(Batch.id.desc()).limit(1)).first()


def count_batches(session: Session) -> int:
    """Return how many batches there are."""
    return session.scalar(select(func.count(Batch.id))) or 0


def list_batches(session: Session, page: int = 1) -> list[BatchRow]:
    """Return a page of the batches, the newest first."""
    return _batches(session, page)


def find_batch_row(session: Session, batch_id: int) -> BatchRow | None:
    """Return a batch as the list shows it; None where there is none."""
    return next(iter(_batches(session, 1, Batch.id == batch_id)), None)


def _batches(session: Session, page: int, *which: ColumnElement[bool]) -> list[BatchRow]:
    undoer = aliased(Account)
    query = (
        select(Batch.id, Batch.at, Batch.account_id, Account.name, Batch.what, Batch.rows, Batch.undone_at, undoer.name)
        .outerjoin(Account, Account.id == Batch.account_id)
        .outerjoin(undoer, undoer.id == Batch.undone_by_id)
        .where(*which)
        .order_by(Batch.id.desc())
        .limit(PAGE_ROWS)
        .offset((page - 1) * PAGE_ROWS)
    )
    return [BatchRow(*row) for row in session.execute(query)]


def list_nets(session: Session, batch_id: int) -> list[Net]:
    """Return what a batch has made of each row, in the order in which they were changed first."""
    nets: dict[tuple[str, int], Net] = {}
    for entry in session.scalars(select(History).where(History.batch_id == batch_id).order_by(History.id)):
        if entry.subject_id is None or entry.noun not in MODELS:
            continue
        key = (entry.noun, entry.subject_id)
        old = {column: before for column, before, _ in entry.changes}
        new = {column: after for column, _, after in entry.changes}
        net = nets.get(key)
        before = (None if entry.action == "added" else old) if net is None else net.before
        if net is not None and net.before is not None and entry.action != "added":
            before = old | dict(net.before)
        after = None if entry.action == "removed" else {**((net.after or {}) if net else {}), **new}
        nets[key] = Net(*key, entry.subject, before, after)
    return [net for net in nets.values() if net.before is not None or net.after is not None]


def list_in_the_way(session: Session, batch_id: int, nets: Iterable[Net]) -> list[InTheWay]:
    """Return the rows of a batch that were changed or built upon since; none where it can be undone whole."""
    nets = list(nets)
    entries = select(History.id).where(History.batch_id == batch_id)
    last = session.scalar(entries.order_by(History.id.desc()).limit(1)) or 0
    anew = session.scalar(
        select(History.action)
        .where(History.id > last, History.noun == "garden", History.action.in_(GARDEN_ANEW))
        .limit(1)
    )
    if anew is not None:
        return [InTheWay("garden", "", f"was {anew} since")]
    found = [*_changed_since(session, last, nets), *_other_than_left(session, nets), *_built_upon(session, nets)]
    seen: dict[tuple[str, str], InTheWay] = {}
    for one in found:
        seen.setdefault((one.noun, one.name), one)
    return list(seen.values())


def _ids(nets: Iterable[Net]) -> dict[str, dict[int, Net]]:
    by_noun: dict[str, dict[int, Net]] = {}
    for net in nets:
        by_noun.setdefault(net.noun, {})[net.row_id] = net
    return by_noun


def _parts(ids: Iterable[int]) -> Iterable[list[int]]:
    every = sorted(ids)
    return (every[begin : begin + MOST_IDS] for begin in range(0, len(every), MOST_IDS))


def _changed_since(session: Session, last: int, nets: list[Net]) -> Iterable[InTheWay]:
    for noun, rows in _ids(nets).items():
        for ids in _parts(rows):
            query = select(History.subject_id, History.action).where(
                History.noun == noun, History.id > last, History.subject_id.in_(ids)
            )
            for row_id, action in session.execute(query.order_by(History.id)):
                yield InTheWay(noun, rows[row_id or 0].name, f"was {action} since")


def _other_than_left(session: Session, nets: list[Net]) -> Iterable[InTheWay]:
    """Yield rows that are not as the batch has left them, whatever the history says."""
    for noun, rows in _ids(nets).items():
        model: Any = MODELS[noun]
        there: dict[int, Base] = {}
        for ids in _parts(rows):
            there |= {row.id: row for row in session.scalars(select(model).where(model.id.in_(ids)))}
        for net in rows.values():
            row = there.get(net.row_id)
            if net.after is None:
                if row is not None:
                    yield InTheWay(noun, net.name, "is there again")
                elif _is_name_taken(session, model, net):
                    yield InTheWay(noun, net.name, "has a name that another one has by now")
            elif row is None:
                yield InTheWay(noun, net.name, "is not there any more")
            elif any(plain_value(getattr(row, column)) != value for column, value in net.after.items()):
                yield InTheWay(noun, net.name, "was changed since")
            elif _is_name_taken(session, model, net):
                yield InTheWay(noun, net.name, "had a name that another one has by now")


def _is_name_taken(session: Session, model: Any, net: Net) -> bool:  # noqa: ANN401 - a model
    name = (net.before or {}).get("name")
    return name is not None and find_name_id(session, model.name, name, other_than=net.row_id) is not None


def _built_upon(session: Session, nets: list[Net]) -> Iterable[InTheWay]:
    """Yield added rows that rows outside the batch refer to."""
    by_noun = _ids(net for net in nets if net.before is None)
    own = {(MODELS[noun].__tablename__, row_id) for noun, rows in by_noun.items() for row_id in rows}
    for noun, rows in by_noun.items():
        target = MODELS[noun].__table__
        for table in Base.metadata.sorted_tables:
            if table.name in _PASSING:
                continue
            for column in table.c:
                if not any(key.column.table is target for key in column.foreign_keys):
                    continue
                shown = [column, *([table.c.id] if "id" in table.c else [])]
                for ids in _parts(rows):
                    for row in session.execute(select(*shown).where(column.in_(ids)).distinct()):
                        if len(row) == 1 or (table.name, row[1]) not in own:
                            yield InTheWay(noun, rows[row[0]].name, f"is used by {said_use(table.name)}")


_NOUNS = {model.__tablename__: noun for noun, model in MODELS.items()}
_SAID = {"cell": "cell of a tray", "stay": "tray that stands there", "log_entry": "entry of the log", "ticked": "tick"}
_ARTICLES = dict.fromkeys(("account", "offer of spare plants", "entry of the log"), "an")


def said_use(table: str) -> str:
    """Return what a row of a table is called, with its article."""
    said = _NOUNS.get(table, _SAID.get(table, table.replace("_", " ")))
    return f"{_ARTICLES.get(said, 'a')} {said}"


def undo_rows(session: Session, nets: list[Net]) -> None:
    """Give each row back what it was before, the last one first; nothing stands in the way, as its caller knows."""
    for net in reversed(nets):
        model: Any = MODELS[net.noun]
        if net.after is None:
            columns = {name: _as_stored(model, name, value) for name, value in (net.before or {}).items()}
            session.add(model(id=net.row_id, **columns))
            session.flush()
            continue
        row = session.get_one(model, net.row_id)
        if net.before is None:
            session.delete(row)
            session.flush()
        else:
            for name, value in net.before.items():
                setattr(row, name, _as_stored(model, name, value))
    session.flush()


def _as_stored(model: Any, name: str, value: Any) -> Any:  # noqa: ANN401 - any column's
    """Return a value of the history as its column takes it."""
    kind = model.__table__.c[name].type.python_type
    if value is None or isinstance(value, kind):
        return value
    return kind.fromisoformat(value) if hasattr(kind, "fromisoformat") else kind(value)


def list_sowing_columns(session: Session, names: Iterable[str]) -> list[tuple[Any, ...]]:
    """Return name and these columns of every sowing."""
    columns = [getattr(Sowing, name) for name in names]
    return [tuple(row) for row in session.execute(select(Sowing.name, *columns).order_by(Sowing.id))]


def list_rows_by_name(session: Session, noun: str) -> list[Any]:
    """Return every row of a noun that has names, by name."""
    model: Any = MODELS[noun]
    return list(session.scalars(select(model).order_by(model.name, model.id)))
