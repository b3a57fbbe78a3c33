"""Hostile input by class, into every field of every form: what is refused says so beside the field and changes nothing.

What each field is to make of each class stands here and in classes.py, not in the program. Every form is also sent as
its page has it, and every number and day written in another way: that must be taken, so that a form which refuses
everything fails too.
"""

import io

import pytest
from sqlalchemy import delete

from app.storage.base import Base
from app.storage.models import FailedTry
from app.web.forms.fields import TextField, TypedField
from app.web.forms.numbers import WholeNumberField
from tests.lengths import SOAK, every, is_taken
from tests.web.classes import (
    BLANKS,
    CLASSES,
    HIDDEN,
    LIKE_NUMBERS,
    NOTHING,
    OPEN,
    REFUSED,
    TAKEN,
    TOO_LONG,
    encoded,
)
from tests.web.everything import (
    PASSING,
    addresses,
    contents,
    endpoint_of,
    find_all_forms,
    find_forms,
    keep,
    put_back,
)
from tests.web.filling import errors_of

pytestmark = pytest.mark.soak
URLENCODED = "application/x-www-form-urlencoded"
PAGES_STEP = 4  # a page of so many has its forms tried
EVERY = every(41)  # with one of so many pairs of a field and a class
GUARDS = {"csrf_token", "key", "revision"}
PASSPHRASE = "four quiet words of straw"

# What is filled into a form that comes empty, so that it would be taken.
FILLED = {
    "sign_in.slip": {"name": "Ida Brook", "passphrase": PASSPHRASE, "again": PASSPHRASE},
    "levelling.start_with_shelf": {"shelf-place": "lamp", "shelf-positions": "4"},
    "growers.new": {"name": "Ida Brook"},
    "people.new": {"name": "Ida Brook", "role": "member"},
    "account.passphrase": {"passphrase": PASSPHRASE, "again": PASSPHRASE},
    "account.pin": {"pin": "7392"},
    "sowings.new": {"grower_id": "{grower_id}", "crop_id": "{crop_id}", "plants": "6"},
    "trays.renumber": {"new": "77"},
    "trays.start": {"container_id": "{container_id}"},
    "crops.new": {
        "name": "Leek",
        "hardiness": "hardy",
        "direct_sow_weeks": "2",
        "days_to_maturity": "100",
        "counted_from": "seed",
        "seeds_per_cell": "1",
    },
    "shelves.new": {"name": "Shed", "place": "lamp", "width_cm": "120", "depth_cm": "60", "levels": "2"},
    "containers.new": {"name": "Box", "cells_per_tray": "24", "cell_volume_ml": "90", "rows": "4", "columns": "6"},
    "seed_lots.new": {"name": "Jar", "crop_id": "{crop_id}"},
    "spares.offer": {"sowing_id": "{sowing_id}", "plants": "1"},
    "spares.ask": {"grower_id": "{grower_id}", "crop_id": "{crop_id}", "plants": "2"},
    "spares.give": {"offer_id": "{offer_id}", "plants": "1"},
    "seed_lots.new_test": {"date": "1 Mar 2027", "tried": "40", "up": "33", "days": "10"},
    "printing.new_printer": {"name": "Shed"},
    "mail.server": {
        "mail_host": "mail.example.org",
        "mail_port": "465",
        "mail_security": "tls",
        "mail_user": "garden",
        "passphrase": "any words",
        "mail_from": "garden@example.org",
    },
    "printing.new_stock": {
        "name": "Box",
        "paper": "a4",
        "columns": "2",
        "rows": "5",
        "label_width_mm": "90",
        "label_height_mm": "50",
        "left_mm": "10",
        "top_mm": "10",
    },
    "setup.new": {
        "name": "Wrenmoor",
        "season": "2027",
        "units": "metric",
        "latitude": "47",
        "last": "1 Jun",
        "first": "30 Aug",
    },
}
NOT_JUDGED = {"BooleanField", "PassphraseField", "PinField", "HiddenField", "FileField", "CSRFTokenField"}
# Answers other than 200 to what is refused.
REFUSED_STATUS = {"sowings.move": 409, "mail.test": 400}
# What is posted with nothing to type, or where nothing of the kind can be done in this garden.
WITHOUT_FIELDS = {
    "crops.delete", "growers.delete", "seed_lots.delete", "trays.delete",  # in use here
    "deal.accept", "frost.remove", "levelling.choose", "levelling.stop", "levelling.take_back", "trays.unmark",
    "rounds.keep", "rounds.reopen", "rounds.take",  # only once it is offered or done, by somebody who is a grower
    "spares.offer",  # no plant lives here by the log
    "wishes.keep_all",  # on the page of one grower
    "setup.new", "sign_in.demo", "sign_in.index",  # only before there is a garden, or before signing in
    "account.end_device", "account.clear_pin", "account.sign_out_everywhere", "people.end_bench",  # there is none here
    "bench.begin", "bench.done", "bench.end", "bench.person",  # at the bench tablet alone
    "log.take_back",  # on the page of another sowing
    "first_steps.away", "first_steps.clear", "first_steps.demo",  # only of a new garden, or of the demo
    "feeds.end", "mail.test",  # there is no address of hers, and no mail server
}  # fmt: skip
KINDS_OF_STOCK = {"columns", "paper"}  # by these a form of label stock tells which kind it is of
# Forms that are not taken as their page has them: something must be chosen or handed in first.
NOT_TAKEN = {"frost.upload", "frost.paste", "trays.move", "trays.exchange", "levelling.some", "people.slips"}
NOT_TAKEN |= {"bring_in.index"}  # a table must be pasted, and seen
NOT_TAKEN |= {"rounds.give"}  # somebody must be chosen first
NOT_TAKEN |= {"language.index"}  # one of its buttons must be pressed
NOT_TAKEN |= {"wishes.decide", "spares.give"}  # one of two buttons; no plant of the offer lives here
WITHOUT_FIELDS |= {"week.again"}  # nothing has failed here
NOT_TAKEN |= {"account.passphrase", "account.pin"}  # ask for the present passphrase, and this account has none
# What is answered to a made up value of what a form carries unseen.
HIDDEN_STATUS = {
    "csrf_token": 400,
    ("language.index", "back"): 400,  # no button was pressed
    "key": 409,  # or 400 where there is no form to show again
    "revision": 409,
    "mark": 409,
    "today": 409,
    "typed_by": 409,
    ("levelling.some", "take"): 400,
    ("feeds.make", "dates"): 404,
    ("week.tick", "day"): 302,
    ("week.tick", "week"): 302,
    ("week.untick", "week"): 302,
    ("trays.pin", "pinned"): 302,  # whatever is not yes is no
    ("trays.pin_position", "pinned"): 302,
    ("bring_in.index", "seen"): 200,
    ("frost.paste", "seen"): 200,  # shows what it read once more
}
# What is sent twice does no harm, or is answered each time: a key is not looked at.
WITHOUT_KEY = {"sign_in.slip", "sign_in.sign_out", "account.sign_out_everywhere", "levelling.some", "labels.make"}
WITHOUT_KEY |= {"backups.make"}


