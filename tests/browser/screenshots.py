"""Every page and every PDF file as pictures: `make screenshots`, or `python -m tests.browser.screenshots --help`.

Pictures go to `OUT/garden/page.width.theme.png`, and beside them lies a contact sheet of each garden, width and theme.
"""

import argparse
import re
import subprocess
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.gardens import KINDS, make_garden, served

WIDTHS = (1280, 768, 360)
THEMES = ("light", "dark")
TALLEST_PX = 6000
DOTS_PER_INCH = 70
COLUMNS = {1280: 4, 768: 6, 360: 10}
THUMB_RATIO = 1.6


def file_name(name):
    """Return a page's name as a file has it."""
    return re.sub(r"[^\w.]+", "-", name)


def take_pages(browser, made, base, out, *, widths, themes, only):
    """Take every page of a garden; return the pictures by width and theme."""
    taken = {}
    for theme in themes:
        context = browser.new_context(base_url=base, color_scheme=theme, viewport={"width": widths[0], "height": 900})
        context.add_cookies([{"name": "traymates", "value": made.cookie, "url": base}])
        page = context.new_page()
        for name, address in made.pages.items():
            if only and not re.search(only, name):
                continue
            page.goto(address)
            for width in widths:
                page.set_viewport_size({"width": width, "height": 900})
                wide, tall = page.evaluate(
                    "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
                )
                if wide > width:
                    print(f"{made.kind}: {name} is {wide} px wide on {width} px")
                path = out / f"{file_name(name)}.{width}.{theme}.png"
                clip = {"x": 0, "y": 0, "width": width, "height": min(tall, TALLEST_PX)}
                page.screenshot(path=path, full_page=True, clip=clip)
                taken.setdefault((width, theme), []).append(path)
        context.close()
    return taken


def take_papers(browser, made, base, out, *, only):
    """Render every PDF file of a garden, grey as most printers make it."""
    context = browser.new_context(base_url=base)
    context.add_cookies([{"name": "traymates", "value": made.cookie, "url": base}])
    for name, address in made.papers.items():
        if only and not re.search(only, name):
            continue
        paper = out / f"{file_name(name)}.pdf"
        paper.write_bytes(context.request.get(address).body())
        command = ["pdftoppm", "-gray", "-png", "-r", str(DOTS_PER_INCH), paper, paper.with_suffix("")]
        subprocess.run(command, check=True)
    context.close()


def lay_out(browser, pictures, path, columns):
    """Lay many pictures on one, each cut to the same shape, with its name below."""
    width = 1900 // columns - 8
    cells = "".join(
        f"<figure><div><img src='{picture.as_uri()}'></div>"
        f"<figcaption>{picture.name.rsplit('.', 3)[0]}</figcaption></figure>"
        for picture in pictures
    )
    style = (
        f"body{{margin:4px;display:grid;grid-template-columns:repeat({columns},{width}px);gap:8px;background:#888}}"
        f"figure{{margin:0;background:#fff}}div{{height:{width * THUMB_RATIO:.0f}px;overflow:hidden}}"
        "img{display:block;width:100%}figcaption{font:11px sans-serif;padding:2px}"
    )
    html = path.with_suffix(".html")
    html.write_text(f"<!doctype html><meta charset=utf-8><title>{path.stem}</title><style>{style}</style>{cells}")
    page = browser.new_page(viewport={"width": 1900, "height": 900})
    page.goto(html.as_uri())
    page.screenshot(path=path, full_page=True)
    page.close()
    html.unlink()


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.browser.screenshots", description=__doc__)
    parser.add_argument("--out", type=Path, default=Path(tempfile.gettempdir()) / "traymates-screenshots")
    parser.add_argument("--garden", action="append", choices=KINDS, help="only this one; may stand several times")
    parser.add_argument("--width", action="append", type=int, help="only this one, in px; may stand several times")
    parser.add_argument("--theme", action="append", choices=THEMES, help="only this one")
    parser.add_argument("--only", help="only pages whose name has this, a regular expression: growers, ledger.week")
    parser.add_argument("--sheet-rows", type=int, default=2, help="rows of pictures on a contact sheet")
    parser.add_argument("--chromium", default="/usr/bin/chromium")
    asked = parser.parse_args()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=asked.chromium, args=["--no-sandbox"])
        for kind in asked.garden or KINDS:
            out = asked.out / kind
            out.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory() as folder:
                made = make_garden(kind, Path(folder))
                with served(made) as base:
                    taken = take_pages(
                        browser, made, base, out,
                        widths=asked.width or WIDTHS, themes=asked.theme or THEMES, only=asked.only,
                    )  # fmt: skip
                    take_papers(browser, made, base, out, only=asked.only)
            for (width, theme), pictures in taken.items():
                columns = COLUMNS.get(width, COLUMNS[1280])
                step = columns * asked.sheet_rows
                for at in range(0, len(pictures), step):
                    path = asked.out / f"{kind}.{width}.{theme}.{at // step + 1}.png"
                    lay_out(browser, pictures[at : at + step], path, columns)
        browser.close()
    print(f"The pictures are in {asked.out}")


if __name__ == "__main__":
    main()
