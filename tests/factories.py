"""Gardens for tests: plain functions with keyword defaults. Names and figures are invented."""

import numpy as np

from app.core.cards import ContainerCard, CropCard, Garden, GrowerCard, Settings, ShelfCard, Sowings
from app.core.dates.frost import frost_table
from app.core.words import CountedFrom, Hardiness, Light, Place

SPRING = {90: "05-20", 50: "06-01", 10: "06-13"}
AUTUMN = {10: "08-18", 50: "08-30", 90: "09-11"}


def card(**changes):
    """Return a crop card of a tender crop under lamps that is not potted on."""
    fields = {
        "id": 1,
        "name": "Tomato",
        "hardiness": Hardiness.TENDER,
        "plant_out_weeks": 1.0,
        "direct_sow_weeks": None,
        "indoor_weeks_min": 6.0,
        "indoor_weeks_max": 8.0,
        "start_container": 0,
        "pot_on_container": None,
        "pot_on_after_days": None,
        "days_to_maturity": 60,
        "counted_from": CountedFrom.TRANSPLANT,
        "harvest_days": 14,
        "hardening_days": 7,
        "days_to_emerge": 6,
        "germ_temp_c": None,
        "heat": True,
        "light": Light.LAMP,
        "seeds_per_cell": 2,
        "plants_per_cell": 1,
        "emergence": None,
        "legal_germination": 0.75,
        "seeds_per_gram": None,
        "dli_target": None,
        "heat_sum_cd": None,
        "heat_base_c": None,
        "heat_method": None,
        "sow_depth_mm": 6.0,
    }
    return CropCard(**fields | changes)


def container(**changes):
    """Return a container of 72 cells a tray."""
    return ContainerCard(**{"id": 1, "name": "72-cell tray", "cells_per_tray": 72, "cell_volume_ml": 40.0} | changes)


def shelf(place=Place.LAMP, **changes):
    """Return a shelf with eight positions."""
    fields = {
        "id": 1,
        "name": f"{place} shelf",
        "place": place,
        "positions": 8,
        "bench_temp_c": None,
        "width_cm": 122.0,
        "depth_cm": 61.0,
        "levels": 2,
        "ppfd": None,
        "hours_per_day": None,
        "watts": None,
        "pan_depth_mm": None,
    }
    return ShelfCard(**fields | changes)


def sowing(**changes):
    """Return one sowing as a row, to be handed to `garden`."""
    return {
        "grower": 0,
        "crop": 0,
        "plants": 6,
        "placed": -1,
        "days_to_maturity": 0,
        "germination": 0.0,
        "priority": 2,
        "plant_out": 0,
        "sow_on": 0,
        "risk": 0.0,
        "light": -1,
        "variety": None,
    } | changes


def sowings(rows):
    """Return rows made by `sowing` as columns."""

    def column(name, dtype=np.int64):
        return np.array([row[name] for row in rows], dtype=dtype)

    return Sowings(
        ids=np.arange(1, len(rows) + 1),
        names=tuple(f"S{number:03d}" for number in range(1, len(rows) + 1)),
        varieties=tuple(row["variety"] for row in rows),
        germination=column("germination", float),
        risk=column("risk", float),
        **{
            name: column(name)
            for name in (
                *("grower", "crop", "plants", "placed", "days_to_maturity"),
                *("priority", "plant_out", "sow_on", "light"),
            )
        },
    )


def garden(rows=None, **changes):
    """Return a garden with one grower, one crop card, one container and a shelf of each place."""
    southern = changes.pop("southern", False)
    season = changes.pop("season", 2027)
    spring, autumn = changes.pop("spring", SPRING), changes.pop("autumn", AUTUMN)
    settings = {
        "name": "Wrenmoor",
        "season": season,
        "southern": southern,
        "latitude_deg": -46.6 if southern else 46.6,
        "sowing_weekday": 5,
        "hand_out_weekday": 5,
        "tray_cm": (54.5, 28.0),
        "risk": 0.10,
        "autumn_risk": 0.50,
        "confidence": 0.90,
        "survival": 0.90,
        "spare": 0.10,
    }
    fields = {
        "settings": Settings(**settings | changes.pop("settings", {})),
        "frost": frost_table(spring, autumn, season=season, southern=southern),
        "growers": (GrowerCard(id=1, name="Ines Moreau", plot="14"),),
        "cards": (card(),),
        "containers": (container(),),
        "shelves": tuple(shelf(place) for place in Place),
        "sowings": sowings([sowing()] if rows is None else rows),
    }
    return Garden(**fields | changes)
