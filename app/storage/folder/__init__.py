"""The garden folder: a whole garden as files that people can read, in and out."""

from app.storage.folder.faults import Fault, Faults, FaultyFolderError, FolderError
from app.storage.folder.reading import GardenFolder, read_folder
from app.storage.folder.station_file import MOST_BYTES, StationFile, read_station, read_station_path, too_large
from app.storage.folder.storing import store_folder, store_usual_cards
from app.storage.folder.writing import FolderInUseError, write_folder

__all__ = [
    "MOST_BYTES",
    "Fault",
    "Faults",
    "FaultyFolderError",
    "FolderError",
    "FolderInUseError",
    "GardenFolder",
    "StationFile",
    "read_folder",
    "read_station",
    "read_station_path",
    "store_folder",
    "store_usual_cards",
    "too_large",
    "write_folder",
]
