"""What a new coordinator does on the first day: look at the season, change a shelf, print the sheet."""

import re
import shutil
import subprocess

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.conftest import STRICT

PAGES = {
    "this week": "/",
    "a busy week": "/?week=2027-W21",
    "ledger": "/ledger",
    "week of the ledger": "/ledger/2027-W21",
    "make it fit": "/fit",
    "growers": "/growers",
    "a grower": "/growers/1",
    "new grower": "/growers/new",
    "sowings": "/sowings",
    "new sowing": "/sowings/new",
    "another day for a sowing": "/sowings/8/day?light=lamp",
    "crop cards": "/crops",
    "a crop card": "/crops/1",
    "new crop card": "/crops/new",
    "season fit": "/season",
    "supplies": "/supplies",
    "light": "/light",
    "containers": "/containers",
    "shelves": "/shelves",
    "new shelf": "/shelves/new",
    "a shelf": "/shelves/4?day=2027-05-08",
    "seed lots": "/seed-lots",
    "set-up": "/setup",
    "garden settings": "/setup/garden",
    "frost dates": "/setup/frost",
    "frost record": "/frost",
    "another risk": "/frost?risk=30&autumn_risk=20",
    "station's record": "/frost/record",
    "pasted table": "/frost/paste",
    "sheets": "/sheets",
    "weekly sheet": "/sheets/week/2027-W21",
    "hand-out sheet": "/sheets/hand-out",
    "sowing sheet": "/sheets/sowing?day=2027-05-15",
    "sowing sheet of what is sown": "/sheets/sowing?day=2027-04-03",
    "moves of a week": "/moves?week=2027-W21",
    "trays": "/trays",
    "trays that wait": "/trays?place=lamp&week=2027-W21&waits=yes",
    "a tray": "/trays/20",
    "tray to sow": "/trays/70",
    "tray of small cells": "/trays/1",
    "moving a tray": "/trays/70/lamp/move",
    "changing trays": "/trays/70/exchange",
    "starting a tray": "/trays/900/start",
    "deal of the season": "/trays/deal",
    "deal of a day": "/trays/deal?day=2027-04-24",
    "board notice": "/notice?week=2027-W20",
    "labels": "/labels",
    "tray labels": "/labels?filled=2027-04-10",
    "stake labels": "/labels?kind=stake&trays=1-4",
    "tags": "/labels?kind=tag&trays=1-50",
    "labels to make again": "/labels/again",
    "printers": "/labels/printers",
    "new printer": "/labels/printers/new",
    "new label stock": "/labels/stock/new/sheet",
    "address for phones": "/labels/address",
}
WIDTHS = {"phone": 360, "desk": 1280}


@pytest.mark.browser
def test_a_coordinator_sees_the_ledger_change_with_a_shelf_and_prints_the_sheet(page, tmp_path):
    page.goto("/")
    assert "Wrenmoor" in page.locator("header").inner_text()
    assert "Saturday 10 April 2027" in page.locator("body").inner_text()

    page.get_by_role("navigation", name="Main").get_by_role("link", name="Shelf ledger").click()
    before = ledger_row(page, "W21")
    assert "over" in before

    page.get_by_role("navigation", name="Main").get_by_role("link", name="Set-up").click()
    page.get_by_role("link", name=re.compile("lamp rack")).first.click()
    page.get_by_label(re.compile("positions", re.IGNORECASE)).first.fill("60")
    page.get_by_role("button", name=re.compile("save", re.IGNORECASE)).click()

    page.get_by_role("navigation", name="Main").get_by_role("link", name="Shelf ledger").click()
    after = ledger_row(page, "W21")
    assert after != before
    assert "over" not in after

    page.get_by_role("navigation", name="Main").get_by_role("link", name="Weekly sheet").click()
    with page.expect_download() as download:
        page.get_by_role("link", name=re.compile("PDF", re.IGNORECASE)).first.click()
    sheet = tmp_path / "sheet.pdf"
    download.value.save_as(sheet)
    text = text_of(sheet)
    assert "Wrenmoor" in text
    assert "W14" in text


def ledger_row(page, week):
    return page.get_by_role("row").filter(has_text=week).first.inner_text()


def text_of(pdf):
    if shutil.which("pdftotext") is None:
        (pytest.fail if STRICT else pytest.skip)("no pdftotext on this machine")
    return subprocess.run(["pdftotext", "-layout", pdf, "-"], check=True, capture_output=True, text=True).stdout


@pytest.mark.browser
@pytest.mark.parametrize("width", WIDTHS.values(), ids=WIDTHS)
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("address", PAGES.values(), ids=PAGES)
def test_a_page_is_accessible_and_fits_its_screen(page, address, width, scheme):
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    answer = page.goto(address)
    assert answer.status == 200
    faults = Axe().run(page).response["violations"]
    assert [(fault["id"], [node["target"] for node in fault["nodes"]][:3]) for fault in faults] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
