"""Dates as day numbers, counted by the database (a hundred times cheaper than reading dates), and a session's today."""

from datetime import date

from sqlalchemy import Integer
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.orm import Session
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

_TODAY = "the day from which a session looks at the garden"


class day_number(FunctionElement[int]):  # noqa: N801 - reads as a function of the database
    """The day number of a date column."""

    type = Integer()
    inherit_cache = True


@compiles(day_number, "sqlite")
def _day_number_sqlite(element: FunctionElement[int], compiler: SQLCompiler, **kw: object) -> str:
    return f"CAST(julianday({compiler.process(element.clauses, **kw)}) - 1721424.5 AS INTEGER)"


@compiles(day_number, "postgresql")
def _day_number_postgresql(element: FunctionElement[int], compiler: SQLCompiler, **kw: object) -> str:
    return f"({compiler.process(element.clauses, **kw)} - DATE '0001-01-01' + 1)"


def set_today(session: Session, day: date | None) -> None:
    """Say from which day this session looks at the garden; None where days do not pass."""
    session.info[_TODAY] = day


def find_today(session: Session) -> date | None:
    """Return the day from which this session looks at the garden; None where days do not pass."""
    day: date | None = session.info.get(_TODAY)
    return day
