"""The kind of database and its version."""

from sqlalchemy.orm import Session


def engine_words(session: Session) -> str:
    """Return the kind of database and its version, such as `SQLite 3.53.4`."""
    connection = session.connection()
    if connection.dialect.name == "sqlite":
        return f"SQLite {connection.exec_driver_sql('SELECT sqlite_version()').scalar_one()}"
    return f"PostgreSQL {connection.exec_driver_sql('SHOW server_version').scalar_one()}"
