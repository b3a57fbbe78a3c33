"""Tables from a spreadsheet: read as people write them, seen before they are saved, and undone whole.

How spreadsheets write tables is common practice: tabs when copied, semicolons where the comma is the decimal mark,
quotation marks as RFC 4180 has them, a byte order mark or Windows-1252 when saved.
"""

import csv
import io

import pytest
from sqlalchemy import func, select

from app.storage import Session
from app.storage.folder.layout import LAYOUTS
from app.storage.models import Batch, Crop, Grower, History, SeedLot, Shelf, Sowing
from app.web.forms.tables.columns import KINDS, read_heading
from tests import rows
from tests.web.filling import form_values
from tests.web.pages import read_page

GROWERS = "Grower\tPlot\tCan come\nAda Brook\t12\tSat, Sun\nTomas Lind\t7b\tany day\n"


@pytest.fixture
def garden(engine):
    with Session(engine) as session:
        rows.garden(session)
        session.commit()


@pytest.fixture
def crops(engine, garden):
    """Return a garden with two crops and a grower."""
    with Session(engine) as session:
        box = rows.container(session)
        rows.crop(session, name="Tomato", box=box)
        rows.crop(session, name="Leek", box=box)
        session.add(Grower(name="Ada Brook"))
        session.commit()


def read(client, table, text, **more):
    """Send a table to be read; return the page."""
    path = f"/bring-in/{table}"
    values = form_values(client.get(path).text) | {"text": text, "read": "yes"} | more
    return client.post(path, data=values)


def save(client, table, text, **more):
    """Send a table, look at what it was understood to say, and save that."""
    page = read(client, table, text, **more).text
    values = form_values(page) | {"save": "yes"} | more
    return client.post(f"/bring-in/{table}", data=values)


def cells(page, table="understood-rows"):
    """Return the cells of the preview, row by row."""
    found = {}
    for element in read_page(page).all("td", "th"):
        inside = element.within("table")
        if inside is not None and inside.attributes.get("id") == table and element.tag in ("td", "th"):
            row = element.within("tr")
            found.setdefault(id(row), []).append(" ".join(element.text.split()))
    return list(found.values())[1:]


def all_of(engine, model):
    with Session(engine) as session:
        return list(session.scalars(select(model).order_by(model.id)))


def test_nothing_is_saved_before_it_was_seen(client, engine, garden):
    page = read(client, "growers", GROWERS).text
    assert cells(page) == [
        ["2", "Ada Brook", "12", "Saturday, Sunday", "new"],
        ["3", "Tomas Lind", "7b", "any day", "new"],
    ]
    assert all_of(engine, Grower) == []
    assert all_of(engine, Batch) == []
    unseen = form_values(page) | {"save": "yes", "text": GROWERS + "Mo\t9\t\n"}
    assert "As it is understood" in client.post("/bring-in/growers", data=unseen).text
    assert all_of(engine, Grower) == []


def test_what_was_seen_is_saved_as_one_batch(client, engine, garden):
    answer = save(client, "growers", GROWERS)
    assert answer.status_code == 302
    page = client.get(answer.location).text
    assert "2 growers added" in page
    assert [(g.name, g.plot, g.days) for g in all_of(engine, Grower)] == [
        ("Ada Brook", "12", "saturday sunday"),
        ("Tomas Lind", "7b", None),
    ]
    [batch] = all_of(engine, Batch)
    assert (batch.what, batch.rows) == ("growers pasted", 2)
    with Session(engine) as session:
        assert session.scalar(select(func.count(History.id)).where(History.batch_id == batch.id)) == 2


def written(text, how):
    table = [line.split("\t") for line in text.strip().split("\n")]
    out = io.StringIO()
    csv.writer(out, delimiter=how, quoting=csv.QUOTE_MINIMAL).writerows(table)
    return out.getvalue()


@pytest.mark.parametrize("mark", ["\t", ";", ","])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_a_file_is_read_whatever_program_saved_it(client, engine, garden, mark, encoding):
    text = 'Notes\tPLOT\tMember\nlives "far", away; yes\t12\tZoë Ångström\n'
    path = "/bring-in/growers"
    values = form_values(client.get(path).text) | {
        "read": "yes",
        "file": (io.BytesIO(written(text, mark).encode(encoding)), "members.csv"),
    }
    page = client.post(path, data=values, content_type="multipart/form-data").text
    assert cells(page) == [["2", "12", "Zoë Ångström", "new"]]
    assert "passed over: Notes" in " ".join(page.split())
    answer = client.post(path, data=form_values(page) | {"save": "yes"})
    assert answer.status_code == 302
    assert [(g.name, g.plot) for g in all_of(engine, Grower)] == [("Zoë Ångström", "12")]


