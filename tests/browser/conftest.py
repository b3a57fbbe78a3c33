"""A real server on the demo garden, and a real browser that reaches it by a plain name of the garden's network.

Loopback addresses get special treatment in browsers; the phones of a garden do not.
"""

import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request

import pytest
from playwright.sync_api import sync_playwright

from tests.conftest import STRICT

HOST_NAME = "shed.lan"
FLAGS = [
    f"--host-resolver-rules=MAP {HOST_NAME} 127.0.0.1",
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def chromium_path():
    path = shutil.which("chromium")
    if path is None:
        (pytest.fail if STRICT else pytest.skip)("no chromium on this machine")
    return path


@pytest.fixture(scope="module")
def browser(chromium_path):
    """Return a browser that is gone before other tests begin: its event loop would be in their way."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def database(tmp_path_factory):
    """Return the surroundings of a program with a fresh database and a free port."""
    folder = tmp_path_factory.mktemp("server")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    return os.environ | {
        "DATABASE_URL": f"sqlite:///{folder / 'garden.sqlite3'}",
        "TRAYMATES_INSTANCE": str(folder),
        "PORT": str(port),
        "PUBLIC_URL": f"http://{HOST_NAME}:{port}",
    }


@pytest.fixture(scope="module")
def server(database):
    """Start the program as its users do, on a fresh database with the demo garden; return its address."""
    environ, port = database, database["PORT"]
    command = [sys.executable, "-c", "from app.cli import main; main()"]
    subprocess.run([*command, "demo", "--if-empty"], env=environ, check=True, capture_output=True)
    process = subprocess.Popen([*command, "serve", "--today", "2027-04-10"], env=environ, stdout=subprocess.PIPE)
    try:
        wait_until_it_answers(f"http://127.0.0.1:{port}/", process)
        yield f"http://{HOST_NAME}:{port}"
    finally:
        process.terminate()
        assert process.wait(timeout=20) == 0
        process.stdout.close()


def wait_until_it_answers(address, process):
    for _ in range(200):
        assert process.poll() is None, "the server ended before it answered"
        try:
            with urllib.request.urlopen(address) as answer:
                return answer.status
        except OSError:
            time.sleep(0.1)
    raise TimeoutError(address)


@pytest.fixture(scope="module")
def signed_in(browser, server, database):
    """Come in by a one-time link and choose a passphrase, as the first coordinator does; return the browser's state."""
    command = [sys.executable, "-c", "from app.cli import main; main()", "invite", "Ruth Tan"]
    said = subprocess.run(command, env=database, check=True, capture_output=True, text=True).stdout
    context = browser.new_context(base_url=server)
    page = context.new_page()
    page.goto(re.search(r"http://\S+/slips/\S+", said)[0])
    page.get_by_label("Passphrase").fill("green tin watering can")
    page.get_by_label("The same once more").fill("green tin watering can")
    page.get_by_role("button", name="Save and sign in").click()
    page.get_by_text("Signed in as Ruth Tan").wait_for()
    state = context.storage_state()
    context.close()
    return state


@pytest.fixture
def page(browser, server, signed_in):
    """Return a page of desktop width; it fails the test for any console error or request to another host."""
    context = browser.new_context(base_url=server, viewport={"width": 1280, "height": 900}, storage_state=signed_in)
    page = context.new_page()
    troubles = []
    page.on("console", lambda message: troubles.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: troubles.append(str(error)))
    page.on("request", lambda request: troubles.append(request.url) if elsewhere(request.url, server) else None)
    yield page
    context.close()
    assert troubles == []


def elsewhere(url, server):
    return not (url.startswith((f"{server}/", "data:")) or re.fullmatch(r"about:blank", url))
