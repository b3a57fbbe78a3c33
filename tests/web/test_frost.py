"""The frost record as its pages show it. The dates of its garden are counted in tests/web/seasons.py."""

import io

import pytest
from sqlalchemy import select
from werkzeug.datastructures import FileStorage
from werkzeug.test import stream_encode_multipart

from app import LARGEST_REQUEST_BYTES
from app.core.words import FrostLaw, FrostSource, Units
from app.services.record import MOST_BYTES, replace_record
from app.storage import Session
from app.storage.models import FrostPoint, Garden
from tests import rows
from tests.freezes import SKEWED, STEADY, rows_of
from tests.stations import text_of
from tests.web.filling import errors_of, form_values, send
from tests.web.pages import read_page
from tests.web.seasons import Statements, links, one_sowing, words

LEBANON = "90 27 Apr 19 Oct\n50 9 May 6 Oct\n10 24 May 23 Sep"


@pytest.fixture
def made(session):
    return one_sowing(session)


@pytest.fixture
def with_record(engine, made):
    """Return a function that gives the garden a record of these years."""

    def give(years=STEADY, **changes):
        with Session(engine) as session:
            replace_record(session, text_of(rows_of(years)).encode())
            for name, value in changes.items():
                setattr(session.get(Garden, 1), name, value)
            session.commit()

    return give


def settings(engine):
    """Return the garden's row as it stands in the database."""
    with Session(engine, expire_on_commit=False) as session:
        return session.scalar(select(Garden))


def hand_in(client, text, name="daily_temperatures.csv", **more):
    values = form_values(client.get("/frost/record").text)
    data = text if isinstance(text, bytes) else text.encode()
    file = FileStorage(io.BytesIO(data), filename=name, name="record")
    body, length, boundary = stream_encode_multipart(values | {"record": [file]}, use_tempfile=False)
    return client.post(
        "/frost/record",
        input_stream=body,
        content_length=length,
        content_type=f'multipart/form-data; boundary="{boundary}"',
        **more,
    )


def table_rows(html, table):
    """Return the cells of a table's rows, its head left out."""
    page = read_page(html)
    found = []
    for row in page.all("tr"):
        inside = row.within("table")
        if inside is not None and inside.attributes.get("id") == table and row.within("tbody"):
            cells = [cell for cell in page.all("th", "td") if cell.within("tr") is row]
            found.append([" ".join(cell.text.split()).replace("\u00a0", " ") for cell in cells])
    return found


def test_the_page_says_what_each_risk_means(client, made):
    page = words(client.get("/frost").text)
    assert "1 spring in 10 freezes on 13 Jun or later" in page
    assert "1 autumn in 2 freezes on 30 Aug or before" in page
    lines = table_rows(client.get("/frost").text, "spring-risks")
    assert [line[0] for line in lines] == ["90 %", "50 %", "20 %", "10 % the garden’s"]


def test_a_pair_of_dates_has_its_curve_too(client, engine, made):
    send(client, "/setup/frost", frost_source="dates", last="10 May", first="26 Sep")
    # 11 days of spread: 10 May and 14.1 days is 25 May at 10 %, rounded up.
    assert table_rows(client.get("/frost").text, "spring-risks")[-1][:2] == ["10 % the garden’s", "Tue 25 May"]


def test_another_risk_is_shown_before_it_is_saved_and_changes_nothing(client, engine, made):
    answer = client.get("/frost?risk=50")
    page = words(answer.text)
    assert table_rows(answer.text, "tried-dates")[0] == ["Spring date", "Sun 13 Jun", "Tue 1 Jun", "12 days earlier"]
    assert "1 of 1 sowing moves: 7 days earlier." in page
    crop = table_rows(answer.text, "tried-crops")[0]
    assert crop[:6] == ["Tomato", "1", "Sat 1 May", "Sat 24 Apr", "Sat 19 Jun", "Sat 12 Jun"]
    assert settings(engine).risk == 0.1
    assert "Sat 1 May" in words(client.get("/sowings").text)


