"""The garden folder: a whole garden as files that people can read, in and out."""

from app.storage.folder.faults import Fault, FaultyFolderError, FolderError
from app.storage.folder.reading import GardenFolder, read_folder
from app.storage.folder.storing import store_folder
from app.storage.folder.writing import FolderInUseError, write_folder

__all__ = [
    "Fault",
    "FaultyFolderError",
    "FolderError",
    "FolderInUseError",
    "GardenFolder",
    "read_folder",
    "store_folder",
    "write_folder",
]