def test_names_of_columns_may_be_those_of_the_folder_or_plain_words_with_units(client, engine, garden):
    ours = "shelf,place,width_cm,depth_cm,levels,bench_temp_c,fan\nRack,lamp,122.5,61,3,21.5,yes\n"
    plain = 'Levels;Width (cm);Depth (mm);Shelf;Kind\n2;"150,5";30;Sill;window sill\n'
    assert save(client, "shelves", ours).status_code == 302
    with_depth = plain.replace("Depth (mm)", "Depth (cm)")
    assert save(client, "shelves", with_depth).status_code == 302
    inches = "name,place,width (in),depth (in),levels\nBench,heated bench,48,24,1\n"
    assert save(client, "shelves", inches).status_code == 302
    found = [(s.name, s.place, s.width_cm, s.depth_cm, s.levels, s.bench_temp_c, s.fan) for s in all_of(engine, Shelf)]
    assert found[0] == ("Rack", "lamp", 122.5, 61, 3, 21.5, True)
    assert found[1] == ("Sill", "window", 150.5, 30, 2, None, None)
    assert found[2][:2] == ("Bench", "heat")
    assert found[2][2:4] == pytest.approx((121.92, 60.96))  # an inch is 2.54 cm exactly (ISO 80000-3)


def test_faulty_rows_are_named_all_at_once_and_the_rest_can_be_saved(client, engine, garden):
    text = (
        "Shelf\tPlace\tWidth\tDepth\tLevels\n"
        "Good\tlamp\t120\t60\t3\n"
        "Odd\tlampe\t120\t60\tthree\n"
        "\twindow\t1,5\t60\t1\n"
        "Wide\twindow\t99999\t60\t1\n"
        "Good\tlamp\t100\t60\t1\n"
    )
    page = read(client, "shelves", text).text
    faults = cells(page, "wrong-rows")
    assert [(row, column) for row, column, *_ in faults] == [
        ("3", "Place"), ("3", "Levels"), ("4", "Shelf"), ("5", "Width of a level"), ("6", "Shelf"),
    ]  # fmt: skip
    assert "Give one of: heat, lamp, window, hardening. Is it lamp?" in faults[0][3]
    assert "whole number from 1 to 50" in faults[1][3]
    assert "Save 1 shelf and leave 4 rows out" in page
    assert client.post("/bring-in/shelves", data=form_values(page) | {"save": "yes"}).status_code == 302
    assert [(s.name, s.width_cm) for s in all_of(engine, Shelf)] == [("Good", 120)]
    mended = text.replace("lampe", "lamp").replace("three", "3")
    page = read(client, "shelves", mended).text
    assert "there already" in cells(page)[0][-1]
    assert "Save 1 shelf and leave 2 rows out" in page


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "Paste the rows"),
        ("Ada Brook\t12\nTomas\t7\n", "Row 1 must name the columns"),
        ("Plot\tEmail\n12\ta@example.org\n", "no column of this name: Grower"),
        ("Grower\tName\nAda\tBrook\n", "names this column twice"),
        ("Grower\n", "no rows below"),
        ('Grower\tPlot\n"Ada\t12\n', "Row 2: quotation marks"),
        ("Grower\n" + "x\n" * 1001, "at most 1,000"),
    ],
)
def test_what_is_no_table_says_why_and_keeps_what_was_typed(client, engine, garden, text, words):
    page = read(client, "growers", text).text
    assert words in page
    assert form_values(page)["text"][0].replace("\r\n", "\n").strip() == text.strip()
    assert all_of(engine, Grower) == []


def test_a_file_that_is_no_text_says_so(client, garden):
    path = "/bring-in/growers"
    values = form_values(client.get(path).text) | {"file": (io.BytesIO(b"PK\3\4\0\0\0\0"), "members.xlsx")}
    assert "no text" in client.post(path, data=values, content_type="multipart/form-data").text


def test_a_day_that_is_plain_tells_how_all_are_written(client, engine, crops):
    text = "Grower;Crop;Plants;Plant out\nAda Brook;Tomato;6;{};\nAda Brook;Leek;9;6/5/2027;\n"
    page = read(client, "sowings", text.format("15/6/2027")).text
    assert "How are days written" not in page
    assert [row[-2] for row in cells(page)] == ["Tuesday 15 June 2027", "Thursday 6 May 2027"]
    page = read(client, "sowings", text.format("6/15/2027")).text
    assert [row[-2] for row in cells(page)] == ["Tuesday 15 June 2027", "Saturday 5 June 2027"]


