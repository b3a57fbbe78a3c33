"""What a new coordinator does on the first day: look at the season, change a shelf, print the sheet."""

import re
import shutil
import subprocess

import pytest

from tests.conftest import STRICT


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
