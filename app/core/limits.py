"""Bounds of everything a garden writes down, checked alike by the forms and by the garden folder.

All are chosen: wide enough for any garden, narrow enough to catch a slipped decimal or a wrong unit.
A date in a database and a count in an array stay far inside what they can hold.
"""

import re
import unicodedata
from typing import NamedTuple


class Bounds(NamedTuple):
    """The smallest and the largest value allowed, both included."""

    low: float
    high: float

    def __contains__(self, value: object) -> bool:
        """Tell whether a number lies within the bounds."""
        return isinstance(value, int | float) and self.low <= value <= self.high


# Letters of a text.
NAME_LETTERS = 80
CONTACT_LETTERS = 200
NOTE_LETTERS = 500
SOURCE_LETTERS = 4000

# Sowings.
PLANTS = Bounds(1, 10_000)
PRIORITY = Bounds(1, 3)
PRIORITY_DEFAULT = 2

# Days: how many years beside the growing year. A sowing's own date may lie a year off, its tray may be filled 60 weeks
# before, and what is done with it may go on after.
SOWING_YEARS = 1
LOG_YEARS_BEFORE = 1
SEASON_YEARS = 3

# Crop cards.
PLANT_OUT_WEEKS = Bounds(-30, 60)
INDOOR_WEEKS = Bounds(0, 60)
MATURITY_DAYS = Bounds(1, 400)
HARVEST_DAYS = Bounds(0, 400)
HARDENING_DAYS = Bounds(0, 60)
POT_ON_DAYS = Bounds(1, 200)
EMERGE_DAYS = Bounds(1, 120)
SEEDS_PER_CELL = Bounds(1, 50)
PLANTS_PER_CELL = Bounds(1, 50)
SOW_DEPTH_MM = Bounds(0, 300)
SEEDS_PER_GRAM = Bounds(0.01, 200_000)
STORAGE_YEARS = Bounds(0, 100)
DLI_MOL = Bounds(0, 80)
HEAT_SUM_CD = Bounds(0, 10_000)

# Tests of seed.
SEEDS_TRIED = Bounds(1, 1000)
SEEDS_UP = Bounds(0, 1000)
TEST_DAYS = Bounds(1, 120)

# Entries of the log; 0 takes back another one.
ENTRY_COUNT = Bounds(0, 100_000)
ENTRY_SEEDS = Bounds(1, 1_000_000)
ENTRY_CELLS_LETTERS = 4000
# What is known of seed from a season before: cells, and seeds in each of them.
TRIED = Bounds(1, 100_000)
TRIED_PER_CELL = Bounds(0.00001, 1_000_000)
ROW_NUMBER = Bounds(1, 1_000_000_000)

# Containers.
CELLS_PER_TRAY = Bounds(1, 1000)
CELL_VOLUME_ML = Bounds(0.1, 50_000)

# Shelves and trays.
SHELF_CM = Bounds(1, 5000)
TRAY_CM = Bounds(5, 200)
LEVELS = Bounds(1, 50)
POSITIONS = Bounds(0, 10_000)
PPFD = Bounds(0, 3000)
HOURS_PER_DAY = Bounds(0, 24)
WATTS = Bounds(0, 100_000)
PAN_DEPTH_MM = Bounds(0, 500)
TRAY_NUMBER = Bounds(1, 999_999)  # many seasons of numbers that are not given again

# Seed lots.
GERMINATION = Bounds(0.05, 1)
SEED_YEAR = Bounds(1900, 2200)

# The garden.
SEASON = Bounds(1900, 2200)
LATITUDE_DEG = Bounds(-90, 90)
LONGITUDE_DEG = Bounds(-180, 180)
ELEVATION_M = Bounds(-500, 6000)
TEMPERATURE_C = Bounds(-40, 60)
FREEZE_C = Bounds(-10, 10)
DAILY_C = Bounds(-60, 60)  # the hottest day on record had 56.7, and no garden lies where it is colder
RECORD_YEAR = Bounds(1700, 2200)
CHANCE_PERCENT = Bounds(1, 99)
RISK = Bounds(0.01, 0.99)
CONFIDENCE = Bounds(0.5, 0.999)
SURVIVAL = Bounds(0.2, 1)  # times the least germination: the least chance that a stand is worked out for
SPARE = Bounds(0, 1)

# Controls, halves of pairs, letters of nobody's or none's.
_HIDDEN = frozenset({"Cc", "Cs", "Co", "Cn"})
# They turn the order of what follows, so that a text reads as another (Unicode Technical Report 36, 2.4).
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_NUMBER_OR_DATE = re.compile(r"[\d\s.,:/+-]+|\d+[eE]\d+")


def reads_as_number_or_date(name: str) -> bool:
    """Tell whether a spreadsheet could take a name for a number or a date and rewrite it."""
    return _NUMBER_OR_DATE.fullmatch(name) is not None


def find_hidden_letter(text: str, *, allowed: str = "") -> str | None:
    """Return the first letter of a text that cannot be printed, or that hides how the text reads; None for none.

    Args:
        text: What somebody wrote.
        allowed: Controls that may stand in it, such as line breaks.
    """
    if text.isprintable():
        return None
    hidden = (
        letter
        for letter in text
        if letter not in allowed and (unicodedata.category(letter) in _HIDDEN or letter in _TURNING)
    )
    return next(hidden, None)
