"""What pages weigh on the wire, as the table of docs/figures.md: `python -m tests.browser.weights`."""

import shutil
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.gardens import make_garden, served
from tests.browser.looking import look, looking

GARDENS = ("demo", "large")
ROWS = 12


def weigh(browser, kind):
    """Return each page of a garden by name: its address, its bytes on the wire, and its requests."""
    with tempfile.TemporaryDirectory() as folder:
        made = make_garden(kind, Path(folder))
        with served(made) as base, looking(browser, made, base) as page:
            looked = {name: look(page, name, address, widths=()) for name, address in made.pages.items()}
    return {name: (made.pages[name], one.wire_bytes, one.requests) for name, one in looked.items()}


def main():
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        demo, large = (weigh(browser, kind) for kind in GARDENS)
        browser.close()
    heaviest = sorted(large, key=lambda name: -large[name][1])
    print("| page | demo garden, kB | large garden, kB | requests |\n| --- | --- | --- | --- |")
    for name in heaviest[:ROWS]:
        address, wire_bytes, requests = large[name]
        print(f"| `{address}` | {demo[name][1] / 1000:.0f} | {wire_bytes / 1000:.0f} | {requests} |")
    rest = heaviest[ROWS:]
    light, heavy = (max(garden[name][1] for name in rest) / 1000 for garden in (demo, large))
    most = max(large[name][2] for name in rest)
    print(f"| each of the other {len(rest)}, at most | {light:.0f} | {heavy:.0f} | {most} |")


if __name__ == "__main__":
    main()
