"""Whoever signs in while too many others do is refused at once, and the others' turns end with their requests."""

import threading

import pytest

from app.services import accounts
from app.services.accounts import WrongError
from app.web import crowd

FORM = {"name": "Nobody", "passphrase": "not the right one"}


@pytest.fixture
def sent(app):
    """Return a function that sends the form from a browser of its own; forms need no token here."""
    app.config["WTF_CSRF_ENABLED"] = False
    return lambda: app.test_client().post("/sign-in", data=FORM)


def test_turns_end_with_their_requests(sent, monkeypatch):
    monkeypatch.setattr(accounts, "sign_in", lambda *_: (_ for _ in ()).throw(WrongError))
    assert [sent().status_code for _ in range(3 * crowd.AT_ONCE)] == [403] * (3 * crowd.AT_ONCE)


def test_whoever_is_too_many_is_told_to_come_again(sent, monkeypatch):
    begun, go_on = threading.Semaphore(0), threading.Event()

    def wait(*_):
        begun.release()
        go_on.wait(20)
        raise WrongError

    monkeypatch.setattr(accounts, "sign_in", wait)
    answers = []
    threads = [threading.Thread(target=lambda: answers.append(sent().status_code)) for _ in range(crowd.AT_ONCE)]
    for thread in threads:
        thread.start()
    for _ in threads:
        assert begun.acquire(timeout=20)
    for _ in range(2):  # the page is kept, and the same for everybody
        refused = sent()
        assert refused.status_code == 503
        assert refused.headers["Retry-After"]
        assert refused.headers["Content-Security-Policy"]
        assert "Many people are signing in" in refused.text
        assert "Nobody" not in refused.text
    go_on.set()
    for thread in threads:
        thread.join(20)
    assert answers == [403] * crowd.AT_ONCE
    assert sent().status_code == 403
