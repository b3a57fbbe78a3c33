"""A coordinator makes an over-full plan fit: looks for one, reads it, accepts it, takes it back."""

import pytest
from axe_playwright_python.sync_playwright import Axe

WIDTHS = (360, 1280)


def require_good(page):
    """Check a page as it stands, on a phone and on a desk: accessible, and no wider than the screen."""
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        faults = Axe().run(page).response["violations"]
        assert [(fault["id"], [node["target"] for node in fault["nodes"]][:3]) for fault in faults] == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def press(page, name):
    page.get_by_role("button", name=name).first.click()
    page.wait_for_load_state()


@pytest.mark.browser
def test_a_coordinator_finds_a_plan_that_fits_accepts_it_and_takes_it_back(page):
    page.goto("/ledger")
    page.get_by_role("main").get_by_role("link", name="Make it fit").click()
    page.get_by_label("Look for at most").first.select_option(label="10 seconds")
    press(page, "Find a plan that fits")
    # The page of the search asks again by itself until there is an answer.
    page.get_by_role("heading", name="How good it is").wait_for(timeout=60_000)
    assert page.get_by_role("heading", level=1).inner_text() == "A plan that fits"
    require_good(page)

    page.get_by_role("link", name="Choose which").first.click()
    boxes = page.get_by_role("checkbox")
    count = boxes.count()
    assert count > 2
    require_good(page)
    boxes.first.uncheck()
    press(page, "Show what these come to")
    assert page.get_by_role("heading", level=1).inner_text() == f"What {count - 1} changes come to"
    require_good(page)
    page.get_by_role("link", name="Back to the plan").click()

    press(page, f"Accept all {count} changes")
    assert f"Accepted: {count} changes." in page.locator("main").inner_text()
    require_good(page)
    page.get_by_role("main").get_by_role("link", name="The ledger").click()
    assert "Everything finds room." in page.locator("main").inner_text()
    page.go_back()
    press(page, "Take it back")
    assert page.get_by_role("heading", level=1).inner_text() == "A plan that was taken back"
    page.goto("/ledger")
    assert "over-full" in page.locator("main").inner_text()
