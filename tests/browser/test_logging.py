"""Logging from a phone beside the shelves: few taps, and a network that comes and goes."""

import re
from itertools import count

import pytest

PHONE = {"width": 390, "height": 844}
LOGGED = re.compile("^Logged: ")
MOST_TAPS = 4
# Trays of the demo garden that are to be sown; each test takes its own.
TRAYS = count(70)

LOSE_ANSWERS = """
const real = window.fetch;
window.fetch = async (address, options) => {
  const answer = await real(address, options);
  if (options && options.method === "POST") throw new TypeError("the answer is lost");
  return answer;
};
"""

pytestmark = pytest.mark.browser


@pytest.fixture
def witness(browser, server, signed_in):
    """Return a page that looks at the log over a network of its own."""
    context = browser.new_context(base_url=server, storage_state=signed_in)
    page = context.new_page()
    page.goto("/log/entries")
    yield page
    context.close()


@pytest.fixture
def phone(browser, server, signed_in, witness):
    """Return a page of a phone's width; errors of the network are what these tests are about."""
    context = browser.new_context(base_url=server, viewport=PHONE, storage_state=signed_in, has_touch=True)
    page = context.new_page()
    page.witness, troubles = witness, []
    page.on("pageerror", lambda error: troubles.append(str(error)))
    yield page
    context.close()
    assert troubles == []


@pytest.fixture
def plain_phone(browser, server, signed_in, witness):
    """Return a page of a phone that runs no scripts."""
    context = browser.new_context(
        base_url=server, viewport=PHONE, storage_state=signed_in, has_touch=True, java_script_enabled=False
    )
    page = context.new_page()
    page.witness = witness
    yield page
    context.close()


def entries(page):
    """Return the lines of the whole log, as the program has it, whatever the phone's network does."""
    text = page.witness.evaluate("fetch('/log/entries.csv', {cache: 'no-store'}).then((answer) => answer.text())")
    return text.splitlines()[1:]


def entries_of(page, tray):
    return [line for line in entries(page) if f",{tray}," in line]


def save(page):
    page.get_by_role("button", name="Save", exact=True).click()


def open_tray(page):
    """Open the page on which a tray is logged that nobody has logged yet; return its number."""
    while True:
        number = next(TRAYS)
        answer = page.goto(f"/trays/{number}/log")
        if answer.status == 200 and page.get_by_role("link", name="Sown").count() and not entries_of(page, number):
            return number


def waits(page):
    return page.locator("#waiting")


def test_a_tray_is_logged_in_few_taps(phone):
    number = open_tray(phone)
    phone.goto(f"/T/{number}")
    taps = 0
    phone.get_by_role("link", name="Log", exact=True).last.tap()
    taps += 1
    phone.get_by_role("button", name="Save", exact=True).tap()
    taps += 1
    phone.get_by_text(LOGGED).wait_for()
    assert taps < MOST_TAPS  # reading the code is the first tap of three
    assert entries_of(phone, number)


def test_what_is_lost_takes_few_taps_more(phone):
    number = open_tray(phone)
    save(phone)
    phone.get_by_text(LOGGED).wait_for()
    phone.goto(f"/T/{number}")
    steps = [
        phone.get_by_role("link", name="Log", exact=True).last.tap,
        phone.get_by_role("link", name="Lost", exact=True).tap,
        phone.get_by_text("Damping off").tap,
    ]
    for step in steps:
        step()
    box = phone.locator("input[name^=take_]").first
    if box.count():
        box.check()
    phone.locator("input.number").first.fill("2")
    save(phone)
    phone.get_by_text(LOGGED).wait_for()
    assert len(steps) + 1 <= MOST_TAPS
    assert any("damping off" in line for line in entries_of(phone, number))


def test_without_a_network_it_waits_and_is_sent_once_it_is_back(phone):
    number = open_tray(phone)
    phone.context.set_offline(True)
    save(phone)
    waits(phone).get_by_text("waiting to be sent").wait_for()
    assert not phone.get_by_text(LOGGED).count()
    assert "Not saved yet" in waits(phone).inner_text()
    phone.context.set_offline(False)
    waits(phone).get_by_text("Sent and saved").wait_for()
    sent = entries_of(phone, number)
    assert sent
    phone.goto("/")
    assert not waits(phone).count()
    assert entries_of(phone, number) == sent


def test_what_waits_is_shown_on_every_page_and_sent_from_there(phone):
    number = open_tray(phone)
    phone.route(
        re.compile(r"/log"), lambda route: route.abort() if route.request.method == "POST" else route.continue_()
    )
    save(phone)
    waits(phone).wait_for()
    for address in ("/trays", "/growers", "/setup"):
        phone.goto(address)
        waits(phone).get_by_text("1 entry is waiting to be sent").wait_for()
    phone.unroute_all()
    phone.evaluate("dispatchEvent(new Event('online'))")
    waits(phone).get_by_text("Sent and saved").wait_for()
    assert entries_of(phone, number)