def test_days_that_leave_it_open_are_asked_for_once(client, engine, crops):
    text = "Grower,Crop,Plants,Plant out\nAda Brook,Tomato,6,5/6/2027\nAda Brook,Leek,9,6/5/2027\n"
    page = read(client, "sowings", text).text
    assert page.count("How are days written") == 1
    assert "Saturday 5 June 2027" in page
    assert "Thursday 6 May 2027" in page
    assert 'name="save"' not in page
    unanswered = client.post("/bring-in/sowings", data=form_values(page) | {"save": "yes"})
    assert unanswered.status_code == 200
    assert all_of(engine, Sowing) == []
    page = client.post("/bring-in/sowings", data=form_values(page) | {"order": "month"}).text
    answer = client.post("/bring-in/sowings", data=form_values(page) | {"save": "yes"})
    assert answer.status_code == 302
    assert [str(s.plant_out) for s in all_of(engine, Sowing)] == ["2027-05-06", "2027-06-05"]


def test_names_that_are_not_there_are_made_matched_or_left_out(client, engine, crops):
    text = "who,vegetable,how many\nTomas Lind,Tomatoe,6\nada  BROOK,Leek,9\nTomas Lind,Quince,2\nMo,Leek,3\n"
    page = read(client, "sowings", text).text
    names = {o.text.strip() for o in read_page(page).all("option")}
    assert "Make a new grower “Tomas Lind”" in names
    assert not any("new crop" in name for name in names)
    assert 'name="save"' not in page
    with Session(engine) as session:
        tomato = str(session.scalar(select(Crop.id).where(Crop.name == "Tomato")))
    said = {"is-crop-tomatoe": tomato, "is-crop-quince": "out", "is-grower-mo": "out"}
    page = client.post("/bring-in/sowings", data=form_values(page) | said).text
    assert "New growers come along: Tomas Lind" in page
    assert [row[1:3] for row in cells(page)][:2] == [["Tomas Lind", "Tomato, written “Tomatoe”"], ["Ada Brook", "Leek"]]
    answer = client.post("/bring-in/sowings", data=form_values(page) | {"save": "yes"})
    assert answer.status_code == 302
    assert [g.name for g in all_of(engine, Grower)] == ["Ada Brook", "Tomas Lind"]
    with Session(engine) as session:
        found = [(s.grower.name, s.crop.name, s.plants) for s in session.scalars(select(Sowing).order_by(Sowing.id))]
    assert found == [("Tomas Lind", "Tomato", 6), ("Ada Brook", "Leek", 9)]


def test_a_made_up_choice_of_a_name_saves_nothing(client, engine, crops):
    text = "Grower,Crop,Plants\nAda Brook,Quince,6\n"
    for made_up in ("new", "899999", "-1", "x"):
        answer = save(client, "sowings", text, **{"is-crop-quince": made_up})
        assert answer.status_code == 200
    assert all_of(engine, Sowing) == []


def test_shares_are_read_in_percent_or_as_parts_of_one(client, engine, crops):
    text = "Seed lot;Crop;Germination\nTOM-A;Tomato;85 %\nTOM-B;Tomato;0,85\nTOM-C;Tomato;85\n"
    assert save(client, "seed-lots", text).status_code == 302
    assert [lot.germination for lot in all_of(engine, SeedLot)] == [0.85, 0.85, 0.85]


def test_a_row_that_breaks_a_rule_of_the_garden_says_which(client, engine, crops):
    text = "Grower,Crop,Plants,Plant out,Granted\nAda Brook,Tomato,6,2099-05-01,\nAda Brook,Leek,6,,9\n"
    faults = cells(read(client, "sowings", text).text, "wrong-rows")
    assert [row[:2] for row in faults] == [["2", "Own plant-out date"], ["3", "Plants granted"]]
    assert "from 2026 to 2028" in faults[0][3]


@pytest.mark.parametrize(
    ("table", "text", "model"),
    [
        ("growers", GROWERS.replace("Ada Brook", "Ada Lane"), Grower),
        ("sowings", "Grower\tCrop\tPlants\nAda Brook\tTomato\t6\nAda Brook\tTomato\t6\n", Sowing),
        ("seed-lots", "Seed lot\tCrop\nTOM-A\tTomato\n", SeedLot),
        ("shelves", "Shelf\tPlace\tWidth\tDepth\tLevels\nGood\tlamp\t120\t60\t3\n", Shelf),
    ],
)
def test_the_same_rows_sent_twice_change_nothing(client, engine, crops, table, text, model):
    assert save(client, table, text).status_code == 302
    before = len(all_of(engine, model))
    again = save(client, table, text)
    assert again.status_code == 200
    assert "These rows were saved before" in again.text
    turned = "\n".join([text.split("\n")[0], *reversed(text.strip().split("\n")[1:])])
    assert "These rows were saved before" in read(client, table, turned).text
    some_more = text + text.strip().split("\n")[-1].replace("Ada Brook\tTomato\t6", "Ada Brook\tLeek\t4") + "\n"
    if table == "sowings":
        assert "1 new" in read(client, table, some_more).text
    assert len(all_of(engine, model)) == before
    assert len(all_of(engine, Batch)) == 1


