import pytest

from app.storage import Session
from app.storage.models import Grower
from tests import rows
from tests.web.filling import errors_of, form_values, send


@pytest.fixture
def garden(engine):
    with Session(engine) as session:
        rows.garden(session)
        session.commit()


def add(engine, count, name="Member"):
    with Session(engine) as session:
        session.add_all(Grower(name=f"{name} {number:03d}", plot=str(number)) for number in range(count))
        session.commit()


def test_a_grower_is_added_shown_and_found_at_once(client, garden):
    assert "Ada Brook" not in client.get("/growers").text
    answer = send(client, "/growers/new", name="  Ada   Brook ", plot="7", weekdays=["saturday", "monday"])
    assert answer.status_code == 302
    assert "Ada Brook added" in client.get(answer.location).text
    page = client.get("/growers").text
    assert "Ada Brook" in page
    assert "Monday, Saturday" in page


def test_a_name_that_is_taken_is_said_beside_the_name(client, engine, garden):
    add(engine, 1)
    answer = send(client, "/growers/new", name="member 000", plot="the old one")
    assert errors_of(answer.text) == {"name": "Not right yet: Another grower has this name."}
    assert 'value="the old one"' in answer.text


def test_a_name_is_needed(client, garden):
    answer = send(client, "/growers/new", plot="7")
    assert set(errors_of(answer.text)) == {"name"}
    assert 'href="#name"' in answer.text


def test_search_and_order_stand_in_the_address_and_go_with_the_pages(client, engine, garden):
    add(engine, 450)
    add(engine, 3, "Plot-holder")
    page = client.get("/growers?q=member&sort=plot").text
    assert "Growers 1 to 200 of 450" in page
    assert "Plot-holder" not in page
    assert 'aria-sort="ascending"' in page
    assert "q=member&amp;sort=plot&amp;page=2" in page
    assert "Growers 401 to 450 of 450" in client.get("/growers?q=member&sort=plot&page=3").text


def test_a_search_that_finds_nobody_says_so(client, engine, garden):
    add(engine, 1)
    page = client.get("/growers?q=nobody").text
    assert "0 growers with “nobody”" in page
    assert "<table" not in page


def test_a_grower_is_removed_after_being_asked_for(client, engine, garden):
    add(engine, 1)
    with Session(engine) as session:
        grower_id = session.query(Grower.id).scalar()
    assert "Remove Member 000?" in client.get(f"/growers/{grower_id}/delete").text
    answer = send(client, f"/growers/{grower_id}/delete")
    assert "Member 000 removed" in client.get(answer.location).text
    assert client.get(f"/growers/{grower_id}/edit").status_code == 404


def test_a_grower_with_sowings_is_not_removed_and_the_page_lists_them(client, engine, garden):
    with Session(engine) as session:
        grower, crop = rows.grower(session), rows.crop(session, "Carrot")
        for number in range(25):
            rows.sowing(session, grower, crop, f"S-{number:04d}")
        session.commit()
        path = f"/growers/{grower.id}/delete"
    page = client.get(path).text
    assert "25 sowings" in page
    assert page.count(", Carrot") == 20
    assert "and 5 more" in page
    assert 'method="post"' not in page
    client.get("/growers/new")
    refused = client.post(path, data={"csrf_token": token_of(client)})
    assert refused.status_code == 409
    assert "25 sowings" in refused.text


def token_of(client):
    return form_values(client.get("/growers/new").text)["csrf_token"][0]


def test_a_form_without_its_token_is_refused(client, engine, garden):
    assert client.post("/growers/new", data={"name": "Ada"}).status_code == 400
    assert "Ada" not in client.get("/growers").text
