"""A season ended by command."""

from sqlalchemy import func, select

from app.services.backups import list_kept
from app.storage import Session
from app.storage.engine import make_engine
from app.storage.models import Draft, Garden, Sowing


def test_a_season_is_ended_once_and_kept(run, demo, surroundings):
    said = run("next-season", 2027).stdout
    (kept,) = list_kept(surroundings.parent / "backups", of_seasons=True)
    assert said == f"The season 2028 has begun. That of 2027 is kept in {kept.path}.\n"
    engine = make_engine(f"sqlite:///{surroundings}")
    with Session(engine) as session:
        assert session.scalars(select(Garden.season)).one() == 2028
        assert session.scalar(select(func.count(Sowing.id))) == 0
        assert session.scalar(select(func.count(Draft.id))) == 500
    engine.dispose()
    assert "another season than 2027" in run("next-season", 2027, status=2).stderr
    assert len(list_kept(surroundings.parent / "backups", of_seasons=True)) == 1


def test_without_a_garden_there_is_no_season_to_end(run):
    assert "no garden yet" in run("next-season", 2027, status=1).stderr