def test_the_risk_that_was_tried_is_saved_with_a_button(client, engine, made):
    tried = client.get("/frost?risk=50&autumn_risk=20")
    answer = client.post("/frost/risk", data=form_values(tried.text))
    assert answer.location == "/frost"
    assert (settings(engine).risk, settings(engine).autumn_risk) == (0.5, 0.2)
    assert "Sat 24 Apr" in words(client.get("/sowings").text)


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("risk=abc", "risk"),
        ("risk=0", "risk"),
        ("risk=100", "risk"),
        ("risk=", "risk"),
        ("autumn_risk=-3", "autumn_risk"),
        ("risk=1e9&autumn_risk=20", "risk"),
    ],
)
def test_a_risk_that_is_none_is_said_beside_it_and_nothing_is_tried(client, made, query, field):
    answer = client.get(f"/frost?{query}")
    assert answer.status_code == 200
    assert list(errors_of(answer.text)) == [field]
    assert "What it would do" not in answer.text


def test_a_law_is_tried_only_where_the_dates_come_from_a_record(client, made, with_record):
    assert client.get("/frost?frost_law=other").status_code == 200
    with_record(frost_source=FrostSource.STATION)
    assert list(errors_of(client.get("/frost?frost_law=other").text)) == ["frost_law"]


def test_a_saved_risk_is_checked_like_a_tried_one(client, engine, made):
    values = form_values(client.get("/frost?risk=50").text)
    answer = client.post("/frost/risk", data=values | {"risk": "200"})
    assert "This is too large" in words(answer.text)
    assert settings(engine).risk == 0.1


def test_a_page_without_a_form_that_saves_is_kept_and_one_with_it_is_not(app, client, made):
    for path, queries in (("/frost", 1), ("/frost?risk=50", 2)):
        client.get(path)
        statements = Statements(app)
        client.get(path)
        assert (len(statements) == 1) == (queries == 1)


def test_a_record_is_handed_in_and_chosen(client, engine, made):
    answer = hand_in(client, text_of(rows_of(STEADY)))
    assert answer.location == "/frost/record"
    page = client.get("/frost/record")
    assert "20 springs can be used" in words(page.text)
    assert "/setup/frost" in links(page.text)
    assert send(client, "/setup/frost", frost_source="station").location == "/setup"
    # Worked out in tests/sheets/test_frost_record.py.
    assert "Wed 19 May" in words(client.get("/setup").text)
    spring = table_rows(client.get("/frost").text, "spring-risks")
    assert spring[-1] == ["10 % the garden’s", "Wed 19 May", "Wed 19 May", "1 spring in 10 freezes on 19 May or later."]
    assert len(table_rows(client.get("/frost").text, "years-table")) == 20


def test_dates_typed_before_outlive_a_record(client, engine, with_record):
    with_record()
    send(client, "/setup/frost", frost_source="station")
    send(client, "/setup/frost", frost_source="table")
    assert "Sun 13 Jun" in words(client.get("/frost").text)


def test_the_years_left_out_are_named_when_a_record_is_taken_in(client, made):
    years = [*STEADY]
    years[4] = ("missing", "10-05")
    hand_in(client, text_of(rows_of(years)))
    assert "springs 2005" in words(client.get("/frost/record").text)


def test_every_fault_of_a_file_is_listed_and_nothing_is_taken_in(client, engine, made):
    answer = hand_in(client, "date,tmin_c\n2001-01-01,-5\n2001-02-30,1\n2001-01-03,cold\n")
    assert answer.status_code == 200
    assert [row[:3] for row in table_rows(answer.text, "faults")] == [
        ["3", "date", "2001-02-30"],
        ["4", "tmin_c", "cold"],
    ]
    assert settings(engine).record_mark is None