def test_an_answer_that_is_lost_makes_no_second_entry(phone):
    """The program has saved it, but the phone never hears so."""
    number = open_tray(phone)

    phone.evaluate(LOSE_ANSWERS)
    save(phone)
    waits(phone).get_by_text("waiting to be sent").wait_for()
    sent = entries_of(phone, number)
    assert sent
    phone.reload()
    waits(phone).get_by_text("Sent and saved").wait_for()
    assert entries_of(phone, number) == sent


def test_a_slow_network_says_that_it_waits_and_saves_once(phone):
    number = open_tray(phone)
    phone.route(re.compile(r"/log"), lambda route: (phone.wait_for_timeout(2500), route.continue_()))
    save(phone)
    waits(phone).get_by_text("is being sent").wait_for()
    assert not phone.get_by_text(LOGGED).count()
    phone.get_by_text(LOGGED).wait_for()
    assert not waits(phone).count()
    lines = entries_of(phone, number)
    assert len(lines) == len(set(lines))


def test_an_entry_typed_before_signing_in_ended_is_kept_and_sent_after(phone):
    number = open_tray(phone)
    cookies = phone.context.cookies()
    phone.context.clear_cookies()
    save(phone)
    waits(phone).get_by_text("sign in").first.wait_for()
    assert waits(phone).get_by_role("link", name="Sign in").count() == 1
    phone.context.add_cookies(cookies)
    assert not entries_of(phone, number)
    phone.goto("/trays")
    waits(phone).get_by_text("Sent and saved").wait_for()
    assert entries_of(phone, number)


def test_what_the_program_refuses_is_said_and_the_filled_form_is_kept(phone):
    number = open_tray(phone)
    phone.locator("input.number").first.fill("999")
    save(phone)
    phone.get_by_text("no more can be sown there").first.wait_for()
    assert phone.locator("input.number").first.input_value() == "999"
    assert not entries_of(phone, number)
    phone.locator("input.number").first.fill("1")
    save(phone)
    phone.get_by_text(LOGGED).wait_for()
    assert not waits(phone).count()
    assert entries_of(phone, number)


def test_what_waited_and_is_refused_can_be_looked_at_and_put_right(phone):
    number = open_tray(phone)
    phone.locator("input.number").first.fill("999")
    phone.context.set_offline(True)
    save(phone)
    waits(phone).get_by_text("waiting to be sent").wait_for()
    phone.context.set_offline(False)
    waits(phone).get_by_text("was not taken").wait_for()
    phone.goto("/trays")
    waits(phone).get_by_role("button", name="Look at it").click()
    phone.get_by_text("no more can be sown there").first.wait_for()
    assert not waits(phone).count()
    assert phone.locator("input.number").first.input_value() == "999"
    phone.locator("input.number").first.fill("1")
    save(phone)
    phone.get_by_text(LOGGED).wait_for()
    assert not waits(phone).count()
    assert entries_of(phone, number)


def test_what_was_typed_and_not_sent_stands_there_again(phone):
    number = open_tray(phone)
    phone.locator("input.number").first.fill("2")
    phone.goto("/trays")
    phone.goto(f"/trays/{number}/log")
    assert phone.locator("input.number").first.input_value() == "2"
    phone.get_by_text("it is not saved yet").wait_for()
    phone.get_by_role("button", name="Begin anew").click()
    phone.wait_for_load_state()
    assert phone.locator("input.number").first.input_value() != "2"


def test_without_scripts_it_is_a_plain_form(plain_phone):
    number = open_tray(plain_phone)
    plain_phone.locator("input.number").first.fill("999")
    save(plain_phone)
    assert "no more can be sown there" in plain_phone.locator("main").inner_text()
    assert plain_phone.locator("input.number").first.input_value() == "999"
    plain_phone.locator("input.number").first.fill("1")
    save(plain_phone)
    plain_phone.get_by_text(LOGGED).wait_for()
    assert entries_of(plain_phone, number)


def test_without_scripts_the_way_back_keeps_the_filled_form(plain_phone):
    number = open_tray(plain_phone)
    plain_phone.locator("input.number").first.fill("1")
    plain_phone.get_by_label("Day", exact=True).fill("9 Apr 2027")
    save(plain_phone)
    plain_phone.get_by_text(LOGGED).wait_for()
    plain_phone.go_back()
    assert plain_phone.locator("input.number").first.input_value() == "1"
    assert plain_phone.get_by_label("Day", exact=True).input_value() == "9 Apr 2027"
    assert entries_of(plain_phone, number)
