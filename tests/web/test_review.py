"""Looking back on a season, and beginning the next one, on their pages."""

import io
import zipfile
from datetime import date

import pytest
from sqlalchemy import func, select

from app.core.words import LogKind, Role
from app.services.backups import FOLDER, list_kept
from app.services.folder import load_folder
from app.services.levelling import start_levelling
from app.storage import Session
from app.storage.models import Draft, LogEntry, Sowing
from tests import rows
from tests.backups import new_database
from tests.conftest import TODAY
from tests.people import sign_in_as
from tests.web.filling import form_values
from tests.web.seasons import words
from tests.web.test_once import assert_acts_once, typed_into

SOWN = date(2027, 3, 6)


@pytest.fixture
def garden(session):
    """Two growers' kale: one sown, up, with losses and handed out early; of the other's nothing is written down."""
    rows.garden(session)
    box = rows.container(session)
    rows.shelf(session, positions=4)
    kale = rows.crop(session, "Kale", box=box)
    lot = rows.seed_lot(session, kale, germination=0.8)
    for number, name in enumerate(("Ada Brook", "Bo Reed"), start=1):
        sowing = rows.sowing(session, rows.grower(session, name), kale, f"S-000{number}", plants=6, seed_lot_id=lot.id)
        if number == 1:
            for at, (kind, day, count) in enumerate(
                (("sown", SOWN, 10), ("up", date(2027, 3, 13), 8), ("lost", date(2027, 3, 20), 3),
                 ("handed out", date(2027, 4, 9), 5))
            ):  # fmt: skip
                session.add(LogEntry(name=f"E-{at}", sowing_id=sowing.id, kind=LogKind(kind), date=day, count=count))
    session.commit()


def test_without_a_log_the_page_says_so(client, session):
    rows.garden(session)
    session.commit()
    said = words(client.get("/looking-back").text)
    assert "Nothing is written down yet." in said
    assert "Losses" not in said


def test_page_says_what_the_log_says_and_how_far_it_reaches(client, garden):
    said = words(client.get("/looking-back").text)
    assert "up to Sat 10 Apr" in said
    assert "The season is not over." in said
    assert "8 of 10 cells in 1 sowing" in said
    assert "Ada Brook 6 5 0 83 %" in said
    assert "Unknown 3 100 %" in said
    assert "some plants handed out" in said


def test_every_table_can_be_had_as_a_file(client, garden):
    for table, first in {
        "sowings": "S-0001,Ada Brook,Kale,,6,5,0,0,some plants handed out",
        "dates": "Kale,sown,1,",
        "seed": "Kale,Packet A,0.8,1,10,8,",
        "losses": "2027-03-20,2027-W11,S-0001,Kale,lamp,unknown,3",
        "places": "2027-W09,heat,0,0,0",
        "growers": "Ada Brook,6,5,0,0,0,0.8333,0,0",
    }.items():
        answer = client.get(f"/looking-back/{table}.csv")
        assert answer.mimetype == "text/csv"
        assert answer.text.splitlines()[1].startswith(first), table
    assert client.get("/looking-back/others.csv").status_code == 404


def test_sheet_is_a_pdf(client, garden):
    answer = client.get("/looking-back/season.pdf")
    assert answer.data.startswith(b"%PDF")


def test_members_look_back_and_begin_no_season(app, garden):
    client = app.test_client()
    sign_in_as(client, "Bo Reed", Role.MEMBER)
    answer = client.get("/looking-back")
    assert answer.status_code == 200
    assert "/next-season" not in answer.text
    assert client.get("/next-season").status_code == 403


def test_next_season_begins_once_and_the_old_one_is_in_a_backup(app, client, engine, garden):
    said = words(client.get("/next-season").text)
    assert "Begin the season 2028?" in said
    assert "2 sowings of 2027 with what was handed out of them" in said
    address = assert_acts_once(client, engine, "/next-season", typed_into(client, "/next-season"))
    assert address == "/setup"
    with Session(engine) as session:
        assert rows.get_garden(session).season == 2028
        assert session.scalar(select(func.count(Sowing.id))) == 0
        assert sorted(session.scalars(select(Draft.got)), key=lambda got: got or 0) == [None, 5]
    folder = app.config["SETTINGS"].instance / FOLDER
    (kept,) = list_kept(folder, of_seasons=True)
    assert kept.path.name in words(client.get("/setup/backups").text)
    assert "Nothing is written down yet." in words(client.get("/looking-back").text)


def test_a_season_that_has_gone_on_meanwhile_is_not_ended(client, engine, garden):
    sent = typed_into(client, "/next-season")
    with Session(engine) as session:
        session.add(
            LogEntry(
                name="E-9",
                sowing_id=session.scalars(select(Sowing.id)).first(),
                kind=LogKind.PLANTED_OUT,
                date=TODAY,
                count=1,
            )
        )
        session.commit()
    answer = client.post("/next-season", data=sent)
    assert answer.status_code == 409
    assert "Something of the season has changed" in words(answer.text)
    with Session(engine) as session:
        assert rows.get_garden(session).season == 2027
    assert client.post("/next-season", data=form_values(answer.text)).status_code == 302


def test_it_waits_while_a_plan_that_fits_is_looked_for(client, engine, garden):
    sent = typed_into(client, "/next-season")
    with Session(engine) as session:
        start_levelling(session, seconds=60, today=TODAY)
        session.commit()
    assert "It has to wait." in words(client.get("/next-season").text)
    sent = typed_into(client, "/next-season")
    answer = client.post("/next-season", data=sent)
    assert answer.status_code == 409
    assert "A plan that fits is being looked for." in words(answer.text)


def test_without_room_for_the_backup_nothing_is_changed(client, engine, garden, monkeypatch):
    def no_room(_engine, path):
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr("app.services.season_end.copy_database", no_room)
    answer = client.post("/next-season", data=typed_into(client, "/next-season"))
    assert answer.status_code == 409
    assert "there is no room left" in words(answer.text)
    with Session(engine) as session:
        assert rows.get_garden(session).season == 2027
        assert session.scalar(select(func.count(Sowing.id))) == 2


def test_packed_folder_loads(client, garden, tmp_path):
    answer = client.get("/next-season/folder.zip")
    with zipfile.ZipFile(io.BytesIO(answer.data)) as archive:
        archive.extractall(tmp_path / "out")
    other = new_database(tmp_path / "other.sqlite3")
    with Session(other) as session:
        load_folder(session, tmp_path / "out" / "garden-2027")
        assert session.scalar(select(func.count(Sowing.id))) == 2
    other.dispose()
