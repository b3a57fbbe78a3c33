"""Runs migrations over the engine that the program hands in, all of them in one transaction."""

from alembic import context

from app.storage import models  # noqa: F401 - so that the metadata is complete for comparison
from app.storage.base import Base

engine = context.config.attributes["engine"]

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
            context.run_migrations()
            if is_sqlite and (broken := connection.exec_driver_sql("PRAGMA foreign_key_check").all()):
                message = f"rows without the row they belong to: {broken[:5]}"
                raise RuntimeError(message)
    finally:
        if is_sqlite:
            connection.rollback()
            connection.connection.driver_connection.execute("PRAGMA foreign_keys = ON")
