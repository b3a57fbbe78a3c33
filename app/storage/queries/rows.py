"""What every noun asks: one row by its id, all names to choose from, and who has a name."""

from typing import Any, NamedTuple, Protocol, TypeVar

from sqlalchemy import ColumnElement, func, inspect, select
from sqlalchemy.orm import InstrumentedAttribute, Session
from sqlalchemy.orm.exc import ObjectDeletedError

from app.storage.base import Base
from app.storage.errors import NotFoundError

LARGEST_ID = 2**31 - 1  # what an integer column holds on every engine
PAGE_ROWS = 200  # of one page of a long list


class Choice(NamedTuple):
    """What a list to choose from shows of a row."""

    id: int
    name: str


class Named(Protocol):
    """A row with an id and a name of its own."""

    @property
    def id(self) -> int:
        """The number of the row."""

    @property
    def name(self) -> str:
        """The name within its noun."""


Row = TypeVar("Row", bound=Base)


def get_row(session: Session, model: type[Row], row_id: int, noun: str) -> Row:
    """Return the row with this id.

    Raises:
        NotFoundError: No row has it.
    """
    try:
        row = session.get(model, row_id) if 0 < row_id <= LARGEST_ID else None
    except ObjectDeletedError:  # removed by somebody else since this session read it
        row = None
    if row is None:
        raise NotFoundError(noun, row_id)
    return row


def ordered(column: ColumnElement[Any], *, down: bool) -> ColumnElement[Any]:
    """Return by what rows are ordered, either way round; those without a value come last, on every engine."""
    return (column.desc() if down else column.asc()).nulls_last()


def row_values(row: Base) -> dict[str, Any]:
    """Return what stands in a row, by column."""
    return {column.key: getattr(row, column.key) for column in inspect(row).mapper.column_attrs}


def find_name_id(
    session: Session, name: InstrumentedAttribute[str], wanted: str, *, other_than: int | None = None
) -> int | None:
    """Return the id of a row with this name, capital letters or not, or None.

    Args:
        session: Where to look.
        name: The model's column of names.
        wanted: The name.
        other_than: The id of a row that does not count.
    """
    model = name.class_
    same = select(model.id).where(func.lower(name) == func.lower(wanted))
    if other_than is not None:
        same = same.where(model.id != other_than)
    return session.scalar(same.order_by(model.id).limit(1))


def list_choices(session: Session, name: InstrumentedAttribute[str]) -> list[Choice]:
    """Return every row of a noun by name, to choose from; the noun is the model that has this column of names."""
    model = name.class_
    return [Choice(*row) for row in session.execute(select(model.id, name).order_by(name, model.id))]