def expected(endpoint, field, name):
    """Return what a field makes of a class: text keeps what prints, everything else takes only what it asks for."""
    kind = type(field).__name__
    is_hidden = name in HIDDEN or name in TOO_LONG
    if kind in NOT_JUDGED or (endpoint, field.name) == ("frost.save_risk", "frost_law"):  # asked for by no page here
        want = OPEN
    elif endpoint.startswith("seed_lots.") and field.name == "name" and name in LIKE_NUMBERS:
        want = REFUSED
    elif name in NOTHING:
        want = OPEN if getattr(field, "may_be_empty", True) else REFUSED
    elif kind in {"TextField", "LongTextField"}:
        want = REFUSED if is_hidden or len(CLASSES[name]) > field.longest else TAKEN
    elif kind.startswith(("Wifi", "MailHost")):  # a network's own rules; by them most of this is refused
        want = REFUSED if is_hidden or name in BLANKS else OPEN
    else:
        want = REFUSED
    return want


def some_pages(what):
    """Return which pages the forms are taken from: a part of them, another one for whatever they are for."""
    return lambda page: is_taken(f"{what}, {page}", PAGES_STEP)


def posted(app, client, values, is_wanted=lambda _page: True):
    """Return the forms that are posted, filled in."""
    for form in find_all_forms(app, client, values, is_wanted).values():
        if form.method == "post":
            endpoint = endpoint_of(app, form.action)
            filled = {name: [text.format(**values)] for name, text in FILLED.get(endpoint, {}).items()}
            yield endpoint, form, form.values | filled


def send(client, form, values):
    return client.post(form.action, data=encoded(values), content_type=URLENCODED)


def session_of(client):
    """Return what the browser's session holds."""
    with client.session_transaction() as session:
        return dict(session)


def restore(client, held):
    """Let the browser's session hold this again."""
    with client.session_transaction() as session:
        session.clear()
        session.update(held)


def has_acted(endpoint, answer):
    """Return whether a form has acted."""
    if endpoint == "feeds.make":
        return "It is shown this one time" in answer.text
    return answer.mimetype == "application/pdf" if endpoint == "labels.make" else answer.status_code == 302


def otherwise(field, text):
    """Return a figure or a day as somebody else would type it."""
    return f"\u00a0{text} " if not text[:1].isdigit() or not isinstance(field, WholeNumberField) else f" +{text}"


