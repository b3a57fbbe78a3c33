"""One sowing moved by hand: what it does is shown first, and stored as it was shown.

By the dates of tests/web/seasons.py tomatoes are sown from 24 April to 8 May, best on 1 May. There is no heat here, so
a tray stands under lamps from sowing until 12 June: W17 (26 April - 2 May) to W23 (7 - 13 June). Six plants take 9
cells, a whole tray. Two growers' trays on one position are one too many in every one of these weeks.
"""

from datetime import date
from types import SimpleNamespace

import pytest

from app.core.dealing.one_move import Wish
from app.core.words import LAMP, Light, Place
from app.services.filled import mark_filled
from app.services.sowing_day import SownAlreadyError, StaleMoveError, move_sowing, propose_move
from app.storage.models import Grower, Sowing
from app.storage.queries.version import get_mark
from tests import rows
from tests.conftest import TODAY
from tests.web.dealt import deal
from tests.web.filling import errors_of, form_values
from tests.web.pages import read_page
from tests.web.seasons import links, words

MAY_1, MAY_8 = date(2027, 5, 1), date(2027, 5, 8)


def tomatoes(session, *, dealt=False, card=None, **changes):
    """Add two growers' tomatoes, the second with changes, and carrots that are sown outside."""
    rows.garden(session)
    box = rows.container(session, "9-pot tray", cells_per_tray=9)
    rows.shelf(session, positions=1)
    rows.shelf(session, "Sill", place=Place.WINDOW, positions=3)
    rows.shelf(session, "Cold frame", place=Place.HARDENING, positions=8)
    crop = rows.crop(session, box=box, days_to_maturity=40, **(card or {}))
    one, other = rows.grower(session, "Ada Brandt"), rows.grower(session, "Tomas Keel")
    first = rows.sowing(session, one, crop, "S-A")
    second = rows.sowing(session, other, crop, "S-T", **changes)
    carrot = rows.sowing(session, one, rows.crop(session, "Carrot"), "S-C")
    made = SimpleNamespace(
        first=first.id,
        sowing=second.id,
        grower=other.id,
        carrot=carrot.id,
        page=f"/sowings/{second.id}/day",
    )
    session.commit()
    if dealt:
        deal(session)
    return made


def stored(session, sowing_id):
    session.rollback()
    sowing = session.get(Sowing, sowing_id)
    found = sowing.sow_on, sowing.light, sowing.placed
    session.rollback()
    return found


def mark_of(session):
    mark = get_mark(session)
    session.rollback()
    return mark


def choices(html, name):
    """Return the words of each choice of a group of radio buttons, and the value of the one that is chosen."""
    page = read_page(html)
    buttons = [element for element in page.all("input") if element.attributes.get("name") == name]
    radios = [button for button in buttons if button.attributes.get("type") == "radio"]
    labels = {label.attributes.get("for"): " ".join(label.text.split()) for label in page.all("label")}
    chosen = [radio.attributes["value"] for radio in radios if "checked" in radio.attributes]
    return [labels[radio.attributes["id"]] for radio in radios], chosen


def test_every_day_of_the_window_is_offered_with_its_distance_from_the_best(client, session):
    made = tomatoes(session)
    page = client.get(made.page).text
    assert choices(page, "day") == (
        [
            "Sat 24 Apr, 7 days before its best day",
            "Sat 1 May, its best day, as planned now",
            "Sat 8 May, 7 days after its best day",
        ],
        ["2027-05-01"],
    )
    assert "Sow from – by Sat 24 Apr – Sat 8 May" in words(page)
    assert "What it does" not in page


