"""Every page that answers a GET, in a garden with everything, in an empty one, and in a large one with long names.

`make test` opens a part of them on three widths, measures them, and has axe-core look at some. Each garden's part is
drawn by the page's name, so that it stays the same, each page on one width in one theme. `make soak` opens every page,
and has it look at each on every width, in both themes.
"""

import zlib
from collections import defaultdict

import pytest

from app.language import ENGLISH, LANGUAGES
from tests.browser.gardens import KINDS, make_garden, served
from tests.browser.looking import PHONE, THEMES, WIDTHS, look, looking, scan
from tests.lengths import SOAK, is_taken

pytestmark = [pytest.mark.browser, pytest.mark.soak]

# The first page of an empty garden is its first steps.
ALIKE = {"week.index", "first_steps.index"}
MOST_BYTES = 150_000
MOST_REQUESTS = 4
# Of so many, it opens one in French and one in Spanish.
TRANSLATED = 16
# Of so many pages, axe-core looks at one in `make test`.
SHARES = {"demo": 8, "empty": 24, "large": 24}
# And of so many it opens one; an empty page is seldom too wide.
OPENED = {"demo": 2, "empty": 6, "large": 4}
TRANSLATIONS = [code for code in LANGUAGES if code != ENGLISH]
SCANS = [(width, theme) for theme in THEMES for width in WIDTHS]
# The way back by the keyboard leads through the whole page; these have something of every kind.
WALKED = ("ledger.index", "log.tray", "sowings.new", "trays.show")


@pytest.fixture(scope="module", params=KINDS)
def garden(request, tmp_path_factory):
    """Return a garden and the address at which it is served."""
    kind = request.param
    made = make_garden(kind, tmp_path_factory.mktemp(kind), lambda name: is_looked_at(name, kind))
    with served(made) as base:
        yield made, base


def is_looked_at(name, kind):
    """Return whether a page of a garden is opened by any of these tests."""
    is_translated = any(is_taken(f"{name} {language}", TRANSLATED) for language in TRANSLATIONS)
    return is_taken(name, OPENED[kind]) or is_translated or name in WALKED


def scans_of(name, kind):
    """Return the widths and themes in which axe-core looks at a page: all, or one that its name draws, or none."""
    drawn = zlib.crc32(name.encode())
    if SOAK:
        return SCANS
    return [SCANS[drawn // SHARES[kind] % len(SCANS)]] if is_taken(name, SHARES[kind]) else []


def test_every_page_fits_its_screen_a_finger_and_the_network_and_is_accessible(browser, garden):
    made, base = garden
    faults, titles = [], defaultdict(set)
    with looking(browser, made, base) as page:
        for name, address in made.pages.items():
            if not is_taken(name, OPENED[made.kind]):
                continue
            looked = look(page, name, address)
            for width, theme in scans_of(name, made.kind):
                looked.faults.extend(scan(page, width=width, theme=theme))
            if looked.wire_bytes > MOST_BYTES:
                looked.faults.append(f"takes {looked.wire_bytes} bytes")
            if looked.requests > MOST_REQUESTS:
                looked.faults.append(f"takes {looked.requests} requests")
            titles[looked.title].add(name.partition(",")[0])
            faults.extend(f"{name} ({address}): {fault}" for fault in looked.faults)
    faults.extend(
        f"the same title: {names}, {title}"
        for title, names in titles.items()
        if len(names - ALIKE) + bool(names & ALIKE) > 1
    )
    assert faults == []


@pytest.mark.parametrize("language", TRANSLATIONS)
def test_pages_in_other_languages_fit_a_phone(browser, garden, language):
    made, base = garden
    faults = []
    with looking(browser, made, base, language) as page:
        for name, address in made.pages.items():
            if is_taken(f"{name} {language}", TRANSLATED):
                looked = look(page, name, address, widths=(PHONE,), language=language)
                faults.extend(f"{name} ({address}): {fault}" for fault in looked.faults)
    assert faults == []


def test_the_keyboard_reaches_everything_on_a_page_and_shows_where_it_is(browser, garden):
    made, base = garden
    if made.kind != "demo":
        pytest.skip("one garden is enough")
    with looking(browser, made, base) as page:
        for name in WALKED:
            page.goto(made.pages[name])
            wanted = page.evaluate(REACHABLE)
            page.keyboard.press("Tab")
            assert page.evaluate("document.activeElement.className") == "skip", "the first stop leads past the menu"
            assert page.evaluate("document.activeElement.getBoundingClientRect().top") >= 0, "and is seen"
            reached, unseen = 0, []
            for _ in range(wanted + 20):
                stop = page.evaluate(STOP)
                if stop is None:
                    break
                reached += 1
                if not stop["seen"]:
                    unseen.append(stop["words"])
                page.keyboard.press("Tab")
            assert unseen == [], name
            assert reached >= wanted, name


REACHABLE = """() => {
  const radios = new Set();
  return [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")]
    .filter((one) => one.checkVisibility({visibilityProperty: true}) && !one.disabled)
    .filter((one) => one.type !== "radio" || (!radios.has(one.name) && radios.add(one.name))).length;
}"""
STOP = """() => {
  const one = document.activeElement;
  if (one === document.body) return null;
  const style = getComputedStyle(one);
  const seen = one.matches(":focus-visible") && style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  return {seen, words: (one.textContent.trim() || one.name || one.id).slice(0, 40)};
}"""
