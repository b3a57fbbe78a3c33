"""The first hour of a new garden: from an empty database to its first shelf ledger, and a list that is undone."""

import os
import re
import socket
import subprocess
import sys

import pytest

from tests.browser.conftest import HOST_NAME, wait_until_it_answers
from tests.browser.test_making_it_fit import press, require_good

GROWERS = "Member;Plot;Can come\nAda Brook;12;Sat, Sun\nTomas Lind;7b;any day\nMo Adler;3;Caturday\n"
SOWINGS = "Grower\tCrop\tPlants\tPlant out\nAda Brook\tTomato\t6\t5/6/2027\nTomas Lindt\tLeek\t40\t\n"


@pytest.fixture
def empty(tmp_path):
    """Start the program on a database with nothing in it; return its address and the link that it prints."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environ = os.environ | {
        "DATABASE_URL": f"sqlite:///{tmp_path / 'garden.sqlite3'}",
        "TRAYMATES_INSTANCE": str(tmp_path),
        "PORT": str(port),
        "PUBLIC_URL": f"http://{HOST_NAME}:{port}",
    }
    command = [sys.executable, "-c", "from app.cli import main; main()", "serve", "--today", "2027-04-10"]
    with (tmp_path / "said.txt").open("w") as said:
        process = subprocess.Popen(command, env=environ, stdout=said)
    try:
        wait_until_it_answers(f"http://127.0.0.1:{port}/sign-in", process)
        text = (tmp_path / "said.txt").read_text()
        yield f"http://{HOST_NAME}:{port}", re.search(r"http://\S+/slips/\S+", text)[0]
    finally:
        process.terminate()
        process.wait(timeout=20)


@pytest.fixture
def newcomer(browser, empty):
    """Return a page of somebody who has just become the first coordinator."""
    address, slip = empty
    context = browser.new_context(base_url=address)
    page = context.new_page()
    page.goto(slip)
    page.get_by_label("name").first.fill("Ruth Tan")
    page.get_by_label("Passphrase").fill("green tin watering can")
    page.get_by_label("The same once more").fill("green tin watering can")
    press(page, "Save and sign in")
    yield page
    context.close()


@pytest.mark.browser
def test_a_newcomer_gets_from_nothing_to_the_first_ledger(newcomer):
    page = newcomer
    page.get_by_role("heading", name="First steps").wait_for()
    require_good(page)
    page.get_by_role("link", name="Set up the garden").click()
    page.get_by_label("Latitude").fill("47.1")
    page.get_by_label("Average last frost").fill("10 May")
    page.get_by_label("Average first frost").fill("26 Sep")
    require_good(page)
    press(page, "Set up the garden")
    require_good(page)
    page.get_by_role("link", name="Add a shelf").click()
    press(page, "Add the shelf")

    page.goto("/")
    step(page, "Growers").get_by_role("link", name="From a spreadsheet").click()
    page.get_by_label("Rows from a spreadsheet").fill(GROWERS)
    press(page, "Read it")
    assert "Give weekdays" in page.locator("#wrong-rows").inner_text()
    require_good(page)
    press(page, "Save 2 growers and leave 1 row out")
    require_good(page)

    page.goto("/")
    step(page, "The first sowings").get_by_role("link", name="From a spreadsheet").click()
    page.get_by_label("Rows from a spreadsheet").fill(SOWINGS)
    press(page, "Read it")
    require_good(page)
    page.get_by_label("Saturday 5 June 2027").check()
    page.get_by_label("Grower “Tomas Lindt”").select_option(label="Tomas Lind")
    press(page, "Read it again")
    press(page, "Save 2 sowings")

    page.goto("/first-steps")
    require_good(page)
    page.get_by_role("link", name="See the shelf ledger").click()
    assert re.search(r"[1-9]\d* of 12", page.get_by_role("main").inner_text())

    page.goto("/history/batches")
    require_good(page)
    page.get_by_role("link", name="Sowings pasted").click()
    press(page, "Undo all of it")
    assert "2 rows are as they were" in page.get_by_role("main").inner_text()
    page.goto("/sowings")
    assert "There are no sowings yet" in page.get_by_role("main").inner_text()
    require_good(page)


@pytest.mark.browser
def test_a_newcomer_looks_at_the_demo_garden_and_clears_it_again(newcomer):
    page = newcomer
    press(page, "Look at the demo garden")
    page.get_by_role("heading", name="Shelf ledger").wait_for()
    page.goto("/first-steps")
    page.get_by_role("link", name="Clear it and begin with your own").click()
    require_good(page)
    press(page, "Clear it and begin with our own")
    assert "is kept in traymates-" in page.get_by_role("main").inner_text()
    page.get_by_role("link", name="Set up the garden").wait_for()


def step(page, name):
    return page.get_by_role("listitem").filter(has=page.get_by_role("heading", name=name))
