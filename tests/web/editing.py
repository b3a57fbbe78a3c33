"""Every form that changes what is there, in a garden that has one of everything, and other values for its fields."""

import re
from types import SimpleNamespace

from app.core.house.label_sheets import StockPaper
from app.core.words import Light, Origin, Transplanting
from app.storage import Session
from app.storage.models import LabelStock, Printer, PublicAddress
from tests import rows
from tests.web.filling import form_values, posted_forms
from tests.web.pages import read_page

# Two values each that are right for a field and differ from what is stored, in turn; fields without a line here have a
# choice, a box to tick, or figures and names that `another` finds.
VALUES = {
    "plant_out": ("20 Jun 2027", "22 Jun 2027"),
    "sow_on": ("1 May 2027", "8 May 2027"),
    "placed": ("3", "2"),
    "wishes_close": ("1 Feb", "2 Feb"),
    "latitude": ("46.5", "46"),
    "address": ("http://barn.example", "http://shed.example"),
    "label_width_mm": ("62", "61"),
    "label_height_mm": ("32", "31"),
    "pitch_across_mm": ("65.5", "65"),
    "pitch_down_mm": ("33.5", "33"),
    "scale_percent": ("100.5", "99.5"),
    "contact": ("at the pump", "by the gate, evenings"),
    "source": ("light: common practice; heat: from memory", "light: from memory"),
    "threshold_c": ("-1", "-2"),
    "risk": ("12", "15"),
    "autumn_risk": ("45", "40"),
    "confidence": ("88", "92"),
    "survival": ("85", "80"),
    "spare": ("12", "15"),
    "lines-0-spring": ("21 May", "22 May"),
    "lines-1-spring": ("2 Jun", "3 Jun"),
    "lines-2-spring": ("14 Jun", "15 Jun"),
    "lines-0-autumn": ("10 Sep", "12 Sep"),
    "lines-1-autumn": ("29 Aug", "31 Aug"),
    "lines-2-autumn": ("17 Aug", "19 Aug"),
    "lines-0-chance": ("85", "80"),
    "lines-1-chance": ("55", "45"),
    "lines-2-chance": ("15", "20"),
    "botanical": ("Solanum pimpinellifolium", "Solanum peruvianum"),
    "year": ("2025", "2024"),
    "name": ("Another one", "A third one"),
    "variety": ("Early", "Late"),
    "plot": ("15", "16"),
    "heat_base_c": ("7", "8"),
}
OTHER = object()  # another choice of the list
# Fields that only go together with others: what is set along with them, by form and field; None where there is no
# second value that differs from what is stored.
ROWS, COLUMNS, CELLS = (
    tuple({"cells_per_tray": str(n * m), "rows": str(n), "columns": str(m)} for n, m in both)
    for both in (((3, 3), (7, 2)), ((2, 4), (2, 5)), ((1, 11), (1, 13)))
)
ALONG = {
    **dict.fromkeys([("containers", "rows"), ("grid", "rows")], ROWS),
    **dict.fromkeys([("containers", "columns"), ("grid", "columns")], COLUMNS),
    **dict.fromkeys([("containers", "cells_per_tray"), ("grid", "cells_per_tray")], CELLS),
    ("sowings", "crop_id"): ({"crop_id": OTHER, "seed_lot_id": ""}, None),
    ("stock", "columns"): ({"columns": "2"}, {"columns": "1"}),
    ("stock", "rows"): ({"rows": "6"}, {"rows": "5"}),
    ("stock", "paper"): ({"paper": "letter", "rows": "7"}, None),
    ("crops", "transplanting"): ({"transplanting": "careful"}, None),
    ("frost", "last"): tuple({"frost_source": "dates", "last": day, "first": "30 Aug"} for day in ("2 Jun", "3 Jun")),
    ("frost", "first"): tuple({"frost_source": "dates", "last": "1 Jun", "first": day} for day in ("28 Aug", "29 Aug")),
    ("frost", "frost_source"): ({"frost_source": "dates", "last": "1 Jun", "first": "30 Aug"}, None),
}


# Lines of the table of frost dates that wait to be filled in: three are in use.
SPARE_LINE = re.compile("lines-[3-9]-")


