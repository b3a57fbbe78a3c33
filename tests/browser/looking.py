"""What is looked at on a page in Chromium: its weight, its width, what a finger can hit, and what axe-core finds."""

import re
from contextlib import contextmanager
from dataclasses import dataclass, field

from axe_playwright_python.sync_playwright import Axe

from tests.browser.gardens import HOST, MISSING

WIDTHS = (1280, 768, 360)
PHONE = 360
THEMES = ("light", "dark")
# 44 px are what WCAG 2.2 asks for in 2.5.5 (AAA); 2.5.8 (AA) asks for 24. Both leave out links within a sentence.
TOUCH_PX = 44
SMALL = """(least) => {
  const found = [];
  for (const one of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")) {
    if (!one.checkVisibility({visibilityProperty: true})) continue;
    const label = one.matches("[type=checkbox], [type=radio]") &&
      (one.closest("label") || document.querySelector(`label[for="${one.id}"]`));
    const box = (label || one).getBoundingClientRect();
    if (box.bottom <= 0 || box.width <= 1) continue;
    const around = one.closest("p, li, dd, td, th, caption") || one.parentElement;
    const beside = around.textContent.trim().length > one.textContent.trim().length;
    if (one.matches("a") && beside && getComputedStyle(one).display === "inline") continue;
    if (box.height < least - 0.5 || box.width < least - 0.5)
      found.push(`${one.tagName} ${one.className} ${Math.round(box.width)}x${Math.round(box.height)}: ` +
        (one.textContent.trim() || one.name || one.id).slice(0, 40));
  }
  return found;
}"""
FACTS = """() => ({
  lang: document.documentElement.lang,
  title: document.title,
  levels: [...document.querySelectorAll("h1, h2, h3, h4")].map((one) => Number(one.tagName[1])),
})"""


@dataclass
class Looked:
    """One page as it was found."""

    name: str
    title: str = ""
    wire_bytes: int = 0
    requests: int = 0
    faults: list[str] = field(default_factory=list)


@contextmanager
def looking(browser, made, base, language="en"):
    """Give a page of a coordinator's browser and the lists in which it notes what goes wrong and what is sent."""
    context = browser.new_context(base_url=base, locale=language, viewport={"width": WIDTHS[0], "height": 900})
    context.add_cookies([{"name": "traymates", "value": made.cookie, "url": base}])
    page = context.new_page()
    page.troubles, page.sent = [], []
    page.on("console", lambda said: page.troubles.append(said.text) if said.type in {"error", "warning"} else None)
    page.on("pageerror", lambda error: page.troubles.append(str(error)))
    page.on("request", lambda request: None if is_own(request.url) else page.troubles.append(request.url))
    page.on("request", lambda request: note_request(page, request))
    yield page
    context.close()


def note_request(page, request):
    """Note what a page asks for, from its address on: what the page before it still waited for is not its weight."""
    if request.is_navigation_request() and request.redirected_from is None:
        page.sent.clear()
    page.sent.append(request)


def is_own(url):
    """Return whether a request goes to the program itself."""
    return re.match(rf"http://{HOST}:\d+/|data:|about:blank$", url) is not None


def wire_bytes(request):
    """Return what an answer takes on the wire, head and body, as one that has not been asked for before."""
    sizes = request.sizes()
    body = int(request.response().headers.get("content-length", 0))
    return sizes["responseHeadersSize"] + max(body, sizes["responseBodySize"])


def look(page, name, address, *, widths=WIDTHS, language="en"):
    """Open a page and return its weight and what is wrong with it by measure."""
    page.troubles.clear()
    page.emulate_media(color_scheme=THEMES[0])
    answer = page.goto(address, wait_until="load")
    looked = Looked(name)
    if not (answer.status == 404 if name in MISSING else answer.ok):
        looked.faults.append(f"answers {answer.status}")
    facts = page.evaluate(FACTS)
    looked.title = facts["title"]
    if facts["lang"] != language:
        looked.faults.append(f"says its language is {facts['lang']}")
    steps = zip(facts["levels"], facts["levels"][1:], strict=False)
    if facts["levels"][:1] != [1] or any(after > before + 1 for before, after in steps):
        looked.faults.append(f"heads out of order: {facts['levels']}")
    for width in widths:
        page.set_viewport_size({"width": width, "height": 900})
        wide = page.evaluate("document.documentElement.scrollWidth")
        if wide > width:
            looked.faults.append(f"is {wide} px wide on {width} px")
    if PHONE in widths:
        looked.faults.extend(f"too small for a finger: {one}" for one in page.evaluate(SMALL, TOUCH_PX))
    # Chromium keeps styles in memory, whatever it is told; their length stands in their head.
    looked.wire_bytes = sum(map(wire_bytes, page.sent))
    looked.requests = len(page.sent)
    looked.faults.extend(said for said in page.troubles if name not in MISSING or "404" not in said)
    return looked


def scan(page, *, width, theme):
    """Return what axe-core finds on the page that is open."""
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=theme)
    violations = Axe().run(page).response["violations"]
    return [
        f"axe, {width} px, {theme}: {one['id']}: {[node['target'] for node in one['nodes']][:3]}" for one in violations
    ]
