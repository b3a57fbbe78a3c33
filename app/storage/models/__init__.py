"""Typed models, one noun a module."""

from app.storage.models.containers import Container
from app.storage.models.crops import Crop
from app.storage.models.garden import DataVersion, FrostPoint, Garden
from app.storage.models.growers import Grower
from app.storage.models.levelling import Levelling, LevellingChange
from app.storage.models.printing import LabelPrint, LabelStock, Printer, PublicAddress
from app.storage.models.record import DailyTemperature
from app.storage.models.seed_lots import SeedLot
from app.storage.models.shelves import Shelf
from app.storage.models.sowings import Sowing
from app.storage.models.trays import Cell, Stay, Tray

__all__ = [
    "Cell",
    "Container",
    "Crop",
    "DailyTemperature",
    "DataVersion",
    "FrostPoint",
    "Garden",
    "Grower",
    "LabelPrint",
    "LabelStock",
    "Levelling",
    "LevellingChange",
    "Printer",
    "PublicAddress",
    "SeedLot",
    "Shelf",
    "Sowing",
    "Stay",
    "Tray",
]
