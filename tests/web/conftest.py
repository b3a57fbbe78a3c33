"""What page tests share: a client whose every HTML answer is held to the rules in pages.py, and gardens."""

import pytest
from flask.testing import FlaskClient

from app.web.views import levelling
from tests.people import sign_in_as
from tests.web.everything import fill
from tests.web.pages import check_page
from tests.web.roles import hashes, world  # noqa: F401 - fixtures


def pytest_collection_modifyitems(items):
    """Have people sign in when the garden is there: it is put into a database without rows."""
    for item in items:
        getattr(item, "fixturenames", []).sort(key="client".__eq__)


class RuledClient(FlaskClient):
    """A client that fails on a page that breaks a rule."""

    def open(self, *args, **kwargs):
        kwargs.setdefault("buffered", True)
        response = super().open(*args, **kwargs)
        if response.mimetype == "text/html" and response.data and not 300 <= response.status_code < 400:
            check_page(response.text, protected=self.application.config.get("WTF_CSRF_ENABLED", True))
        return response


@pytest.fixture
def client(app):
    """Return a client that is signed in as a coordinator."""
    app.test_client_class = RuledClient
    client = app.test_client()
    sign_in_as(client)
    return client


@pytest.fixture
def visitor(app):
    """Return a client that is not signed in."""
    app.test_client_class = RuledClient
    return app.test_client()


@pytest.fixture
def made(engine, monkeypatch):
    """Add a garden of everything, in which no search for a plan really runs; return its ids."""
    monkeypatch.setattr(levelling, "launch_levelling", lambda *_: None)
    return fill(engine)
