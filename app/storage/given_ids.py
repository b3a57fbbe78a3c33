"""The last id that each table has given, so that what stands on paper is given to no other row, here or elsewhere."""

from collections.abc import Mapping

from sqlalchemy import Boolean, Connection, Integer, column, func, inspect, select, table, text

SEQUENCES = table("sqlite_sequence", column("name"), column("seq"))
_COUNTS_ON = text("SELECT name FROM sqlite_master WHERE type = 'table' AND sql LIKE '%AUTOINCREMENT%'")


def read_given_ids(connection: Connection) -> dict[str, int]:
    """Return the last id that was given in each table that gives none twice, on PostgreSQL in each table with ids."""
    if connection.dialect.name == "sqlite":
        if not _counting_tables(connection):
            return {}
        return {row.name: row.seq for row in connection.execute(select(SEQUENCES))}
    given = {}
    for name in inspect(connection).get_table_names():
        sequence = _sequence_of(connection, name)
        if sequence is not None:
            last, is_called = connection.execute(
                select(column("last_value", Integer), column("is_called", Boolean)).select_from(text(sequence))
            ).one()
            given[name] = last if is_called else last - 1
    return given


def raise_given_ids(connection: Connection, given: Mapping[str, int]) -> None:
    """See to it that no id up to the given ones is given again; where more were given here already, that stays.

    Args:
        connection: Its transaction takes it.
        given: The last id of each table; tables that give an id twice anyway are passed over.
    """
    if connection.dialect.name == "sqlite":
        counting = _counting_tables(connection)
        here = read_given_ids(connection)
        for name in sorted(counting & given.keys()):
            if name not in here:
                connection.execute(SEQUENCES.insert().values(name=name, seq=given[name]))
            elif here[name] < given[name]:
                connection.execute(SEQUENCES.update().where(SEQUENCES.c.name == name).values(seq=given[name]))
        return
    here = read_given_ids(connection)
    for name in sorted(here.keys() & given.keys()):
        if here[name] < given[name]:
            connection.execute(select(func.setval(_sequence_of(connection, name), given[name])))


def _counting_tables(connection: Connection) -> set[str]:
    return set(connection.scalars(_COUNTS_ON))


def _sequence_of(connection: Connection, name: str) -> str | None:
    has_id = any(column["name"] == "id" for column in inspect(connection).get_columns(name))
    if not has_id:
        return None
    sequence = connection.scalar(select(func.pg_get_serial_sequence(func.quote_ident(name), "id")))
    return None if sequence is None else str(sequence)