@pytest.mark.parametrize("text", ["", "date,tmin_c\n", "day;low\n1;2\n", b"\xff\xfe\x00\x01", "x" * 5000])
def test_what_is_no_record_is_refused_in_words(client, engine, made, text):
    answer = hand_in(client, text)
    assert answer.status_code == 200
    assert table_rows(answer.text, "faults")
    assert settings(engine).record_mark is None


def test_a_form_without_a_file_asks_for_one(client, made):
    answer = client.post("/frost/record", data=form_values(client.get("/frost/record").text))
    assert errors_of(answer.text) == {"record": "Not right yet: Choose the file."}


def test_a_record_may_be_larger_than_other_forms_and_too_large_a_one_is_told_the_limit(client, engine, made):
    padded = text_of(rows_of(STEADY)) + "\n" * LARGEST_REQUEST_BYTES
    assert hand_in(client, padded).status_code == 302
    mark = settings(engine).record_mark
    answer = hand_in(client, b"\n" * (MOST_BYTES + 128 * 1024))
    assert answer.status_code == 413
    assert "may have up to 32 megabytes" in words(answer.text)
    assert settings(engine).record_mark == mark


def test_a_record_in_use_is_not_removed_and_another_is(client, engine, with_record):
    with_record(frost_source=FrostSource.STATION)
    token = form_values(client.get("/frost/record").text)
    assert "The garden’s frost dates come from it" in words(client.get("/frost/record/remove").text)
    client.post("/frost/record/remove", data=token)
    assert settings(engine).record_mark is not None
    send(client, "/setup/frost", frost_source="table")
    assert client.post("/frost/record/remove", data=token).location == "/frost"
    assert settings(engine).record_mark is None
    assert client.get("/frost/record/remove").location == "/frost/record"


def test_the_station_cannot_be_chosen_before_it_has_a_record_or_with_too_few_years(client, engine, made, with_record):
    answer = send(client, "/setup/frost", frost_source="station")
    assert "There is no station’s record yet" in words(answer.text)
    with_record(STEADY[:9])
    answer = send(client, "/setup/frost", frost_source="station")
    assert "9 usable years for spring; it takes 10" in words(answer.text)
    assert settings(engine).frost_source is FrostSource.TABLE
    assert "The record is too short for frost dates" in words(client.get("/frost").text)


def test_freezes_too_rare_for_a_plan_are_said_where_the_risk_is_tried(client, engine, with_record):
    years = [(None, "10-01")] * 3 + [("05-01", "10-01")] * 17
    with_record(years, frost_source=FrostSource.STATION)
    # 17 of 20 springs freeze: no date at a risk of 85 % or more.
    answer = client.get("/frost?risk=90")
    assert "too rarely" in errors_of(answer.text)["risk"]
    assert "What it would do" not in answer.text
    assert settings(engine).risk == 0.1


def test_a_skewed_record_advises_the_empirical_law_and_shows_what_it_would_do(client, engine, with_record):
    with_record(SKEWED, frost_source=FrostSource.STATION)
    page = client.get("/frost")
    assert "differ by 21 days in spring" in words(page.text)
    assert "/frost?frost_law=empirical#tried" in links(page.text)
    tried = client.get("/frost?frost_law=empirical")
    # Normal law: 22 May, day 142; the years themselves: 1 May, day 121.
    assert table_rows(tried.text, "tried-dates")[0] == ["Spring date", "Sat 22 May", "Sat 1 May", "21 days earlier"]
    client.post("/frost/risk", data=form_values(tried.text))
    assert settings(engine).frost_law is FrostLaw.EMPIRICAL


def test_a_short_record_is_warned_of(client, with_record):
    with_record(STEADY[:19])
    assert "19 usable springs and 19 usable autumns" in words(client.get("/frost").text)


def test_the_trend_is_said_without_a_forecast(client, with_record):
    with_record()
    page = words(client.get("/frost").text)
    assert "10 days later" in page
    assert "It is no forecast" in page


