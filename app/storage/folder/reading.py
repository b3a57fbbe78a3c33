"""Reading a garden folder: everything is read and checked, and all faults are said at once."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from app.core.dates.record import OtherHemisphereError
from app.core.errors import CoreError
from app.core.words import FrostSource
from app.storage.folder.columns import Names, Values, positions_of_names, read_values
from app.storage.folder.faults import Fault, Faults, FolderError, nearest
from app.storage.folder.layout import LAYOUTS, SETTINGS_FILE, Layout
from app.storage.folder.log_rules import check_log
from app.storage.folder.rules import check_indoor_crops, check_record, check_rows, check_sowings
from app.storage.folder.settings_file import GardenSettings, read_settings_file
from app.storage.folder.sheets import read_sheet
from app.storage.folder.station_file import StationFile, read_station_path
from app.storage.folder.station_layout import RECORD_FILE
from app.storage.folder.tray_rules import check_trays
from app.storage.published import EMERGENCE_FILE, GERMINATION_FILE, SEED_DATA, emergence_rows, legal_germination

_KNOWN_FILES = (SETTINGS_FILE, *(layout.file for layout in LAYOUTS), RECORD_FILE)


@dataclass(frozen=True, kw_only=True)
class GardenFolder:
    """A folder without faults.

    Attributes:
        settings: What its settings file says.
        values: The values of each of its files, in the order in which rows refer to rows.
        station: Its station's record; None where it has none.
    """

    settings: GardenSettings
    values: dict[str, Values]
    station: StationFile | None = None


def read_usual_cards() -> dict[str, Values]:
    """Return the values of the containers and crop cards that come with the program, by file."""
    faults, names = Faults(), _published_names()
    values: dict[str, Values] = {}
    for layout in LAYOUTS:
        read = _read_file(SEED_DATA, layout, set(), names, faults)
        if read is not None:
            values[layout.file] = read
            names[layout.file] = positions_of_names(read, layout)
    faults.raise_if_any()
    return values


def read_folder(folder: Path) -> GardenFolder:
    """Return what a garden folder holds.

    A folder without crops.csv or containers.csv takes those of the program; without seed_lots.csv it
    has no seed lots, without trays.csv, cells.csv and stays.csv nothing is dealt, and so on. The settings file,
    growers.csv, shelves.csv and sowings.csv must be there, if only with their header, so that no part of a
    garden is lost by a slip. Files that are neither CSV nor TOML are none of ours and left alone, and so
    are hidden ones.

    Args:
        folder: The folder.

    Raises:
        FolderError: There is no such folder, or it cannot be read.
        FaultyFolderError: It has faults; all are told.
    """
    present = _files(folder)
    faults = Faults()
    _check_files(present, faults)
    settings = GardenSettings(garden={}, frost_points=())
    if SETTINGS_FILE in present:
        settings = read_settings_file(folder / SETTINGS_FILE, faults)
    names = _published_names()
    values: dict[str, Values] = {}
    for layout in LAYOUTS:
        names[layout.file] = {} if layout.optional and layout.file not in present else None
        read = _read_file(folder, layout, present, names, faults)
        if read is not None:
            values[layout.file] = read
            names[layout.file] = positions_of_names(read, layout)
    if "crops.csv" in values:
        check_indoor_crops(values["crops.csv"], faults)
    if "sowings.csv" in values:
        check_sowings(values["sowings.csv"], values.get("seed_lots.csv"), settings.garden.get("season"), faults)
    check_trays(values, settings.garden.get("season"), faults)
    check_log(values, settings.garden.get("season"), faults)
    station = _read_record(folder, present, settings, faults)
    faults.raise_if_any()
    return GardenFolder(settings=settings, values=values, station=station)


def _read_record(folder: Path, present: set[str], settings: GardenSettings, faults: Faults) -> StationFile | None:
    """Return the station's record, and report what keeps the garden from going by it."""
    is_wanted = settings.garden.get("frost_source") is FrostSource.STATION

    def refuse(right: str) -> None:
        place = settings.source_row
        faults.add(Fault(file=SETTINGS_FILE, row=place, column="[frost] source", found="station", right=right))

    if RECORD_FILE not in present:
        if is_wanted:
            refuse(f'there is no {RECORD_FILE} beside it; add it, or give "table" or "dates"')
        return None
    station = read_station_path(folder / RECORD_FILE, faults)
    if station is None:
        return None
    if not len(station.record.day):
        if is_wanted:
            refuse(f"{RECORD_FILE} has no days below its header")
        return None
    try:
        check_record(station.record, settings.garden)
    except OtherHemisphereError as error:
        faults.add(Fault(file=RECORD_FILE, right=str(error)))
    except CoreError as error:
        refuse(str(error))
    return station


def _files(folder: Path) -> set[str]:
    """Return the names of the files that may be ours."""
    try:
        names = {path.name for path in folder.iterdir() if path.is_file()}
    except FileNotFoundError:
        raise FolderError(f"There is no folder {folder}.") from None
    except NotADirectoryError:
        raise FolderError(f"{folder} is a file; give the folder that holds {SETTINGS_FILE}.") from None
    except OSError as error:
        raise FolderError(f"The folder {folder} cannot be read: {error.strerror}.") from None
    return {name for name in names if not name.startswith(".") and name.lower().endswith((".csv", ".toml"))}


def _check_files(present: set[str], faults: Faults) -> None:
    """Report files that are missing or unknown."""
    wanted = {SETTINGS_FILE, *(layout.file for layout in LAYOUTS if not layout.shipped and not layout.optional)}
    for name in sorted(wanted - present):
        faults.add(Fault(file=name, right="this file is missing; a header row is enough where there is nothing to say"))
    for name in sorted(present - set(_KNOWN_FILES)):
        right = f"this is no file of a garden folder; rename it or take it out.{nearest(name, _KNOWN_FILES)}"
        faults.add(Fault(file=name, right=right))


def _published_names() -> dict[str, dict[str, Any] | None]:
    """Return the names that crop cards may take from the published tables."""
    return {
        EMERGENCE_FILE.name: {name: name for name in emergence_rows()},
        GERMINATION_FILE.name: {name: name for name in legal_germination()},
    }


def _read_file(folder: Path, layout: Layout, present: set[str], names: Names, faults: Faults) -> Values | None:
    if layout.file not in present and not layout.shipped:
        return None
    is_own = layout.file in present
    sheet = read_sheet((folder if is_own else SEED_DATA) / layout.file, layout, faults)
    if sheet is None:
        return None
    if not is_own:
        sheet = replace(sheet, file=f"{layout.file} of the program")
    values = read_values(sheet, layout, names, faults)
    check_rows(values, layout.file, faults)
    return values
