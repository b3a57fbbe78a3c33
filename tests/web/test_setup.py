import pytest
from sqlalchemy import select

from app.core.words import Place, Units
from app.storage import Session
from app.storage.models import Shelf
from tests import rows
from tests.web.filling import errors_of, form_values, send

PARTS = ("chance", "spring", "autumn")
START = {"name": "Alder", "latitude": "47,1", "last": "10/5", "first": "26 Sep", "units": "metric"}


def words_of(answer):
    return answer.text.replace("\u00a0", " ")


@pytest.fixture
def garden(engine):
    with Session(engine) as session:
        rows.garden(session)
        session.commit()


@pytest.mark.parametrize("path", ["/setup", "/crops", "/shelves", "/sowings", "/setup/garden", "/setup/frost"])
def test_before_there_is_a_garden_every_way_leads_to_setting_it_up(client, path):
    answer = client.get(path, follow_redirects=True)
    assert answer.request.path == ("/setup/new" if path == "/setup" else "/first-steps")
    assert "/setup/new" in answer.text or path == "/setup"


def test_six_answers_set_up_a_garden(client):
    answer = send(client, "/setup/new", **START)
    assert answer.location == "/first-steps"
    page = words_of(client.get("/setup"))
    assert "Mon 10 May" in page
    assert "Sun 26 Sep" in page
    assert "taken as 11 days" in page
    assert client.get("/setup/new").status_code == 302


def test_dates_of_the_wrong_half_of_the_earth_are_pointed_out(client):
    answer = send(client, "/setup/new", **START | {"latitude": "-47"})
    assert list(errors_of(answer.text)) == ["first"]
    assert 'value="-47"' in answer.text


def test_the_page_says_what_the_dates_mean(client, garden):
    page = words_of(client.get("/setup"))
    assert "1 spring in 10 freezes on 13 Jun or later" in page
    assert "1 autumn in 2 freezes on 30 Aug or before" in page
    assert "90" in page  # days from 1 June to 30 August


def test_a_setting_changes_every_figure_at_once(client, engine, garden):
    with Session(engine) as session:
        rows.shelf(session)
        session.commit()
    assert "lamp <strong>8</strong>" in client.get("/setup").text
    send(client, "/setup/garden", tray_length_cm="30", tray_width_cm="20")
    # On 122 x 61 cm stand 12 trays of 30 x 20 cm, four by three: counted by drawing; two levels.
    assert "lamp <strong>24</strong>" in client.get("/setup").text


def test_a_risk_is_said_in_words_and_moves_the_date(client, garden):
    send(client, "/setup/frost", risk="50")
    page = words_of(client.get("/setup"))
    assert "1 spring in 2 freezes on 1 Jun or later" in page
    assert "1 spring in 2 freezes" in words_of(client.get("/setup/frost"))


@pytest.mark.parametrize(
    ("units", "typed", "fahrenheit"),
    [
        (Units.METRIC, "2,2", 36),
        (Units.METRIC, "-2.2", 28),
        (Units.METRIC, "-2.22", 28),
        (Units.METRIC, "0", 32),
        (Units.US, "36", 36),
        (Units.US, "28", 28),
        (Units.US, "24", 24),
    ],
)
def test_a_usual_threshold_is_kept_exactly_however_it_is_typed(client, engine, garden, units, typed, fahrenheit):
    with Session(engine) as session:
        rows.get_garden(session).units = units
        rows.get_garden(session).threshold_c = 1.0
        session.commit()
    assert send(client, "/setup/frost", threshold_c=typed).status_code == 302
    with Session(engine) as session:
        assert rows.get_garden(session).threshold_c == pytest.approx((fahrenheit - 32) * 5 / 9, rel=1e-14)