def test_what_another_day_does_is_shown_and_nothing_is_stored(client, session):
    made = tomatoes(session)
    mark = mark_of(session)
    said = words(client.get(f"{made.page}?day=2027-05-08&placed=6").text)
    # The week of 1 May is over-full no more; on 8 May, in the week after, both trays stand.
    assert "Lamps no longer over-full 26 Apr – 2 May (W17), before by 1 tray" in said
    assert "In all, some place is over-full in 6 weeks, before in 7." in said
    assert "Sow Sat 1 May Sat 8 May Emerges Fri 7 May Fri 14 May" in said
    assert "Harden from Sat 12 Jun Sat 12 Jun Plant out Sat 19 Jun Sat 19 Jun" in said
    assert "26 Apr – 2 May W17 2 1 over 1" in said
    assert stored(session, made.sowing) == (None, None, None)
    assert mark_of(session) == mark


def test_leaving_a_sowing_out_empties_its_weeks(client, session):
    made = tomatoes(session)
    said = words(client.get(f"{made.page}?placed=0").text)
    assert "Lamps no longer over-full 26 Apr – 13 Jun (W17 – W23), before by up to 1 tray" in said
    assert "Plants 6 plants none, left out To sow 9 cells, 18 seeds nothing" in said


def test_a_move_that_makes_it_worse_says_so(client, session):
    made = tomatoes(session, placed=0)
    said = words(client.get(f"{made.page}?placed=6").text)
    assert "Lamps newly over-full 26 Apr – 13 Jun (W17 – W23), by up to 1 tray" in said
    assert "In all, some place is over-full in 7 weeks, before in 0." in said


def test_more_and_less_are_told_apart(client, session):
    # Twice 6 plants are two trays: three of one position in place of two, or the other way round.
    made = tomatoes(session, plants=12, placed=6)
    more = words(client.get(f"{made.page}?placed=12").text)
    assert "Lamps more over-full 26 Apr – 13 Jun (W17 – W23), by up to 2 trays in place of 1" in more
    client.post(made.page, data=form_values(client.get(f"{made.page}?placed=12").text))
    less = words(client.get(f"{made.page}?placed=6").text)
    assert "Lamps less over-full 26 Apr – 13 Jun (W17 – W23), by up to 1 tray in place of 2" in less


def test_what_was_shown_is_stored_and_its_new_dates_are_said(client, session):
    made = tomatoes(session)
    answer = client.post(made.page, data=form_values(client.get(f"{made.page}?day=2027-05-08&placed=4").text))
    assert (answer.status_code, answer.location) == (302, f"/growers/{made.grower}")
    assert stored(session, made.sowing) == (MAY_8, None, 4)
    assert "S-T saved. Sow Sat 8 May." in words(client.get(answer.location).text)


def test_the_best_day_is_not_set_but_left_to_the_plan(client, session):
    made = tomatoes(session, sow_on=MAY_8, placed=2)
    client.post(made.page, data=form_values(client.get(f"{made.page}?day=2027-05-01&placed=6").text))
    assert stored(session, made.sowing) == (None, None, None)


def test_who_comes_from_the_ledger_goes_back_there(client, session):
    made = tomatoes(session)
    page = client.get(f"{made.page}?week=2027-W18").text
    assert "/ledger/2027-W18" in links(page)
    shown = client.get(f"{made.page}?week=2027-W18&day=2027-05-08&placed=6").text
    action = next(
        form.attributes["action"] for form in read_page(shown).all("form") if form.attributes.get("method") == "post"
    )
    assert client.post(action, data=form_values(shown)).location == "/ledger/2027-W18"
    assert client.get(f"{made.page}?week=never").status_code == 404


def test_nothing_is_offered_to_be_saved_where_nothing_changes(client, session):
    made = tomatoes(session)
    page = client.get(f"{made.page}?day=2027-05-01&placed=6").text
    assert "Nothing: it is planned like that already." in words(page)
    assert "Save it" not in page


