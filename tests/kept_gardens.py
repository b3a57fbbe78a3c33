"""Gardens that are made once in a test run for each kind of database, and put back for every other test.

To load, deal and play the demo garden takes many seconds, to put its rows back as the database holds them a tenth of
one. What a test does to them is its own: the next one gets them as they were made.
"""

import secrets
from copy import deepcopy
from dataclasses import dataclass, field

from sqlalchemy import insert, select, update

from app.services import plan
from app.storage.base import Base
from app.storage.models import DataVersion
from app.storage.queries.version import get_mark, has_unmarked_changes

TABLES = [table for table in Base.metadata.sorted_tables if table.name != "data_version"]

# Which tables have rows, in one query: to ask each of them takes longer than most tests.
_FILLED = " UNION ALL ".join(f"SELECT '{table.name}' WHERE EXISTS (SELECT * FROM \"{table.name}\")" for table in TABLES)


@dataclass
class _Kept:
    result: object
    rows: dict = field(default_factory=dict)
    sequences: list = field(default_factory=list)
    mark: str | None = None


_kept: dict[tuple, _Kept] = {}
# Marks that came with rows put back: rows added to these without a mark of their own are other data.
_put: set[str] = set()


def kept(session, make, *args):
    """Put into a database what `make(session, *args)` puts there; whether it is committed is the caller's.

    Where the database has rows already, somebody who signed in say, it is made beside them.

    Args:
        session: Its transaction takes it all.
        make: A function of a module; it gives the same garden every time, and keeps to the rows of the database.
        args: What it is given beside the session, the same for the same garden.

    Returns:
        What `make` returned: plain values, no rows of the session.
    """
    connection = session.connection()
    key, kind = (connection.dialect.name, make, args), _KINDS[connection.dialect.name]
    if filled_tables(connection):
        return make(session, *args)
    if key not in _kept:
        result = make(session, *args)
        session.flush()
        _kept[key] = kind.take(session.connection(), result)
        # It goes with the data, for what was found notes the mark of what it was found for; none where it is to come.
        mark = get_mark(session)
        _kept[key].mark = None if has_unmarked_changes(session) or mark in _put else mark
    else:
        kind.put(connection, _kept[key])
        mark = _kept[key].mark or secrets.token_hex(16)
        connection.execute(update(DataVersion).values(mark=mark))
        _put.add(mark)
        plan._Keeper.kept = None  # what another test made of the same data must not serve this one
    return deepcopy(_kept[key].result)


def filled_tables(connection):
    """Return the tables with rows, those that others refer to first."""
    names = set(connection.exec_driver_sql(_FILLED).scalars())
    return [table for table in TABLES if table.name in names]


class _Sqlite:
    @staticmethod
    def take(connection, result):
        found = _Kept(result)
        for table in filled_tables(connection):
            query = select(table).order_by(*table.primary_key).compile(dialect=connection.dialect)
            found.rows[table] = [tuple(row) for row in connection.exec_driver_sql(str(query))]
        return found

    @staticmethod
    def put(connection, found):
        connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")  # a row may refer to a later one
        for table, rows in found.rows.items():
            statement = insert(table).compile(dialect=connection.dialect, column_keys=table.c.keys())
            connection.exec_driver_sql(str(statement), rows)


class _Postgresql:
    @staticmethod
    def take(connection, result):
        found = _Kept(result)
        cursor = connection.connection.cursor()
        for table in filled_tables(connection):
            columns = ", ".join(f'"{column.name}"' for column in table.c)
            target = f'"{table.name}" ({columns})'
            with cursor.copy(f"COPY {target} TO STDOUT") as copy:
                found.rows[target] = b"".join(copy)
        names = connection.exec_driver_sql(
            "SELECT sequencename FROM pg_sequences WHERE schemaname = 'public'"
        ).scalars()
        query = " UNION ALL ".join(f"SELECT '{name}', last_value, is_called FROM \"{name}\"" for name in names)
        found.sequences = [tuple(row) for row in connection.exec_driver_sql(query)]
        return found

    @staticmethod
    def put(connection, found):
        cursor = connection.connection.cursor()
        for target, rows in found.rows.items():
            with cursor.copy(f"COPY {target} FROM STDIN") as copy:
                copy.write(rows)
        names, last, called = zip(*found.sequences, strict=True)
        cursor.execute(
            "SELECT setval(name::regclass, last, called)"
            " FROM unnest(%s::text[], %s::bigint[], %s::boolean[]) AS kept (name, last, called)",
            [list(names), list(last), list(called)],
        )


_KINDS = {"sqlite": _Sqlite, "postgresql": _Postgresql}