def test_three_thresholds_are_those_of_the_services_in_the_garden_s_units(client, engine, with_record):
    with_record(units=Units.US)
    lines = table_rows(client.get("/frost").text, "thresholds-table")
    assert [line[0] for line in lines] == ["28 °F", "32 °F the garden’s", "36 °F"]
    # Freezing days are at -3 °C, below all three.
    assert len({tuple(line[1:]) for line in lines}) == 1


def test_a_garden_with_a_record_takes_few_queries(app, client, with_record):
    with_record(frost_source=FrostSource.STATION)
    for path in ("/frost", "/frost?risk=50", "/frost/record", "/setup"):
        app.extensions["kept_pages"]._pages.clear()
        statements = Statements(app)
        assert client.get(path).status_code == 200
        assert len(statements) <= 12


def test_a_southern_garden_has_its_frost_record(client, engine):
    with Session(engine) as session:
        spring, autumn = {90: "10-01", 50: "10-12", 10: "10-23"}, {10: "04-10", 50: "04-22", 90: "05-04"}
        rows.garden(session, latitude=-43.5, spring=spring, autumn=autumn)
        session.commit()
    page = words(client.get("/frost").text)
    assert "1 spring in 10 freezes on 23 Oct or later" in page
    assert "1 autumn in 2 freezes on 22 Apr or before" in page


def test_a_pasted_table_is_shown_as_understood_and_then_saved(client, engine, made):
    answer = send(client, "/frost/paste", text=LEBANON)
    assert table_rows(answer.text, "understood") == [
        ["90 %", "27 Apr", "19 Oct"],
        ["50 %", "9 May", "6 Oct"],
        ["10 %", "24 May", "23 Sep"],
    ]
    with Session(engine) as session:
        assert "05-24" not in session.scalars(select(FrostPoint.month_day)).all()
    assert client.post("/frost/paste", data=form_values(answer.text)).location == "/frost"
    assert "1 spring in 10 freezes on 24 May or later" in words(client.get("/frost").text)


def test_a_pasted_table_changed_after_it_was_shown_is_shown_again(client, engine, made):
    values = form_values(send(client, "/frost/paste", text=LEBANON).text)
    answer = client.post("/frost/paste", data=values | {"text": LEBANON.replace("24 May", "26 May")})
    assert ["10 %", "26 May", "23 Sep"] in table_rows(answer.text, "understood")
    with Session(engine) as session:
        assert "05-26" not in session.scalars(select(FrostPoint.month_day)).all()


def test_cells_of_a_spreadsheet_keep_their_places(client, made):
    answer = send(client, "/frost/paste", text="10\t\t23 Sep\r\n50\t9 May\t6 Oct\r\n20\t20 May\t")
    assert table_rows(answer.text, "understood") == [
        ["50 %", "9 May", "6 Oct"],
        ["20 %", "20 May", "–"],
        ["10 %", "–", "23 Sep"],
    ]
    assert "Save these dates" in answer.text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Paste the table."),
        ("10 31 Sep 1 Oct", "There is no day 31 in September."),
        ("10 24 May 23 Sep", "two or more chances"),
        ("90 24 May 19 Oct\n50 9 May 6 Oct", "must fall as the chance rises"),
        ("90 19 Sep 20 Apr\n50 6 Oct 9 Apr\n10 23 Oct 27 Mar", "Is the latitude right?"),
        ("x" * 9000, "at most 8000 can be kept"),
        ("no figures here", "two or more chances"),
    ],
)
def test_a_paste_that_is_no_table_is_refused_with_the_reason(client, engine, made, text, said):
    answer = send(client, "/frost/paste", text=text)
    assert answer.status_code == 200
    assert said in words(answer.text)
    assert "Save these dates" not in answer.text
    assert settings(engine).frost_source is FrostSource.TABLE
