"""Typed models, one noun a module."""

from app.storage.models.containers import Container
from app.storage.models.crops import Crop
from app.storage.models.garden import DataVersion, FrostPoint, Garden
from app.storage.models.growers import Grower
from app.storage.models.history import Batch, FormKey, History, LastNumber
from app.storage.models.house import House
from app.storage.models.levelling import Levelling, LevellingChange
from app.storage.models.log import LogEntry, SeedTest, Ticked
from app.storage.models.members import CareRound, Feed, FeedEvent, Reminder, SpareGift, SpareOffer, SpareRequest
from app.storage.models.people import Account, FailedTry, SignIn, Slip
from app.storage.models.printing import LabelPrint, LabelStock, Printer, PublicAddress
from app.storage.models.record import DailyTemperature
from app.storage.models.seed_lots import SeedLot
from app.storage.models.shelves import Shelf
from app.storage.models.sowings import Draft, Sowing
from app.storage.models.trays import Cell, Stay, Tray

__all__ = [
    "Account",
    "Batch",
    "CareRound",
    "Cell",
    "Container",
    "Crop",
    "DailyTemperature",
    "DataVersion",
    "Draft",
    "FailedTry",
    "Feed",
    "FeedEvent",
    "FormKey",
    "FrostPoint",
    "Garden",
    "Grower",
    "History",
    "House",
    "LabelPrint",
    "LabelStock",
    "LastNumber",
    "Levelling",
    "LevellingChange",
    "LogEntry",
    "Printer",
    "PublicAddress",
    "Reminder",
    "SeedLot",
    "SeedTest",
    "Shelf",
    "SignIn",
    "Slip",
    "Sowing",
    "SpareGift",
    "SpareOffer",
    "SpareRequest",
    "Stay",
    "Ticked",
    "Tray",
]
