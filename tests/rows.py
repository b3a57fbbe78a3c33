"""Rows for tests: plain functions with keyword defaults that add to a session. Names and figures are invented."""

from app.core.words import (
    CountedFrom,
    FrostLaw,
    FrostSource,
    Hardiness,
    Light,
    Place,
    Side,
    Units,
    Weekday,
)
from app.storage.models import Container, Crop, FrostPoint, Garden, Grower, SeedLot, Shelf, Sowing

SPRING = {90: "05-20", 50: "06-01", 10: "06-13"}
AUTUMN = {90: "09-11", 50: "08-30", 10: "08-18"}


def _add(session, row):
    session.add(row)
    session.flush()
    return row


def garden(session, *, spring=SPRING, autumn=AUTUMN, **changes):
    fields = {
        "name": "Wrenmoor",
        "season": 2027,
        "units": Units.METRIC,
        "sowing_day": Weekday.SATURDAY,
        "hand_out_day": Weekday.SATURDAY,
        "tray_length_cm": 54.5,
        "tray_width_cm": 28.0,
        "latitude": 47.1,
        "longitude": -68.2,
        "elevation_m": 190.0,
        "frost_source": FrostSource.TABLE,
        "frost_law": FrostLaw.NORMAL,
        "threshold_c": 0.0,
        "risk": 0.10,
        "autumn_risk": 0.50,
        "confidence": 0.90,
        "survival": 0.90,
        "spare": 0.10,
    }
    for side, dates in ((Side.SPRING, spring), (Side.AUTUMN, autumn)):
        session.add_all(FrostPoint(side=side, chance_percent=c, month_day=day) for c, day in dates.items())
    return _add(session, Garden(**fields | changes))


def grower(session, name="Ines Moreau", **changes):
    return _add(session, Grower(name=name, **{"plot": "14"} | changes))


def container(session, name="72-cell tray", **changes):
    return _add(session, Container(name=name, **{"cells_per_tray": 72, "cell_volume_ml": 40.0} | changes))


def shelf(session, name="Lamp rack", **changes):
    fields = {"place": Place.LAMP, "width_cm": 122.0, "depth_cm": 61.0, "levels": 2}
    return _add(session, Shelf(name=name, **fields | changes))


def crop(session, name="Tomato", *, box=None, **changes):
    """Add a crop card; without a container, of a crop sown outside."""
    fields = {
        "hardiness": Hardiness.TENDER,
        "direct_sow_weeks": 0.0,
        "days_to_maturity": 60,
        "counted_from": CountedFrom.TRANSPLANT,
        "days_to_emerge": 6,
        "heat": False,
        "seeds_per_cell": 2,
    }
    if box is not None:
        fields |= {
            "start_container_id": box.id,
            "direct_sow_weeks": None,
            "plant_out_weeks": 1.0,
            "indoor_weeks_min": 6.0,
            "indoor_weeks_max": 8.0,
            "light": Light.LAMP,
        }
    return _add(session, Crop(name=name, **fields | changes))


def seed_lot(session, of, name="Packet A", **changes):
    return _add(session, SeedLot(name=name, crop_id=of.id, **changes))


def sowing(session, who, what, name="S-0001", **changes):
    fields = {"grower_id": who.id, "crop_id": what.id, "plants": 6}
    return _add(session, Sowing(name=name, **fields | changes))


def get_garden(session):
    return session.get(Garden, 1)
