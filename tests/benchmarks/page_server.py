"""The program's server with two routes beside its own pages, to hold those against.

Run as `python -m tests.benchmarks.page_server PORT` with DATABASE_URL and TRAYMATES_INSTANCE set.
"""

import gc
import sys
from dataclasses import replace
from datetime import date

from flask import request
from sqlalchemy import event
from waitress import serve

from app import create_app
from app.extensions import db
from app.settings import read_settings


def add_baselines(app):
    """Add `/bare`, which answers at once, and `/driver`, which runs a page's SQL through the driver alone."""
    statements = {}
    body = b"x" * 20_000

    @app.get("/bare")
    def bare():
        return body

    @app.get("/learn")
    def learn():
        """Note the statements of a page, so that `/driver` can run them."""
        noted = []

        def note(_connection, _cursor, statement, parameters, *_):
            if statement.lstrip().startswith("SELECT"):
                noted.append((statement, parameters))

        event.listen(db.engine, "before_cursor_execute", note)
        app.test_client().get(request.args["page"])
        event.remove(db.engine, "before_cursor_execute", note)
        statements[request.args["page"]] = noted
        return str(len(noted))

    @app.get("/driver")
    def driver():
        cursor = db.session.connection().connection.driver_connection.cursor()
        rows = 0
        for statement, parameters in statements[request.args["page"]]:
            rows += len(cursor.execute(statement, parameters).fetchall())
        return str(rows)


def main():
    app = create_app(replace(read_settings(), today=date(2027, 4, 10)))
    add_baselines(app)
    gc.collect()
    gc.freeze()
    serve(app, host="127.0.0.1", port=int(sys.argv[1]), threads=8, _quiet=True)


if __name__ == "__main__":
    main()
