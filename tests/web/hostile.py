"""A garden with hostile text in every text column, and the same one with harmless text; both are our own invention.

Its files are written with the csv module alone, so that what reads and writes the garden folder judges nothing here.
"""

import csv
import io
import re

from tests.web.classes import WORDS

# What OWASP's page on CSV injection names (from memory), behind quotes that are there already.
FORMULA = re.compile(r"'*[=+\-@\t\r\n\0]")
BOTANICAL = "Genus {}"
HARMLESS = {label: f"Word {at:02d}" for at, label in enumerate(WORDS)}
# These compose to other letters than they are typed in; a form keeps them composed.
COMPOSED = {"combining letters": "\u00f1\u00f6"}


def cell(text):
    """Return a text as it stands in a cell, with a quote before what a spreadsheet would run."""
    return f"'{text}" if FORMULA.match(text) else text


def sheet(columns, rows):
    """Return a CSV file."""
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(columns.split())
    writer.writerows(rows)
    return file.getvalue()


def texts(words, at, count):
    """Return the words as a column begins them, each row another one."""
    values = list(words.values())
    return [values[(row + at) % len(values)] for row in range(count)]


def folder_files(words):
    """Return the files of a garden in which each word stands in every text column."""
    count = len(words)

    def column(at):
        return [cell(text) for text in texts(words, at, count)]

    growers, plots, contacts = column(0), column(1), column(2)
    boxes, crops, botanical, sources = column(3), column(4), column(5), column(6)
    shelves, lots, varieties, sowings = column(7), column(8), column(9), column(10)
    rest = ("", "yes", "lamp", 2)
    places = ("heat", "lamp", "window", "hardening")
    name = '"' + texts(words, 17, 1)[0].replace("\\", "\\\\").replace('"', '\\"') + '"'
    return {
        "garden.toml": f"""[garden]
name = {name}
season = 2027
units = "metric"
sowing_day = "saturday"
hand_out_day = "saturday"
tray_cm = [54.5, 28.0]
[site]
latitude = 46.6
longitude = -112.4
elevation_m = 1310
[frost]
source = "table"
spring = {{ p90 = "05-20", p50 = "06-01", p10 = "06-13" }}
autumn = {{ p10 = "08-18", p50 = "08-30", p90 = "09-11" }}
""",
        "growers.csv": sheet(
            "grower plot contact days",
            [[one, plot, contact, "monday"] for one, plot, contact in zip(growers, plots, contacts, strict=True)],
        ),
        "containers.csv": sheet("container cells_per_tray cell_volume_ml", [[box, 24, 90] for box in boxes]),
        "crops.csv": sheet(
            "crop botanical source hardiness plant_out_weeks indoor_weeks_min indoor_weeks_max start_container "
            "days_to_maturity counted_from days_to_emerge germ_temp_c heat light seeds_per_cell",
            [
                [crop, botanical[row], sources[row], "tender", 1, 6, 8, boxes[row], 60, "transplant", 6, *rest]
                for row, crop in enumerate(crops)
            ],
        ),
        "shelves.csv": sheet(
            "shelf place width_cm depth_cm levels positions",
            [[name, places[row % 4], 122, 61, 1, 2] for row, name in enumerate(shelves)],
        ),
        "seed_lots.csv": sheet(
            "seed_lot crop variety germination origin year",
            [[f"{lot} a"[:80], crops[row], varieties[row], 0.8, "saved", 2026] for row, lot in enumerate(lots)],
        ),
        "sowings.csv": sheet(
            "sowing grower crop plants variety seed_lot",
            [
                [name, growers[row], crops[row], 6, varieties[row], f"{lots[row]} a"[:80]]
                for row, name in enumerate(sowings)
            ],
        ),
    }


def write_folder(folder, words):
    """Write a garden folder, and return it."""
    folder.mkdir()
    for name, text in folder_files(words).items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return folder
