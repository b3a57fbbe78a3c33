"""Makes the pictures of the guides in docs/pictures/ from the demo garden: `make pictures`.

They are made anew when a page that they show has changed; tests/rules/test_guides.py looks that none is missing, left
over or too heavy.
"""

import os
import shutil
import socket
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.conftest import wait_until_it_answers
from tests.rules.tree import ROOT

FOLDER = ROOT / "docs" / "pictures"
COMMAND = [sys.executable, "-c", "from app.cli import main; main()"]
DESK, PHONE = {"width": 1000, "height": 640}, {"width": 360, "height": 640}
# Name of the file: address of the page, size of the window.
PICTURES = {
    "week": ("/", DESK),
    "ledger": ("/ledger", DESK),
    "wishes": ("/wishes", DESK),
    "day": ("/sowings/81/day", DESK | {"height": 660}),
    "tray": ("/trays/1", DESK),
    "log": ("/trays/1/log", PHONE),
    "rounds": ("/rounds", DESK),
    "connect": ("/connect", DESK),
}


def main():
    """Serve a demo garden on a free port, and take each picture."""
    with tempfile.TemporaryDirectory() as folder, socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
        probe.close()
        environ = os.environ | {
            "DATABASE_URL": f"sqlite:///{Path(folder) / 'garden.sqlite3'}",
            "TRAYMATES_INSTANCE": folder,
            "PUBLIC_URL": "http://shed.lan:5000",
            "PORT": str(port),
        }
        subprocess.run([*COMMAND, "demo"], env=environ, check=True, capture_output=True)
        server = subprocess.Popen([*COMMAND, "serve", "--today", "2027-04-10"], env=environ, stdout=subprocess.DEVNULL)
        try:
            wait_until_it_answers(f"http://127.0.0.1:{port}/", server)
            take(f"http://127.0.0.1:{port}")
        finally:
            server.terminate()
            server.wait(timeout=20)


def take(site):
    """Take each picture as the demo's coordinator sees the page, by day, without its head."""
    FOLDER.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page(color_scheme="light")
        page.goto(f"{site}/sign-in")
        page.get_by_role("button", name="demo").first.click()
        for name, (address, size) in PICTURES.items():
            page.set_viewport_size(size)
            page.goto(site + address)
            top = int(page.locator("main").bounding_box()["y"])
            page.set_viewport_size(size | {"height": size["height"] + top})
            page.screenshot(path=FOLDER / f"{name}.png", clip={"x": 0, "y": top, **size})
        browser.close()


if __name__ == "__main__":
    main()