def test_a_table_of_other_chances_is_entered_and_comes_back(client, garden):
    lines = {f"lines-{n}-{part}": "" for n in range(6) for part in PARTS}
    typed = [("80", "10 May", "5 Sep"), ("50", "20/5", "28.8."), ("33", "", "20 Aug"), ("20", "30 May", "15 Aug")]
    for number, line in enumerate(typed):
        lines |= {
            f"lines-{number}-{part}": text for part, text in zip(("chance", "spring", "autumn"), line, strict=True)
        }
    assert send(client, "/setup/frost", **lines).status_code == 302
    values = form_values(client.get("/setup/frost").text)
    entered = [[values[f"lines-{n}-{part}"][0] for part in PARTS] for n in range(4)]
    assert entered == [
        ["80", "10 May", "5 Sep"],
        ["50", "20 May", "28 Aug"],
        ["33", "", "20 Aug"],
        ["20", "30 May", "15 Aug"],
    ]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"lines-1-spring": "1 Jul"}, "as the chance rises; found 10 % 13 Jun, 50 % 1 Jul, 90 % 20 May."),
        ({"lines-2-chance": "50"}, "This chance stands on another line already."),
        ({"lines-3-spring": "1 May"}, "Enter the chance that these dates have."),
        ({"lines-0-spring": "", "lines-1-spring": ""}, "two or more chances"),
        ({"lines-1-autumn": "30 Aug."}, None),
        ({"lines-1-autumn": "31 Sep"}, "There is no day 31 in September."),
        ({"lines-0-chance": "0"}, "This is too small."),
    ],
    ids=["rising", "twice", "no chance", "one date", "fine", "no such day", "no percent"],
)
def test_a_table_that_is_none_is_refused_beside_the_table(client, garden, changes, words):
    answer = send(client, "/setup/frost", **changes)
    if words is None:
        assert answer.status_code == 302
        return
    assert answer.status_code == 200
    assert "This is not saved yet" in answer.text
    assert words in words_of(answer)
    for text in filter(None, changes.values()):
        assert f'value="{text}"' in answer.text


def test_a_pair_of_dates_needs_both(client, garden):
    answer = send(client, "/setup/frost", frost_source="dates", first="")
    assert list(errors_of(answer.text)) == ["first"]
    assert send(client, "/setup/frost", frost_source="dates", last="10 May", first="26 Sep").status_code == 302
    assert "taken as 11 days" in words_of(client.get("/setup"))


def test_at_a_risk_without_a_safe_month_the_page_says_so(client, engine):
    with Session(engine) as session:
        rows.garden(
            session, risk=0.01, autumn_risk=0.01, spring={90: "06-20", 10: "07-25"}, autumn={10: "08-05", 90: "08-25"}
        )
        session.commit()
    assert "No month is safe at these risks." in client.get("/setup").text


def test_a_shelf_in_inches_holds_what_it_holds_in_centimetres(client, engine, garden):
    with Session(engine) as session:
        rows.get_garden(session).units = Units.US
        session.commit()
    send(client, "/shelves/new", name="Rack", place="lamp", width_cm="48", depth_cm="24", levels="2", bench_temp_c="70")
    with Session(engine) as session:
        shelf = session.scalars(select(Shelf)).one()
    assert (shelf.width_cm, shelf.depth_cm) == pytest.approx((121.92, 60.96))
    page = words_of(client.get("/shelves"))
    assert "48 × 24 in" in page
    assert "70 °F" in page
    assert "lamp <strong>8</strong>" in page


def test_cautions_stand_where_the_risk_is(client, engine, garden):
    with Session(engine) as session:
        shelf = rows.shelf(session, place=Place.HEAT)
        session.commit()
        pages = {
            "electricity near water": ["/shelves", "/shelves/new", f"/shelves/{shelf.id}/edit", "/setup"],
            "dust of potting mix": ["/containers", "/setup"],
            "treated seed": ["/seed-lots", "/seed-lots/new"],
            "saved or swapped seed": ["/seed-lots", "/seed-lots/new"],
        }
    for words, paths in pages.items():
        assert [path for path in paths if f"Caution: {words}" not in client.get(path).text] == []