def test_every_field_of_every_form_makes_of_each_class_what_it_should(app, client, engine, made):
    forms = list(posted(app, client, made, some_pages("classes")))
    kept, before, own_session = keep(engine), contents(engine), session_of(client)
    faults, count, tried = [], 0, set()
    for endpoint, form, values in forms:
        for name, field in form.fields.items():
            for label in CLASSES:
                count += 1
                want = expected(endpoint, field, label)
                if count % EVERY or want is OPEN:
                    continue
                tried.add(label)
                answer = send(client, form, values | {name: [CLASSES[label]]})
                words = errors_of(answer.text) if answer.mimetype == "text/html" else {}
                is_done, is_same = has_acted(endpoint, answer), contents(engine) == before
                is_told = answer.status_code == REFUSED_STATUS.get(endpoint, 200) and field.id in words
                if (want is TAKEN and not is_done) or (want is REFUSED and not (is_told and is_same)):
                    faults.append((endpoint, name, label, want.value, answer.status_code, words, is_same))
                if not is_same:
                    put_back(engine, kept)
                    restore(client, own_session)
    assert not faults, "\n".join(map(str, faults[:60]))
    assert count > 10_000 // every(8)
    assert len(tried) > 60 // every(2)


def test_every_form_that_is_posted_is_tried(app, client, made):
    found = {endpoint for endpoint, _, _ in posted(app, client, made)}
    assert set(addresses(app, made, "POST")) - found <= WITHOUT_FIELDS


def test_every_form_is_taken_as_its_page_has_it_and_with_its_figures_written_otherwise(app, client, engine, made):
    forms = list(posted(app, client, made, some_pages("as it is")))
    kept, before, own_session = keep(engine), contents(engine), session_of(client)
    faults, figures = [], 0
    for endpoint, form, values in forms:
        written = [{}] + [
            {name: [otherwise(field, values[name][0])]}
            for name, field in form.fields.items()
            if isinstance(field, TypedField) and not isinstance(field, TextField) and values.get(name, [""])[0]
        ]
        for changes in written if endpoint not in NOT_TAKEN else []:
            figures += len(changes)
            answer = send(client, form, values | changes)
            if not has_acted(endpoint, answer):
                faults.append((endpoint, changes, answer.status_code, errors_of(answer.text)))
            if contents(engine) != before or session_of(client) != own_session:
                put_back(engine, kept)
                restore(client, own_session)
    assert not faults, "\n".join(map(str, faults))
    assert figures > 60 // every(8)


def test_a_field_that_is_missing_is_empty_and_of_several_the_first_counts(app, client, engine, made):
    forms = list(posted(app, client, made, some_pages("missing")))
    kept, before, own_session = keep(engine), contents(engine), session_of(client)
    faults, count = [], 0
    for endpoint, form, values in forms:
        for name, field in form.fields.items():
            if not isinstance(field, TypedField) or field.may_be_empty or endpoint in NOT_TAKEN | {"sowings.move"}:
                continue  # what a sowing's page does not say stays as it is planned
            good, bad = values[name][0], "\0"
            sent = [({}, False), ({name: [bad, good]}, False), ({name: [good, bad]}, True)]
            count += 1
            for changes, is_right in sent[count % every(3) :: every(3)]:
                without = {key: value for key, value in values.items() if key != name}
                answer = send(client, form, without | changes)
                if has_acted(endpoint, answer) is not is_right or (not is_right and contents(engine) != before):
                    faults.append((endpoint, name, changes, answer.status_code))
                if is_right:
                    put_back(engine, kept)
                    restore(client, own_session)
    assert not faults, "\n".join(map(str, faults))
    assert count > 40 // every(8)


def test_a_form_of_another_type_changes_nothing(app, client, engine, made):
    forms = list(posted(app, client, made, some_pages("types")))
    before, faults = contents(engine), []
    for endpoint, form, values in forms:
        single = {name: several[0] for name, several in values.items()}
        needed = (
            name for name, field in form.fields.items() if isinstance(field, TextField) and not field.may_be_empty
        )
        typed = next(needed, None)
        tries = [
            ("JSON", client.post(form.action, json=single), {400}),
            ("text", client.post(form.action, data=encoded(values), content_type="text/plain"), {400}),
            ("nothing", client.post(form.action), {400}),
        ]
        if typed is not None:
            file = {typed: (io.BytesIO(b"x"), "name.txt")}
            tries.append(("file", client.post(form.action, data=single | file), {200}))
        faults += [(endpoint, what, a.status_code) for what, a, right in tries if a.status_code not in right]
        if contents(engine) != before:
            faults.append((endpoint, "changed something"))
            break
    assert not faults, "\n".join(map(str, faults))


