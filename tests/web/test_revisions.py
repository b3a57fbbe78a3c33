"""Two people change the same thing: what one has saved meanwhile the other sees before it is lost."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier

import pytest
from flask.testing import FlaskClient
from sqlalchemy import delete, select, update

from app.core.words import Place, Side, Units
from app.services.filled import mark_filled
from app.services.trays import renumber_tray
from app.storage import Session
from app.storage.models import Container, Crop, FrostPoint, Garden, Grower, LabelStock, Printer, SeedLot, Shelf, Sowing
from tests.lengths import SOAK, TIMES
from tests.people import sign_in_as
from tests.web.editing import another, fields_of, garden_of_everything
from tests.web.filling import GUARDS, form_values, guards, posted_forms, send
from tests.web.pages import read_page
from tests.web.seasons import words
from tests.web.test_once import cookie_of
from tests.web.tray_steps import dealt_garden, position, stored

pytestmark = pytest.mark.postgres

EDITS = (
    "growers", "containers", "grid", "crops", "seed_lots", "shelves", "sowings", "printers", "stock", "address",
    "garden", "frost",
)  # fmt: skip
MODELS = {
    "growers": Grower,
    "containers": Container,
    "crops": Crop,
    "seed_lots": SeedLot,
    "shelves": Shelf,
    "sowings": Sowing,
    "printers": Printer,
    "stock": LabelStock,
}


@pytest.fixture
def garden(engine):
    return garden_of_everything(engine)


@pytest.fixture
def other(client, app):
    """Return the browser of somebody else."""
    other = app.test_client()
    sign_in_as(other, "Ivo Lund")
    return other


def clash_lines(html):
    """Return the lines of the table of a clash: field, what is stored, what was sent, what stands in the form."""
    cells = [
        " ".join(cell.text.split())
        for cell in read_page(html).all("th", "td")
        if (table := cell.within("table")) and table.has_class("clash-lines") and not cell.within("thead")
    ]
    return [tuple(cells[at : at + 4]) for at in range(0, len(cells), 4)]


def listed(value):
    return value if isinstance(value, list) else [value]


def in_steps(names):
    """Return every fourth of many names, all of them in a soak."""
    return names if SOAK or len(names) <= 6 else names[::4]


def change(engine, statement):
    with Session(engine) as session:
        session.execute(statement)
        session.commit()


@pytest.mark.soak
@pytest.mark.parametrize("form", EDITS)
def test_of_two_who_change_a_field_the_second_sees_both_and_decides(client, other, garden, form):
    path = garden.edits[form]
    tried = []
    for name in in_steps(fields_of(client.get(path).text)):
        opened, later = client.get(path).text, other.get(path).text
        first, second = another(opened, form, name, 0), another(later, form, name, 1)
        assert first is not None, name
        assert client.post(path, data=first).status_code == 302, (name, first)
        stored_now = form_values(client.get(path).text)
        if second is None:  # of two choices the other one is what it was
            client.post(path, data=form_values(opened) | {guard: stored_now[guard] for guard in GUARDS})
            continue
        answer = other.post(path, data=second)
        assert answer.status_code == 409, name
        assert form_values(client.get(path).text)[name] == stored_now[name], name
        kept = form_values(answer.text)
        assert kept[name] == listed(second[name]), name
        assert any(line[3].startswith("yours both") for line in clash_lines(answer.text)), name
        assert other.post(path, data=kept).status_code == 302, (name, kept)
        tried.append(name)
    assert tried


@pytest.mark.parametrize("form", EDITS)
def test_who_sends_a_form_untouched_after_somebody_saved_undoes_nothing(client, other, garden, form):
    path = garden.edits[form]
    opened, later = client.get(path).text, other.get(path).text
    name = fields_of(opened)[0]
    assert client.post(path, data=another(opened, form, name, 0)).status_code == 302
    stored_now = form_values(client.get(path).text)[name]
    answer = other.post(path, data=form_values(later))
    assert answer.status_code == 409
    assert [line[3] for line in clash_lines(answer.text)] == ["theirs you had left it"]
    assert other.post(path, data=form_values(answer.text)).status_code == 302
    assert form_values(client.get(path).text)[name] == stored_now


def test_what_each_changed_is_kept_where_they_changed_other_fields(client, other, garden):
    path = garden.edits["growers"]
    mine = form_values(other.get(path).text) | {"contact": "at the pump"}
    send(client, path, plot="22")
    answer = other.post(path, data=mine)
    assert answer.status_code == 409
    assert clash_lines(answer.text) == [
        ("Plot", "22", "14", "theirs you had left it"),
        ("How to reach them", "by the gate", "at the pump", "yours only you changed it"),
    ]
    assert other.post(path, data=form_values(answer.text)).status_code == 302
    now = form_values(client.get(path).text)
    assert (now["plot"], now["contact"]) == (["22"], ["at the pump"])


@pytest.mark.parametrize(("typed", "again"), [("40", "40"), ("40", "40.0"), ("40", " 40 ")])
def test_who_means_the_same_clashes_with_nobody(client, other, garden, typed, again):
    path = garden.edits["sowings"]
    mine = form_values(other.get(path).text) | {"plants": again}
    send(client, path, plants=typed)
    assert other.post(path, data=mine).status_code == 302


def test_who_saved_it_is_told(client, other, garden):
    path = garden.edits["growers"]
    mine, again = (form_values(client.get(path).text) | {"plot": plot} for plot in ("3", "4"))
    send(other, path, plot="1")
    assert "after you opened it, by Ivo Lund, " in words(client.post(path, data=mine).text)
    send(client, path, plot="2")
    assert "after you opened it, by yourself, on another page, " in words(client.post(path, data=again).text)


def test_theirs_is_taken_by_a_tick(client, other, garden):
    path = garden.edits["shelves"]
    mine = form_values(other.get(path).text) | {"name": "My rack", "place": "window"}
    send(client, path, name="Their rack", place="heat")
    answer = other.post(path, data=mine)
    assert [line[:3] for line in clash_lines(answer.text)] == [
        ("Name", "Their rack", "My rack"),
        ("Place", "heat: heated bench", "window: sill without lamps"),
    ]
    assert other.post(path, data=form_values(answer.text) | {"theirs": ["name"]}).status_code == 302
    now = form_values(client.get(path).text)
    assert (now["name"], now["place"]) == (["Their rack"], ["window"])


def test_a_third_who_saves_between_is_seen_too(client, other, garden):
    path = garden.edits["growers"]
    mine = form_values(other.get(path).text) | {"plot": "3"}
    send(client, path, plot="1")
    answer = other.post(path, data=mine)
    assert answer.status_code == 409
    send(client, path, plot="2")
    again = other.post(path, data=form_values(answer.text))
    assert again.status_code == 409
    assert clash_lines(again.text) == [("Plot", "2", "3", "yours both changed it")]


def test_what_is_wrong_and_what_has_changed_are_said_at_once(client, other, garden):
    path = garden.edits["sowings"]
    mine = form_values(other.get(path).text) | {"plants": "none"}
    send(client, path, plants="9")
    answer = other.post(path, data=mine)
    assert answer.status_code == 409
    assert "This is not saved yet" in answer.text
    assert clash_lines(answer.text) == [("Plants wanted", "9", "none", "yours both changed it")]
    # and it is not forgotten once what is wrong is put right
    assert form_values(answer.text)["plants"] == ["none"]


def assert_one_of_many_saves(client, engine, path, times=6):
    """Send an opened form with another plot from each of several people at once; one is saved, the others are told."""
    opened = [form_values(client.get(path).text) for _ in range(times)]
    barrier, cookie = Barrier(times), cookie_of(client)

    def send_one(number):
        person = FlaskClient(client.application, client.application.response_class)
        person.set_cookie(*cookie)
        barrier.wait(timeout=60)
        return person.post(path, data=opened[number] | {"plot": f"Plot {number}"}).status_code

    with ThreadPoolExecutor(times) as pool:
        answers = list(pool.map(send_one, range(times)))
    assert sorted(answers) == [302] + [409] * (times - 1)
    assert form_values(client.get(path).text)["plot"] == [f"Plot {answers.index(302)}"]


@pytest.mark.soak
def test_of_many_who_save_at_once_one_is_saved_and_the_others_are_told(client, engine, garden):
    for _ in range(3 * TIMES):
        assert_one_of_many_saves(client, engine, garden.edits["growers"])
        send(client, garden.edits["growers"], plot="14")


@pytest.mark.parametrize("sent", [None, "", "x", "0" * 16, "f" * 500])
def test_a_revision_that_no_page_gave_saves_nothing(client, garden, sent):
    path = garden.edits["growers"]
    values = form_values(client.get(path).text) | {"plot": "99", "revision": [] if sent is None else sent}
    assert client.post(path, data=values).status_code == 409
    assert form_values(client.get(path).text)["plot"] == ["14"]


def test_units_that_change_while_somebody_types_are_seen(client, other, garden):
    path = garden.edits["shelves"]
    mine = form_values(other.get(path).text) | {"width_cm": "90"}
    send(client, "/setup/garden", units="us")
    answer = other.post(path, data=mine)
    assert answer.status_code == 409
    assert ("Width of a level", "48 in", "90 in", "yours both changed it") in clash_lines(answer.text)


@pytest.mark.parametrize("noun", MODELS)
def test_what_was_typed_for_something_removed_meanwhile_can_be_added(client, other, engine, garden, noun):
    path = garden.edits[noun]
    opened = other.get(path).text
    mine = form_values(opened) | {"name": "Kept in mind"}
    if noun == "sowings":
        mine = form_values(opened) | {"variety": "Kept in mind"}
    with Session(engine) as session:
        for model in (Sowing, SeedLot, Crop) if noun in {"crops", "growers", "seed_lots"} else ():
            if noun != "growers" or model is Sowing:
                session.execute(delete(model))
        session.execute(delete(MODELS[noun]).where(MODELS[noun].id == int(path.split("/")[-2])))
        session.commit()
    answer = other.post(path, data=mine)
    assert answer.status_code == 404
    assert "It was removed meanwhile" in answer.text
    kept = form_values(answer.text)
    assert ["Kept in mind"] in kept.values()
    (form,) = posted_forms(read_page(answer.text))
    if noun == "seed_lots":
        return  # its crop has gone with it here
    assert other.post(form.attributes["action"], data=kept).status_code == 302
    column = MODELS[noun].variety if noun == "sowings" else MODELS[noun].name
    with Session(engine) as session:
        assert session.scalars(select(column).where(column == "Kept in mind")).all() == ["Kept in mind"]


@pytest.mark.parametrize("noun", ["containers", "printers", "stock"])
def test_what_somebody_has_just_changed_is_not_removed_unseen(client, other, garden, noun):
    path = garden.edits[noun].replace("/edit", "/delete")
    opened = form_values(other.get(path).text)
    send(client, garden.edits[noun], name="Still wanted")
    answer = other.post(path, data=opened)
    assert answer.status_code == 409
    assert "It was changed meanwhile, so it was not removed." in words(answer.text)
    assert client.get(path).status_code == 200
    assert other.post(path, data=form_values(answer.text)).status_code == 302
    assert client.get(path).status_code == 404


def test_dates_that_changed_meanwhile_are_not_pasted_over_unseen(client, other, engine, garden):
    typed = form_values(other.get("/frost/paste").text) | {
        "text": "90 10 May 30 Sep\n50 20 May 20 Sep\n10 30 May 10 Sep"
    }
    seen = other.post("/frost/paste", data=typed)
    assert seen.status_code == 200
    change(
        engine,
        update(FrostPoint)
        .where(FrostPoint.side == Side.SPRING, FrostPoint.chance_percent == 50)
        .values(month_day="06-02"),
    )
    answer = other.post("/frost/paste", data=form_values(seen.text))
    assert answer.status_code == 409
    assert "The garden’s frost dates" in words(answer.text)
    again = other.post("/frost/paste", data=form_values(answer.text))
    assert again.status_code == 302


def test_a_risk_that_changed_meanwhile_is_not_saved_over_unseen(client, other, garden):
    tried = form_values(other.get("/frost?risk=20&autumn_risk=50&frost_law=normal").text)
    send(client, "/setup/frost", risk="15")
    answer = other.post("/frost/risk", data=tried)
    assert answer.status_code == 409
    assert clash_lines(answer.text) == [("Spring risk", "15 %", "20 %", "yours both changed it")]


def test_a_record_that_changed_meanwhile_is_not_replaced_unseen(client, other, engine, garden):
    values = {name: value[0] for name, value in form_values(other.get("/frost/record").text).items() if name in GUARDS}
    change(engine, update(Garden).values(record_mark="another"))
    change(engine, update(Garden).values(record_mark=None, units=Units.METRIC))
    assert other.post("/frost/record", data=values).status_code == 200  # as it was; the file is missing
    with Session(engine) as session:
        session.execute(update(Garden).values(record_mark="another"))
        session.commit()
    answer = other.post("/frost/record/remove", data=values)
    assert answer.status_code == 409


@pytest.fixture
def trays(engine):
    return dealt_garden(engine)


def test_a_tray_that_was_sown_meanwhile_says_so(client, other, engine, trays):
    mine = guards(other, "/trays/3/filled", "/trays/3") | {"day": "9 Apr 2027"}
    with Session(engine) as session:
        mark_filled(session, [3], date(2027, 4, 10), today=date(2027, 4, 10))
        session.commit()
    before = stored(engine)
    answer = other.post("/trays/3/filled", data=mine)
    assert answer.status_code == 409
    assert "Tray 3 is not as it was when you opened this page" in words(answer.text)
    assert stored(engine) == before
    assert other.post("/trays/3/filled", data=mine | {"day": "10 Apr 2027"}).status_code == 302  # the same: no clash


@pytest.mark.parametrize("form", ["number", "pin", "filled", "delete"])
def test_another_tray_that_got_the_number_is_not_taken_for_it(client, other, engine, trays, form):
    page = "/trays/3/delete" if form == "delete" else "/trays/3"
    mine = guards(other, f"/trays/3/{form}", page) | {"new": "77", "pinned": "yes", "day": "10 Apr 2027"}
    with Session(engine) as session:
        renumber_tray(session, 3, 500)
        renumber_tray(session, 4, 3)
        session.commit()
    before = stored(engine)
    assert other.post(f"/trays/3/{form}", data=mine).status_code == 409
    assert stored(engine) == before


def test_a_tray_that_was_moved_meanwhile_is_not_moved_unseen(client, other, engine, trays):
    options = [o for o in read_page(client.get("/trays/3/lamp/move").text).all("option") if o.within("optgroup")]
    free, theirs = [o.attributes["value"] for o in options if o.within("optgroup").attributes["label"][:4] == "Free"][
        :2
    ]
    mine = form_values(other.get("/trays/3/lamp/move").text) | {"position": free}
    pin = guards(other, "/trays/3/lamp/pin", "/trays/3") | {"pinned": "yes"}
    assert send(client, "/trays/3/lamp/move", position=theirs).status_code == 302
    before = stored(engine)
    answer = other.post("/trays/3/lamp/move", data=mine)
    assert answer.status_code == 409
    assert "Its position is not as it was when you opened this." in words(answer.text)
    assert other.post("/trays/3/lamp/pin", data=pin).status_code == 409
    assert stored(engine) == before
    assert other.post("/trays/3/lamp/move", data=mine | {"position": theirs}).status_code == 302  # the same: no clash
    assert stored(engine) == before
    assert other.post("/trays/3/lamp/move", data=form_values(answer.text)).status_code == 302
    assert "-".join(map(str, position(engine, 3, Place.LAMP))) == free


def test_sowings_of_a_tray_that_changed_meanwhile_are_not_exchanged_unseen(client, other, engine, trays):
    page = f"/trays/3/exchange?sowing={trays.sowings['S-0001']}"
    mine = form_values(other.get(page).text) | {"to": "4-0"}
    with Session(engine) as session:
        mark_filled(session, [3], date(2027, 4, 10), today=date(2027, 4, 10))
        session.execute(update(Sowing).values(variety=None))
        session.commit()
    before = stored(engine)
    assert other.post(page, data=mine).status_code in {302, 409}  # 302: what is sown cannot change trays, as it says
    assert stored(engine) == before
