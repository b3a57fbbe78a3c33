"""This week: what is due, by day and task."""

import pytest
from scipy.stats import binom

from tests import rows
from tests.conftest import TODAY
from tests.web.pages import read_page
from tests.web.seasons import SOWN_IN, UP_IN, links, one_sowing, words


def least_cells(plants, germination=0.70, seeds=2, survival=0.90, confidence=0.90):
    """Return the cells by scipy's binomial law, tried one by one."""
    chance = (1 - (1 - germination) ** seeds) * survival
    return next(n for n in range(plants, 1000) if binom.sf(plants - 1, n, chance) >= confidence)


def test_a_week_lists_its_tasks_with_grower_crop_count_container_and_place(client, session):
    made = one_sowing(session, variety="Little Amber")
    page = client.get(f"/?week={SOWN_IN}")
    cells = least_cells(6)
    said = words(page.text)
    assert "The week 26 Apr – 2 May" in said
    assert "Sat 1 May" in said
    assert f"Tomato Little Amber {cells} cells {2 * cells} seeds 72-cell tray, lamp" in said
    assert f"Sow 1 sowing, {cells} cells" in said
    assert f"/growers/{made.grower}" in links(page.text)


@pytest.mark.parametrize(
    ("week", "day", "task"),
    [
        (UP_IN, "Fri 7 May", "Uncover 1 sowing"),
        ("2027-W19", "Fri 14 May", "Thin 1 sowing"),
        ("2027-W23", "Sat 12 Jun", "Harden 1 sowing"),
        ("2027-W24", "Sat 19 Jun", "Hand out 1 sowing, 6 plants"),
    ],
)
def test_the_later_tasks_stand_in_their_weeks(client, session, week, day, task):
    one_sowing(session)
    said = words(client.get(f"/?week={week}").text)
    assert day in said
    assert task in said


def test_without_a_week_in_the_address_it_is_the_week_of_today(client, session):
    one_sowing(session, sow_on=TODAY, plant_out=TODAY.replace(month=5, day=29))
    said = words(client.get("/").text)
    assert said.startswith("This week 5 – 11 Apr (W14), today is Saturday 10 April 2027.")
    assert "Sat 10 Apr today" in said


def test_another_week_does_not_call_a_day_today(client, session):
    one_sowing(session)
    assert not [e for e in read_page(client.get(f"/?week={SOWN_IN}").text).elements if e.has_class("today")]


def test_the_weeks_before_and_after_keep_the_chosen_grower(client, session):
    made = one_sowing(session)
    found = links(client.get(f"/?week={SOWN_IN}&grower={made.grower}").text)
    assert {f"/?week=2027-W16&grower={made.grower}", f"/?week=2027-W18&grower={made.grower}"} <= found


def test_a_grower_in_the_address_leaves_the_others_out(client, session):
    made = one_sowing(session)
    other = rows.grower(session, "Tomas Keel")
    rows.sowing(session, other, made.tomato, "S-0002")
    session.commit()
    both = words(client.get(f"/?week={SOWN_IN}").text)
    alone = client.get(f"/?week={SOWN_IN}&grower={other.id}").text
    assert "Sow 2 sowings" in both
    assert "Sow 1 sowing," in words(alone)
    assert f"/growers/{made.grower}" not in links(alone)


def test_an_empty_week_says_what_comes_next(client, session):
    one_sowing(session)
    page = client.get("/").text
    assert f"Nothing is due this week. Next: Sat 1 May: sow Tomato, {least_cells(6)} cells." in words(page)
    assert f"/?week={SOWN_IN}" in links(page)


def test_after_the_season_nothing_comes_next(client, session):
    one_sowing(session)
    assert "Nothing is due after it either." in words(client.get("/?week=2027-W40").text)


@pytest.mark.parametrize(
    "query", ["week=2027-W53", "week=2027-W00", "week=spring", "week=9999-W52", "week=0001-W01", "grower=999"]
)
def test_a_week_or_grower_that_there_is_not_is_not_found(client, session, query):
    one_sowing(session)
    assert client.get(f"/?{query}").status_code == 404


def test_the_caution_of_mix_stands_where_something_is_sown_and_only_there(client, session):
    one_sowing(session)
    assert "Caution: dust of potting mix." in words(client.get(f"/?week={SOWN_IN}").text)
    assert "dust of potting mix" not in words(client.get(f"/?week={UP_IN}").text)


def test_covers_and_mould_stand_where_something_is_uncovered(client, session):
    one_sowing(session)
    assert "mould" in words(client.get(f"/?week={UP_IN}").text)
    assert "mould" not in words(client.get(f"/?week={SOWN_IN}").text)


def test_over_full_places_stand_in_the_facts(client, session):
    one_sowing(session, plants=80, positions=1)  # 80 plants need more than the 72 cells of one tray
    assert "Over-full lamp, 1 over" in words(client.get(f"/?week={SOWN_IN}").text)
    assert "Over-full no place" in words(client.get("/").text)


def test_the_next_sowing_day_stands_in_the_facts(client, session):
    one_sowing(session)
    assert "Next sowing day Sat 1 May" in words(client.get("/").text)


def test_a_crop_sown_outside_has_its_last_day_and_no_container(client, session):
    made = one_sowing(session)
    carrot = rows.crop(session, "Carrot", hardiness="hardy", days_to_maturity=60, counted_from="seed")
    rows.sowing(session, made.who, carrot, "S-0002")
    session.commit()
    # Sown from the average last frost, 1 June; good to the average first frost, 30 August, and 14 days after it,
    # 13 September; 60 days to maturity and 14 of picking before that: 1 July.
    said = words(client.get("/?week=2027-W22").text)
    assert "Sow outside 1 sowing, 6 plants Ines Moreau Carrot 6 plants by 1 Jul at the plot" in said


def test_many_tasks_are_shown_a_page_at_a_time(client, session, monkeypatch):
    made = one_sowing(session)
    rows.sowing(session, made.who, made.tomato, "S-0002")
    session.commit()
    monkeypatch.setattr("app.web.views.week.ROWS", 1)
    first, last = client.get(f"/?week={SOWN_IN}").text, client.get(f"/?week={SOWN_IN}&page=2").text
    assert "Tasks 1 to 1 of 2, page 1 of 2." in words(first)
    assert "Sow 2 sowings" in words(first)
    assert "Tasks 2 to 2 of 2, page 2 of 2." in words(last)