def test_fields_that_a_form_does_not_have_change_nothing(app, client, engine, made):
    columns = sorted({column.name for table in Base.metadata.sorted_tables for column in table.columns})
    kept, passing, tried = keep(engine), PASSING | {"form_key", "data_version", "history"}, 0
    for endpoint, form, values in posted(app, client, made, lambda page: SOAK or ".edit" in page):
        if not endpoint.rpartition(".")[2].startswith("edit") or endpoint in NOT_TAKEN:
            continue
        known = {*form.fields, *values, *KINDS_OF_STOCK}
        extra = {name: ["1"] for name in [*columns, "__class__", "form.id", "id[]"] if name not in known}
        after = []
        for sent in (values, values | extra):
            assert send(client, form, sent).status_code == 302, endpoint
            after.append(contents(engine, passing))
            put_back(engine, kept)
        assert after[0] == after[1], endpoint
        tried += 1
    assert tried > 8


def test_a_form_with_very_many_fields_is_refused_or_read_in_time(client, engine, made):
    before = contents(engine)
    [form] = [one for one in find_forms(client, "/growers/new") if one.method == "post"]
    many = {f"x{number}": ["1"] for number in range(20_000)}
    assert send(client, form, form.values | many).status_code == 200  # it has no name
    single = {name: several[0] for name, several in form.values.items()}
    parts = single | {f"x{number}": "1" for number in range(2_000)}
    assert client.post(form.action, data=parts, content_type="multipart/form-data").status_code == 413
    assert send(client, form, form.values | {"plot": ["x" * (1 << 20)]}).status_code == 413
    assert contents(engine) == before


def test_a_hidden_field_that_was_made_up_changes_nothing(app, client, engine, made):
    """Token, key and revision of every form, and what else it carries unseen."""
    forms = list(posted(app, client, made, some_pages("hidden")))
    kept, before, own_session = keep(engine), contents(engine), session_of(client)
    faults, count = [], 0
    for endpoint, form, values in forms:
        for name in {*values} - {*form.fields} | GUARDS & {*values}:
            if name == "key" and endpoint in WITHOUT_KEY:
                continue
            right = HIDDEN_STATUS.get((endpoint, name), HIDDEN_STATUS.get(name))
            if right is None:
                faults.append((endpoint, name, "is in no table"))
                continue
            for label, text in CLASSES.items():
                count += 1
                is_always = (
                    label == "5000 digits" and (endpoint, name) in HIDDEN_STATUS
                )  # what is in an answer's address
                if label in NOTHING or (count % EVERY and not is_always):
                    continue
                answer = send(client, form, values | {name: [text]})
                after = contents(engine)
                is_right = answer.status_code == right or (name == "key" and answer.status_code == 400)
                if not is_right or (right >= 400 and after != before):
                    faults.append((endpoint, name, label, answer.status_code, right, after == before))
                if after != before:
                    put_back(engine, kept)
                    restore(client, own_session)
    assert not faults, "\n".join(map(str, faults[:60]))


def test_signing_in_with_any_class_is_no_more_than_wrong(visitor, engine, made):
    [form] = [one for one in find_forms(visitor, "/sign-in") if "passphrase" in one.fields]
    before, faults = contents(engine), []
    for at, (label, text) in enumerate(CLASSES.items()):
        name = ("name", "passphrase", "next")[at % 3]
        if at % every(4):
            continue
        values = form.values | {"name": ["Odile Brandt"], "passphrase": ["wrong words"], name: [text]}
        status = send(visitor, form, values).status_code
        if status != 403 or contents(engine) != before:
            faults.append((name, label, status))
        with engine.begin() as connection:
            connection.execute(delete(FailedTry))
    assert not faults, faults
    for name in ("name", "passphrase", "next"):
        single = {key: several[0] for key, several in form.values.items()} | {"name": "Odile Brandt", "passphrase": "x"}
        answer = visitor.post("/sign-in", data=single | {name: (io.BytesIO(b"x"), "name.txt")})
        assert answer.status_code == 403, name


def test_the_first_page_of_a_new_garden_makes_of_each_class_what_it_should(client, engine):
    [form] = [one for one in find_forms(client, "/setup/new") if one.fields]
    values = form.values | {name: [text] for name, text in FILLED["setup.new"].items()}
    kept, before, faults, count = keep(engine), contents(engine), [], 0
    for name, field in form.fields.items():
        for label, text in CLASSES.items():
            count += 1
            want = expected("setup.new", field, label)
            if want is OPEN or count % every(29):
                continue
            answer = send(client, form, values | {name: [text]})
            is_same = contents(engine) == before
            if (want is TAKEN) != (answer.status_code == 302) or (want is REFUSED) != is_same:
                faults.append((name, label, want.value, answer.status_code, errors_of(answer.text)))
            if want is REFUSED and field.id not in errors_of(answer.text):
                faults.append((name, label, "is not told"))
            if not is_same:
                put_back(engine, kept)
    assert not faults, faults
    assert send(client, form, values).status_code == 302