def test_a_move_that_was_made_from_other_data_is_not_stored(client, session):
    made = tomatoes(session)
    values = form_values(client.get(f"{made.page}?day=2027-05-08&placed=6").text)
    session.get(Grower, made.grower).name = "Thomas Keel"
    session.commit()
    answer = client.post(made.page, data=values)
    assert answer.status_code == 409
    assert "Something has changed since this was shown, so nothing was saved." in words(answer.text)
    assert "no longer over-full" in words(answer.text)
    assert stored(session, made.sowing) == (None, None, None)
    assert client.post(made.page, data=form_values(answer.text)).status_code == 302
    assert stored(session, made.sowing) == (MAY_8, None, None)


def test_a_day_that_the_page_does_not_offer_is_not_stored(client, session):
    made = tomatoes(session)
    values = form_values(client.get(f"{made.page}?day=2027-05-08&placed=6").text)
    for changed in ({"day": "2027-05-05"}, {"day": "soon"}, {"placed": "7"}, {"light": "heat"}):
        assert client.post(made.page, data=values | changed).status_code == 409
    assert stored(session, made.sowing) == (None, None, None)


@pytest.mark.parametrize(
    ("asked", "field", "message"),
    [
        ("day=2027-05-05&placed=6", "day", "Choose one from the list."),
        ("day=2027-05-08&placed=7", "placed", "No more can be raised than are wanted: 6."),
        ("day=2027-05-08&placed=many", "placed", "Enter a whole number from 0"),
        ("day=2027-05-08&placed=6&light=heat", "light", "Choose one from the list."),
    ],
)
def test_what_cannot_be_says_why_and_shows_nothing(client, session, asked, field, message):
    made = tomatoes(session, card={"light": Light.WINDOW})
    page = client.get(f"{made.page}?{asked}").text
    assert message in errors_of(page)[field]
    assert "This cannot be shown yet" in words(page)
    assert "Save it" not in page


def test_what_is_sown_is_not_moved(client, session):
    made = tomatoes(session, dealt=True)
    shown = form_values(client.get(f"{made.page}?day=2027-05-08&placed=6").text)
    mark_filled(session, [1, 2], TODAY, today=TODAY)
    session.commit()
    page = client.get(f"{made.page}?day=2027-05-08&placed=6").text
    assert "It is sown already. Its day, its place and its plants are what they are, and stay." in words(page)
    assert links(page) & {"/trays/1", "/trays/2"}
    assert "Save it" not in page
    answer = client.post(made.page, data=shown)
    assert answer.status_code == 409
    assert "It is sown already." in words(answer.text)
    assert stored(session, made.sowing) == (None, None, None)


def test_what_is_sown_outside_takes_no_room(client, session):
    made = tomatoes(session)
    path = f"/sowings/{made.carrot}/day"
    page = client.get(f"{path}?day=2027-05-08&placed=6").text
    assert "It is sown outside, at the plot. It takes no room on the shelves" in words(page)
    token = form_values(client.get(f"{made.page}?placed=0").text)
    assert client.post(path, data=token).status_code == 400


def test_a_sowing_that_is_not_there_has_no_page(client, session):
    tomatoes(session)
    assert client.get("/sowings/900/day").status_code == 404


def test_a_lamp_crop_has_no_choice_of_place(client, session):
    made = tomatoes(session)
    page = client.get(made.page).text
    assert choices(page, "light") == ([], [])
    assert "under lamps" not in page


def test_a_lamp_crop_that_was_put_at_a_window_can_go_back(client, session):
    made = tomatoes(session, light=Light.WINDOW)
    page = client.get(made.page).text
    assert choices(page, "light") == (["at a window", "under lamps"], ["window"])
    shown = client.get(f"{made.page}?day=2027-05-01&light=lamp&placed=6").text
    client.post(made.page, data=form_values(shown))
    assert stored(session, made.sowing) == (None, None, None)