def test_what_is_there_otherwise_stays_as_it_is(client, engine, crops):
    page = read(client, "growers", "Grower,Plot\nada brook,99\n").text
    assert "there already, otherwise" in page
    assert 'name="save"' not in page


def test_a_batch_is_undone_whole_and_its_rows_can_be_brought_in_anew(client, engine, crops):
    location = save(client, "growers", GROWERS.replace("Ada Brook", "Ada Lane")).location
    page = client.get(location).text
    assert "can be undone whole" in page
    undone = client.post(f"{location}/undo", data=form_values(page))
    assert undone.status_code == 302
    assert [g.name for g in all_of(engine, Grower)] == ["Ada Brook"]
    assert "Undone" in client.get(location).text
    assert save(client, "growers", GROWERS.replace("Ada Brook", "Ada Lane")).status_code == 302
    assert len(all_of(engine, Grower)) == 3


def test_what_was_built_upon_stands_in_the_way(client, engine, crops):
    location = save(client, "growers", GROWERS.replace("Ada Brook", "Ada Lane")).location
    page = client.get(location).text
    assert save(client, "sowings", "Grower,Crop,Plants\nAda Lane,Leek,4\n").status_code == 302
    answer = client.post(f"{location}/undo", data=form_values(page))
    assert answer.status_code == 409
    assert "Ada Lane</strong> is used by a sowing" in answer.text
    assert len(all_of(engine, Grower)) == 3


def test_what_was_changed_since_stands_in_the_way(client, engine, crops):
    location = save(client, "growers", GROWERS.replace("Ada Brook", "Ada Lane")).location
    grower = all_of(engine, Grower)[-1].id
    path = f"/growers/{grower}/edit"
    assert client.post(path, data=form_values(client.get(path).text) | {"plot": "8"}).status_code == 302
    page = client.get(location).text
    assert "Tomas Lind</strong> was changed since" in page
    assert "Undo all of it" not in page


def test_batches_are_listed_with_who_when_and_how_many(client, garden):
    assert "Nothing was brought in together yet" in client.get("/history/batches").text
    save(client, "growers", GROWERS)
    page = client.get("/history/batches").text
    assert "Growers pasted" in page
    assert "stands" in page
    assert "/history/batches" in client.get("/history").text
    assert client.get("/history/batches/99").status_code == 404
    assert client.get("/bring-in/weather").status_code == 404


def test_one_new_grower_is_made_of_a_name_that_is_spelled_in_two_ways(client, engine, crops):
    text = "Grower,Crop,Plants\nTomas Lind,Tomato,6\ntomas  LIND,Leek,4\n" + "x" * 81 + ",Leek,4\n"
    faults = cells(read(client, "sowings", text).text, "wrong-rows")
    assert [row[:2] for row in faults] == [["4", "Grower"]]
    assert "at most 80" in faults[0][3]
    assert save(client, "sowings", text).status_code == 302
    assert [g.name for g in all_of(engine, Grower)] == ["Ada Brook", "Tomas Lind"]


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_every_column_of_the_garden_folder_is_known_by_its_name(kind):
    """Keys of sowings are the one exception: the program gives them."""
    [layout] = [layout for layout in LAYOUTS if layout.file == f"{kind.key.replace('-', '_')}.csv"]
    known = {column.name: read_heading(column.name, kind).column for column in layout.columns}
    if kind.key == "sowings":
        assert known.pop("sowing") is None
    assert [name for name, column in known.items() if column is None] == []
    attributes = {column.name: column.attribute for column in layout.columns}
    assert {name: column.name for name, column in known.items()} == {name: attributes[name] for name in known}


@pytest.mark.parametrize("language", ["en", "fr"])
def test_headings_and_cells_that_people_wrote_are_no_part_of_the_page(client, crops, language):
    hostile = "<b>Plot</b> 100% %(x)s"
    table = f"Grower\t{hostile}\tSowing\nAda Brook\t{hostile}\t{hostile}\nIda {hostile}\t1\t\n"
    for kind in KINDS:
        asked = {"Accept-Language": language}
        values = form_values(client.get(f"/bring-in/{kind}", headers=asked).text)
        page = client.post(f"/bring-in/{kind}", data=values | {"text": table}, headers=asked).text
        assert "&lt;b&gt;Plot" in page
        assert "<b>Plot" not in page
