"""`traymates invite`: a one-time link for somebody who cannot sign in, from the machine itself."""

import re

from sqlalchemy import create_engine, text

from app import create_app
from app.extensions import db
from app.settings import Settings
from tests.web.filling import form_values

PASSPHRASE = "green tin watering can"


def token_in(output):
    return re.search(r"/slips/([\w-]{32})$", output, re.MULTILINE)[1]


def use(surroundings, token):
    """Use a link as a browser does, and return the status of a page for coordinators afterwards."""
    app = create_app(
        Settings(database_url=f"sqlite:///{surroundings}", instance=surroundings.parent, secret_key="k" * 40)
    )
    client = app.test_client()
    values = form_values(client.get(f"/slips/{token}").text)
    client.post(f"/slips/{token}", data=values | {"passphrase": PASSPHRASE, "again": PASSPHRASE})
    status = client.get("/people").status_code
    with app.app_context():
        db.engine.dispose()
    return status


def test_invite_lets_a_new_coordinator_in(run, surroundings):
    output = run("invite", "Ruth Tan").stdout
    assert output.startswith("Ruth Tan opens http://127.0.0.1:5000/slips/")
    assert use(surroundings, token_in(output)) == 200


def test_invite_gives_one_who_is_there_another_link_under_the_address_on_paper(run, surroundings, monkeypatch):
    use(surroundings, token_in(run("invite", "Ruth Tan").stdout))
    monkeypatch.setenv("PUBLIC_URL", "http://shed.lan:5000")
    output = run("invite", "ruth  tan").stdout
    assert output.startswith("Ruth Tan opens http://shed.lan:5000/slips/")
    assert use(surroundings, token_in(output)) == 200
    engine = create_engine(f"sqlite:///{surroundings}")
    with engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM account")).scalar_one() == 1
        assert set(connection.execute(text("SELECT via FROM history")).scalars()) == {"command", "page"}
    engine.dispose()


def test_invite_makes_a_member_a_coordinator_only_when_told(run, surroundings):
    run("invite", "Ada Brandt", "--role", "member")
    assert use(surroundings, token_in(run("invite", "Ada Brandt").stdout)) == 403
    assert use(surroundings, token_in(run("invite", "Ada Brandt", "--role", "coordinator").stdout)) == 200


def test_invite_keeps_the_last_coordinator(run, surroundings):
    use(surroundings, token_in(run("invite", "Ruth Tan").stdout))
    assert "Nobody else" in run("invite", "Ruth Tan", "--role", "member", status=1).stderr


def test_invite_needs_a_name(run):
    run("invite", "  ", status=2)