def test_a_window_crop_may_go_under_lamps(client, session):
    made = tomatoes(session, card={"light": Light.WINDOW})
    shown = client.get(f"{made.page}?day=2027-05-01&light=lamp&placed=6").text
    assert "Stands window lamps" in words(shown)
    client.post(made.page, data=form_values(shown))
    assert stored(session, made.sowing) == (None, Light.LAMP, None)


def test_days_gone_by_are_not_offered(client, session):
    # To go out on 29 May it is sown from 3 to 17 April; today is 10 April.
    made = tomatoes(session, plant_out=date(2027, 5, 29))
    offered, _ = choices(client.get(made.page).text, "day")
    assert offered == ["Sat 10 Apr, its best day, as planned now", "Sat 17 Apr, 7 days after its best day"]


def test_days_gone_by_are_offered_again_once_the_season_is_over(client, session):
    # To go out on 3 April it was sown from 6 to 20 February, and the other tomatoes likewise.
    made = tomatoes(session, plant_out=date(2027, 4, 3))
    session.get(Sowing, made.first).plant_out = date(2027, 4, 3)
    session.commit()
    offered, _ = choices(client.get(made.page).text, "day")
    assert [day.split(",")[0] for day in offered] == ["Sat 6 Feb", "Sat 13 Feb", "Sat 20 Feb"]


def test_a_set_day_outside_its_window_is_named_and_not_offered(client, session):
    made = tomatoes(session, sow_on=date(2027, 4, 20))
    page = client.get(made.page).text
    assert "The day set for it lies outside its window. Choose one of these days." in words(page)
    assert choices(page, "day")[1] == []
    shown = client.get(f"{made.page}?day=2027-05-08&placed=6").text
    client.post(made.page, data=form_values(shown))
    assert stored(session, made.sowing) == (MAY_8, None, None)


def test_a_warning_of_the_move_is_shown(client, session):
    # Out on 5 June, before the frost dates allow: the move stays early, and says so.
    made = tomatoes(session, plant_out=date(2027, 6, 5))
    said = words(client.get(f"{made.page}?day=2027-04-24&placed=6").text)
    assert "Plants out early: the chance of a freeze on Sat 5 Jun or later is" in said


def test_dealt_trays_are_said_to_be_dealt_anew(client, session):
    made = tomatoes(session, dealt=True)
    shown = client.get(f"{made.page}?day=2027-05-08&placed=6").text
    assert "Its trays are dealt already: deal them anew afterwards." in words(shown)
    answer = client.post(made.page, data=form_values(shown))
    page = client.get(answer.location).text
    assert "Its trays are dealt otherwise: deal them anew." in words(page)
    assert "/trays/deal" in links(page)


def test_the_ledger_and_the_sowings_lead_to_the_day(client, session):
    made = tomatoes(session)
    week = links(client.get("/ledger/2027-W20").text)
    assert f"{made.page}?week=2027-W20" in week
    # Hardening, in W24, has room: there a key leads to the sowing.
    week = links(client.get("/ledger/2027-W24").text)
    assert f"/sowings/{made.sowing}/edit" in week
    assert f"{made.page}?week=2027-W24" not in week
    assert made.page in links(client.get("/sowings").text)
    assert made.page in links(client.get(f"/sowings/{made.sowing}/edit").text)


def test_the_service_stores_a_move_only_as_it_was_proposed(session):
    made = tomatoes(session, dealt=True)
    wish = Wish(day=MAY_8.toordinal(), light=LAMP, plants=6)
    move = propose_move(session, made.sowing, wish)
    session.commit()
    with pytest.raises(StaleMoveError):
        move_sowing(session, made.sowing, wish, mark="another")
    session.rollback()
    assert move_sowing(session, made.sowing, wish, mark=move.mark).sow_on == MAY_8
    session.rollback()
    mark_filled(session, [1, 2], TODAY, today=TODAY)
    session.commit()
    with pytest.raises(SownAlreadyError) as refused:
        move_sowing(session, made.sowing, wish, mark=move.mark)
    assert refused.value.trays.count == 1
