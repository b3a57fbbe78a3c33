"""Runs migrations over the engine that the program hands in, all of them in one transaction."""

from alembic import context

from app.storage import models  # noqa: F401 - so that the metadata is complete for comparison
from app.storage.base import Base

engine = context.config.attributes["engine"]
before = context.config.attributes["before"]
# Of several processes that start at once on PostgreSQL, one migrates and the others wait; SQLite has its lock for that.
ONE_AT_A_TIME = "SELECT pg_advisory_xact_lock(7217)"
PATIENCE = "SET LOCAL lock_timeout = '60s'"

with engine.connect() as connection:
    is_sqlite = connection.dialect.name == "sqlite"
    if is_sqlite:
        # Inside a transaction this setting is silently ignored, so it goes to the driver before one begins.
        connection.connection.driver_connection.execute("PRAGMA foreign_keys = OFF")
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        transactional_ddl=True,
        render_as_batch=is_sqlite,
        compare_type=True,
    )
    try:
        with context.begin_transaction():
            if not is_sqlite:
                connection.exec_driver_sql(PATIENCE)
                connection.exec_driver_sql(ONE_AT_A_TIME)
            before(context.get_context().get_current_revision())
            context.run_migrations()
            if is_sqlite and (broken := connection.exec_driver_sql("PRAGMA foreign_key_check").all()):
                message = f"rows without the row they belong to: {broken[:5]}"
                raise RuntimeError(message)
    finally:
        if is_sqlite:
            connection.rollback()
            connection.connection.driver_connection.execute("PRAGMA foreign_keys = ON")
