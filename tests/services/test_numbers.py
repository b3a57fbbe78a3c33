"""Numbers that stand on paper are given once: keys of sowings, numbers of trays."""

from datetime import date

import pytest

from app.core.words import NumberKind
from app.services.copying import copy_garden
from app.services.deal import accept_deal, season_days
from app.services.demo import set_up_demo
from app.services.folder import dump_folder, load_folder
from app.services.plan import get_plan
from app.services.sowings import add_sowing, remove_sowing
from app.services.trays import remove_tray, renumber_tray, start_empty_tray
from app.storage import Session
from app.storage.engine import make_engine
from app.storage.numbers import last_number
from app.storage.queries.trays import list_trays
from app.storage.schema import upgrade
from tests import rows
from tests.kept_gardens import kept
from tests.services.test_together import wish

DAY = date(2027, 4, 10)


@pytest.fixture
def garden(session):
    """Add a garden with a sowing whose key was given elsewhere; return ids of grower, crop, container, sowing."""
    rows.garden(session)
    rows.shelf(session, "Lamp rack", positions=12)
    box, who = rows.container(session), rows.grower(session)
    crop = rows.crop(session, box=box)
    return who.id, crop.id, box.id, rows.sowing(session, who, crop, "S-0041").id


def add(session, garden):
    return add_sowing(session, wish(garden[0], garden[1]))


def numbers(session):
    return [tray.number for tray in list_trays(session)]


class TestKeyOfASowing:
    def test_is_the_next_one(self, session, garden):
        assert [add(session, garden).name for _ in range(2)] == ["S-0042", "S-0043"]

    def test_is_not_given_again_after_the_last_sowing_is_gone(self, session, garden):
        remove_sowing(session, add(session, garden).id)
        assert add(session, garden).name == "S-0043"

    def test_from_a_folder_is_not_given_again_either(self, session, garden):
        remove_sowing(session, garden[3])
        assert add(session, garden).name == "S-0042"

    def test_counts_on_when_another_garden_is_loaded(self, session, garden, tmp_path):
        dump_folder(session, tmp_path / "out")
        add(session, garden)
        load_folder(session, tmp_path / "out", replace=True)
        assert last_number(session, NumberKind.SOWING) == 42


class TestNumberOfATray:
    def test_is_not_given_again_when_the_tray_is_gone(self, session, garden):
        start_empty_tray(session, 9, garden[2], DAY)
        remove_tray(session, 9)
        accept_deal(session, **self.season(session), today=DAY)
        assert numbers(session)[0] == 10

    def test_is_not_given_again_when_the_tray_got_another(self, session, garden):
        start_empty_tray(session, 9, garden[2], DAY)
        renumber_tray(session, 9, 3)
        accept_deal(session, **self.season(session), today=DAY)
        assert numbers(session)[:2] == [3, 10]

    def test_may_be_typed_by_whoever_has_the_tag_in_hand(self, session, garden):
        start_empty_tray(session, 9, garden[2], DAY)
        remove_tray(session, 9)
        start_empty_tray(session, 9, garden[2], DAY)
        assert numbers(session) == [9]

    def test_goes_along_to_another_database(self, session, garden, tmp_path):
        start_empty_tray(session, 9, garden[2], DAY)
        remove_tray(session, 9)
        other = make_engine(f"sqlite:///{tmp_path / 'other.sqlite3'}")
        upgrade(other)
        with Session(other) as target:
            copy_garden(session, target)
            assert last_number(target, NumberKind.TRAY) == 9
        other.dispose()

    def test_of_the_demo_is_nobody_s(self, session):
        kept(session, set_up_demo)
        assert numbers(session)[0] == 1
        set_up_demo(session, replace=True)
        assert numbers(session)[0] == 1

    @staticmethod
    def season(session):
        return dict(zip(("first", "last"), season_days(get_plan(session)), strict=True))
