"""What a form changes can be undone on the page after it, or a page asks first and says what goes: each form."""

import re

import pytest

from tests.web.access_table import TABLE
from tests.web.everything import ASKED, addresses, contents, fill
from tests.web.filling import form_values, posted_forms
from tests.web.pages import read_page

# asks: its own page asks first. shown: a page shows first what it would do. edits: the same form puts it back, and the
# history has what was there. undone X: by the form X. adds X: removed by X. nothing: nothing of the garden goes by it.
WAYS = """
account.clear_pin asks
account.email edits
account.end_device nothing: that device signs in anew
account.name edits
account.passphrase edits
account.pin edits
account.sign_out_everywhere nothing: every device signs in anew
backups.make nothing: it makes one more
backups.settings edits
batches.undo shown
bench.begin undone bench.end
bench.done nothing: who is at the tablet says so again
bench.end asks
bench.person nothing: who is at the tablet
bring_in.index undone batches.undo
connect.wifi edits
containers.delete asks
containers.edit edits
containers.new adds containers.delete
crops.delete asks
crops.edit edits
crops.new adds crops.delete
deal.accept shown
feeds.end undone feeds.make
feeds.make undone feeds.end
first_steps.away nothing: the page is kept under Set-up
first_steps.clear asks
first_steps.demo undone first_steps.clear
frost.paste shown
frost.remove asks
frost.save_risk shown
frost.upload adds frost.remove
growers.delete asks
growers.edit edits
growers.new adds growers.delete
labels.make nothing: it hands out a file
levelling.accept undone levelling.take_back
levelling.choose nothing: it shows a page
levelling.some nothing: it shows a page
levelling.start adds levelling.throw_away
levelling.start_with_shelf adds levelling.throw_away
levelling.stop nothing: it keeps the best so far
levelling.take_back shown
levelling.throw_away asks
log.correct undone log.correct
log.several undone log.take_back
log.sowing undone log.take_back
log.take_back undone log.sowing
log.tray undone log.take_back
mail.server edits
mail.test nothing: it sends a letter
next_season.carry shown
people.clear_pin asks
people.edit edits
people.end_bench undone bench.begin
people.erase_person asks
people.invite_growers adds people.erase_person
people.new adds people.erase_person
people.sign_out nothing: they sign in anew
people.slips nothing: it makes new slips
people.visitors edits
printing.address edits
printing.delete_printer asks
printing.delete_stock asks
printing.edit_printer edits
printing.edit_stock edits
printing.new_printer adds printing.delete_printer
printing.new_stock adds printing.delete_stock
rounds.accept shown
rounds.done undone rounds.reopen
rounds.give edits
rounds.keep undone rounds.offer
rounds.offer undone rounds.keep
rounds.reopen undone rounds.done
rounds.take undone rounds.offer
seed_lots.delete asks
seed_lots.delete_test asks
seed_lots.edit edits
seed_lots.new adds seed_lots.delete
seed_lots.new_test adds seed_lots.delete_test
setup.edit_frost edits
setup.edit_garden edits
setup.new nothing: there is no garden before
shelves.delete asks
shelves.edit edits
shelves.new adds shelves.delete
language.index edits
sign_in.demo undone sign_in.sign_out
sign_in.index undone sign_in.sign_out
sign_in.sign_out asks
sign_in.slip undone sign_in.sign_out
sowings.delete asks
sowings.edit edits
sowings.move shown
sowings.new adds sowings.delete
spares.ask adds spares.withdraw_request
spares.give undone spares.take_back
spares.offer adds spares.withdraw_offer
spares.take_back undone spares.give
spares.withdraw_offer asks
spares.withdraw_request asks
trays.delete asks
trays.exchange undone trays.exchange
trays.mark undone trays.unmark
trays.move undone trays.move
trays.pin edits
trays.pin_position edits
trays.renumber edits
trays.start adds trays.delete
trays.unmark undone trays.mark
week.again adds sowings.delete
week.tick undone week.untick
week.untick undone week.tick
wishes.decide undone sowings.new
wishes.keep_all adds sowings.delete
"""
FORMS = dict(line.split(" ", 1) for line in WAYS.split("\n") if line)
FOUND = 302
REMOVES = re.compile(r"delete|remove|clear|erase|withdraw|throw_away|carry")
SHOWN_ON = {"batches.undo": "batches.show",
            "deal.accept": "deal.index", "rounds.accept": "rounds.share", "sowings.move": "sowings.day",
            "next_season.carry": "next_season.index", "frost.save_risk": "frost.index", "frost.paste": "frost.paste",
            "levelling.take_back": "levelling.show"}  # fmt: skip


def test_of_every_form_is_said_what_becomes_of_a_mistake():
    posted = {endpoint for endpoint, method in TABLE if method == "POST"}
    assert posted - set(FORMS) == set()
    assert set(FORMS) - posted == set()
    for endpoint, way in FORMS.items():
        kind, _, other = way.partition(" ")
        assert kind in {"asks", "shown", "edits", "undone", "adds", "nothing:"}, endpoint
        assert kind not in {"undone", "adds"} or (other, "POST") in TABLE, endpoint
        assert kind not in {"asks", "edits"} or way == kind


def test_what_removes_something_asks_or_shows_first():
    assert {e for e in FORMS if REMOVES.search(e)} <= {e for e, way in FORMS.items() if way in {"asks", "shown"}}
    for endpoint, way in FORMS.items():
        if way == "asks":
            assert (endpoint, "GET") in TABLE, endpoint
        if way == "shown":
            assert (SHOWN_ON[endpoint], "GET") in TABLE


@pytest.fixture
def values(engine):
    return fill(engine)


def test_a_page_that_asks_says_what_goes_has_one_button_and_a_way_out(app, client, engine, values):
    before = contents(engine)
    reading = addresses(app, values, "GET")
    asked = 0
    for endpoint, way in FORMS.items():
        if way != "asks" or endpoint == "bench.end":  # the tablet's own page asks for a coordinator's passphrase
            continue
        answer = client.get(reading[endpoint])
        if answer.status_code == FOUND:  # there is nothing to remove, and the page of the thing says so
            continue
        page = read_page(answer.text)
        here = reading[endpoint].partition("?")[0]
        own = [form for form in posted_forms(page) if form.attributes.get("action") in {None, here}]
        refused = "is in use" in answer.text or "has sowings" in answer.text or "not empty" in answer.text
        assert own or refused or "is sown" in answer.text, endpoint
        if own:
            asked += 1
            text = " ".join(next(iter(page.all("main"))).text.split())
            assert len(text) > 60, endpoint
            assert [a for a in page.all("a") if a.within("main") and a.has_class("plain")], endpoint
    assert asked > 8
    assert contents(engine) == before


def test_a_pin_an_offer_and_a_plan_go_only_after_the_page_that_asks(app, client, engine, values):
    reading = addresses(app, values, "GET")
    for endpoint, said in (
        ("people.clear_pin", "has no PIN any more"),
        ("spares.withdraw_offer", "The offer is withdrawn"),
        ("spares.withdraw_request", "Asked for no longer"),
        ("levelling.throw_away", "The plan was thrown away"),
    ):
        opened = client.get(reading[endpoint])
        assert opened.status_code == 200
        forms = posted_forms(read_page(opened.text))
        answer = client.post(reading[endpoint], data=form_values(opened.text, len(forms) - 1), follow_redirects=True)
        assert said in answer.text


def test_asked_addresses_are_those_of_pages():
    assert set(ASKED) <= {endpoint for endpoint, _ in TABLE}
