"""The program's server with two routes beside its own pages, to hold those against; whoever asks is signed in.

Run as `python -m tests.benchmarks.page_server PORT` with DATABASE_URL and TRAYMATES_INSTANCE set.
"""

import gc
import secrets
import sys
from dataclasses import replace
from datetime import date

from flask import request
from sqlalchemy import event
from waitress import serve

from app import create_app
from app.extensions import db
from app.services.accounts import add_sign_in
from app.settings import read_settings
from app.web.access import TOKEN, Who, open_to
from tests.people import add_account


def add_baselines(app):
    """Add `/bare`, which answers at once, and `/driver`, which runs a page's SQL through the driver alone."""
    statements = {}
    body = b"x" * 20_000

    @app.get("/bare")
    @open_to(Who.EVERYONE)
    def bare():
        return body

    @app.get("/learn")
    @open_to(Who.EVERYONE)
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
    @open_to(Who.EVERYONE)
    def driver():
        cursor = db.session.connection().connection.driver_connection.cursor()
        rows = 0
        for statement, parameters in statements[request.args["page"]]:
            rows += len(cursor.execute(statement, parameters).fetchall())
        return str(rows)


def sign_everybody_in(app):
    """Let each request without a cookie come from a coordinator, so that it takes the way of one who is signed in."""
    with app.app_context():
        account = add_account(db.session, secrets.token_hex(8))
        token = add_sign_in(db.session, account, own_device=True, device="Benchmark")
        db.session.commit()
        cookie = app.session_interface.get_signing_serializer(app).dumps({TOKEN: token})
    answer = app.wsgi_app

    def signed_in(environ, start_response):
        environ.setdefault("HTTP_COOKIE", f"{app.config['SESSION_COOKIE_NAME']}={cookie}")
        return answer(environ, start_response)

    app.wsgi_app = signed_in


def main():
    app = create_app(replace(read_settings(), today=date(2027, 4, 10)))
    add_baselines(app)
    sign_everybody_in(app)
    gc.collect()
    gc.freeze()
    serve(app, host="127.0.0.1", port=int(sys.argv[1]), threads=8, _quiet=True)


if __name__ == "__main__":
    main()