def garden_of_everything(engine):
    """Add one of everything, and return the addresses of the pages that change it."""
    with Session(engine) as session:
        rows.garden(session, wishes_close="02-15")
        tray = rows.container(session, rows=6, columns=12)
        pot = rows.container(session, "9 cm pot", cells_per_tray=18, cell_volume_ml=415.0)
        other = rows.container(session, "Food box", cells_per_tray=8, cell_volume_ml=300.0)
        tomato = rows.crop(
            session,
            box=tray,
            botanical="Solanum lycopersicum",
            pot_on_container_id=pot.id,
            pot_on_after_days=21,
            transplanting=Transplanting.EASY,
            germ_temp_c=21.0,
            heat=True,
            heat_sum_cd=1200.0,
            heat_base_c=6.0,
            emergence_row="tomato",
            germination_kind="Tomato",
            source="light: common practice",
            harvest_days=20,
            hardening_days=7,
            plants_per_cell=1,
            sow_depth_mm=6.0,
            seeds_per_gram=300.0,
            seed_storage_years=4.0,
            dli_target=12.0,
        )
        rows.crop(session, "Pepper", box=tray)
        shelf = rows.shelf(session, bench_temp_c=21.0, pan_depth_mm=19.0, ppfd=210.0, watts=340, hours_per_day=14.0)
        lot = rows.seed_lot(session, tomato, germination=0.83, origin=Origin.SAVED, year=2026, variety="Round")
        unused = rows.seed_lot(session, tomato, "Packet B", germination=0.7, origin=Origin.SAVED, year=2026)
        grower = rows.grower(session, contact="by the gate", days="monday saturday")
        rows.grower(session, "Tomas Keel")
        sowing = rows.sowing(
            session, grower, tomato, seed_lot_id=lot.id, risk=0.125, priority=1, light=Light.LAMP, variety="Round"
        )
        printer = Printer(name="Shed", offset_x_mm=0.3, offset_y_mm=-0.2, scale_percent=100.2, turned=False)
        sheet = LabelStock(
            name="Blue box", paper=StockPaper.A4, cut=False, columns=3, rows=8, label_width_mm=63.5,
            label_height_mm=33.9, left_mm=7.2, top_mm=12.9, pitch_across_mm=66.0, pitch_down_mm=33.9,
        )  # fmt: skip
        session.add_all([printer, sheet, PublicAddress(id=1, address="http://shed.lan")])
        session.commit()
        edits = {
            "growers": f"/growers/{grower.id}/edit",
            "containers": f"/containers/{other.id}/edit",
            "grid": f"/containers/{tray.id}/edit",
            "crops": f"/crops/{tomato.id}/edit",
            "seed_lots": f"/seed-lots/{unused.id}/edit",
            "shelves": f"/shelves/{shelf.id}/edit",
            "sowings": f"/sowings/{sowing.id}/edit",
            "printers": f"/labels/printers/{printer.id}/edit",
            "stock": f"/labels/stock/{sheet.id}/edit",
            "address": "/labels/address",
            "garden": "/setup/garden",
            "frost": "/setup/frost",
        }
        return SimpleNamespace(edits=edits, sowing=sowing.id, grower=grower.id, tomato=tomato.id, spare=other.id)


def fields_of(html):
    """Return the names of the fields of a page's form that people can see, in the order of the page."""
    page = read_page(html)
    form = posted_forms(page)[0]
    names = [
        element.attributes["name"]
        for element in page.all("input", "textarea", "select")
        if element.within("form") is form and element.attributes.get("type") != "hidden"
    ]
    return [name for name in dict.fromkeys(names) if name != "theirs" and not SPARE_LINE.match(name)]


def another(html, form_name, name, turn):
    """Return what is sent for a form with another right value in a field, the first or the second; None for none."""
    values = form_values(html)
    if (form_name, name) in ALONG:
        along = ALONG[form_name, name][turn]
    elif name in VALUES:
        along = {name: VALUES[name][turn]}
    else:
        others = _others(html, name, values.get(name, []))
        along = {name: others[turn]} if len(others) > turn else None
    if along is None:
        return None
    found = {k: _others(html, k, values[k])[0] if v is OTHER else v for k, v in along.items()}
    return values | found


def _others(html, name, now):
    """Return values of an input that differ from the present one: other choices, other ticks, larger figures."""
    page = read_page(html)
    form = posted_forms(page)[0]
    inputs = [
        element
        for element in page.all("input", "textarea", "select")
        if element.attributes.get("name") == name and element.within("form") is form
    ]
    if inputs[0].tag == "select":
        options = [o.attributes.get("value") for o in page.all("option") if o.within("select") is inputs[0]]
        return [value for value in options if value and value != now[0]]
    if inputs[0].attributes.get("type") == "checkbox":
        boxes = [box.attributes.get("value") or "y" for box in inputs]
        return [[] if now else boxes] if len(boxes) == 1 else [[boxes[1]], [boxes[2]]]
    try:
        return [f"{float(now[0]) + 1:g}", f"{float(now[0]) + 2:g}"]
    except ValueError:
        return ["5", "6"]
