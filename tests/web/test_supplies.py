"""The supplies page and its files."""

import csv
import io

from app.core.words import Place, Units
from app.storage.models import Garden
from tests import rows
from tests.web.seasons import links, one_sowing, words


def equipped(session, *, units=Units.METRIC, seeds_per_gram=300.0):
    """Add one grower's six tomatoes from a seed lot under a rack with lamps and pans, peas sown outside, and commit.

    Dates as in tests/web/seasons.py: in 9 cells from 1 May, up on 7 May, out on 12 June, handed out on 19 June.
    """
    rows.garden(session, units=units)
    rows.shelf(session, watts=480.0, hours_per_day=16.0, pan_depth_mm=20.0)
    rows.shelf(session, "Cold frame", place=Place.HARDENING, positions=8)
    who = rows.grower(session)
    tomato = rows.crop(session, box=rows.container(session), seeds_per_gram=seeds_per_gram)
    lot = rows.seed_lot(session, tomato, "L01", variety="Little Amber", germination=0.75)
    rows.sowing(session, who, tomato, seed_lot_id=lot.id)
    rows.sowing(session, who, rows.crop(session, "Pea", seeds_per_cell=1), "S-0002", plants=70)
    made = lot.id, tomato.id
    session.commit()
    return made


def test_the_order_list_stands_on_top(client, session):
    equipped(session)
    said = words(client.get("/supplies").text).replace("\u00a0", " ")
    # 9 cells and 18 seeds by docs/method.md, section 4; 70 peas at 0.70 are 100. 9 x 40 ml and a tenth are 396 ml.
    assert "Seeds 118 Potting mix 1 l Covers 1 Labels and stakes 1 Power 322.6 kWh" in said
    assert "72-cell tray 1 tray in 26 Apr – 2 May, 9 cells filled 1 time, 9 cells" in said
    assert "Potting mix 1 l 396 ml in 26 Apr – 2 May 396 ml" in said
    assert said.index("Order list") < said.index("Caution: dust of potting mix.") < said.index("Sowings Seeds Weight")


def test_seeds_name_variety_lot_and_weight(client, session):
    lot, tomato = equipped(session)
    page = client.get("/supplies").text
    said = words(page).replace("\u00a0", " ")
    assert "Tomato Little Amber L01 1 18 0.06 g" in said
    assert "Pea sown outside none named none 1 100 –" in said
    assert "Caution: treated seed." in said
    assert {f"/seed-lots/{lot}", f"/crops/{tomato}"} <= links(page)


def test_weeks_power_and_pans_have_their_figures(client, session):
    equipped(session)
    said = words(client.get("/supplies").text).replace("\u00a0", " ")
    # Saturday and Sunday at 7.68 kWh, and one fill of two pans of 14.884 l.
    assert "26 Apr – 2 May W17 18 1 – 396 ml 1 15.4 kWh 29.8 l" in said
    assert "Lamp rack lamp 480 W 16 h 26 Apr – 13 Jun (W17 – W23) 42 322.6 kWh" in said
    assert "Lamp rack 29.8 l 6.7 26 Apr – 13 Jun (W17 – W23) 7 208.4 l" in said
    assert "at 3 mm of water a day, a figure from memory" in said
    assert said.count("Caution: electricity near water.") == 1


def test_a_figure_that_stands_in_the_page_itself_follows_the_units(client, session):
    equipped(session)
    assert "at 3 mm of water a day" in words(client.get("/supplies").text).replace("\u00a0", " ")
    session.query(Garden).one().units = Units.US
    session.commit()
    assert "at 1/8 in of water a day" in words(client.get("/supplies").text).replace("\u00a0", " ")


def test_a_garden_with_us_units_reads_quarts_ounces_and_gallons(client, session):
    equipped(session, units=Units.US)
    said = words(client.get("/supplies").text).replace("\u00a0", " ")
    assert "Potting mix 1 qt 13.39 fl oz" in said  # 396 ml of 29.57
    assert "1 18 0.003 oz" in said  # 0.06 g of 28.35
    assert "7.9 gal" in said  # 29.768 l of 3.785
    assert "at 1/8 in of water a day" in said


def test_a_column_of_weights_stands_only_where_a_card_tells(client, session):
    equipped(session, seeds_per_gram=None)
    assert "Weight" not in words(client.get("/supplies").text)


def test_the_order_as_a_file(client, session):
    equipped(session)
    answer = client.get("/supplies.csv")
    assert answer.mimetype == "text/csv"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="supplies-2027.csv"'
    lines = {(row["kind"], row["item"], row["unit"]): row for row in csv.DictReader(io.StringIO(answer.text))}
    assert lines["mix", "potting mix", "litres"]["order"] == "0.396"
    tomato = lines["seed", "Tomato", "seeds"]
    assert (tomato["variety"], tomato["seed_lot"], tomato["order"], tomato["grams"]) == (
        "Little Amber",
        "L01",
        "18",
        "0.06",
    )


def test_the_weeks_as_a_file(client, session):
    equipped(session)
    answer = client.get("/supplies/weeks.csv")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="supplies-by-week-2027.csv"'
    lines = {row["week"]: row for row in csv.DictReader(io.StringIO(answer.text))}
    # From the sowing of 1 May to the 18 June, before the hand-out.
    assert list(lines) == [f"2027-W{week}" for week in range(17, 25)]
    assert lines["2027-W18"]["power_kwh"] == "53.76"
    assert lines["2027-W17"]["trays_covered"] == "1"
    assert lines["2027-W17"]["pan_litres"] == "29.768"


def test_an_empty_garden_says_what_to_do(client, session):
    rows.garden(session)
    session.commit()
    page = client.get("/supplies").text
    assert "The plan takes nothing yet." in words(page)
    assert "/sowings/new" in links(page)


def test_shelves_without_figures_are_said_to_be_left_out(client, session):
    one_sowing(session)
    said = words(client.get("/supplies").text)
    assert "without 1 shelf in use for which a figure is not given" in said
    assert "Wick pans" not in said


def test_supplies_stand_in_the_menu_and_lead_to_light(client, session):
    equipped(session)
    assert "/supplies" in links(client.get("/").text)
    assert "/light" in links(client.get("/supplies").text)
