"""Where an SQLite file lies: on another computer's disk its locks do not hold, and what was saved can be lost."""

import ctypes
import os
from pathlib import Path, PurePath

from app.storage.errors import DatabaseError

MOUNTS = Path("/proc/self/mounts")
# File systems that reach over a network, as Linux names them.
NETWORK = frozenset({"nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "9p", "ceph", "lustre", "ncpfs", "coda"})
# A file system run by a program, which may keep its files anywhere.
BY_PROGRAM = ("fuse.", "virtiofs", "vboxsf")
LOCAL_PROGRAMS = frozenset({"fuse.fuse-overlayfs", "fuse.ntfs-3g", "fuse.exfat"})
WINDOWS_REMOTE = 4  # DRIVE_REMOTE, as GetDriveTypeW of Windows returns it


class NetworkDiskError(DatabaseError):
    """The database lies on another computer."""


def require_own_disk(database: str, mounts: str | None = None) -> str | None:
    """Return a warning where an SQLite file may lie on another computer; None where nothing speaks for it.

    Args:
        database: Path of the file.
        mounts: What is mounted where, as `/proc/self/mounts` has it; by default that file, where there is one.

    Raises:
        NetworkDiskError: It lies on a network disk.
    """
    path = os.path.realpath(database)
    folder = str(PurePath(path).parent)
    if os.name == "nt" and mounts is None:
        kind = "network drive" if _is_windows_remote(path) else ""
    else:
        kind = file_system_of(path, _read_mounts() if mounts is None else mounts)
    if kind == "network drive" or kind in NETWORK:
        raise NetworkDiskError(
            f"The database would lie in {folder}, on a disk of another computer ({kind}). SQLite's locks do not hold "
            "there, and what was saved can be lost. Keep it on this computer's own disk: set DATABASE_URL or "
            "TRAYMATES_INSTANCE; backups may go to the other computer."
        )
    if kind.startswith(BY_PROGRAM) and kind not in LOCAL_PROGRAMS:
        return (
            f"The database lies in {folder}, whose files another program keeps ({kind}). If they lie on another "
            "computer, what was saved can be lost: keep the database on this computer's own disk."
        )
    return None


def file_system_of(path: str, mounts: str) -> str:
    """Return the kind of file system that holds a path; empty where it is not known.

    Args:
        path: An absolute path without links.
        mounts: Lines of device, folder, kind and more, the later above the earlier; blanks in a folder are escaped.
    """
    found, longest = "", -1
    for line in mounts.splitlines():
        parts = line.split()
        if len(parts) < 3:  # noqa: PLR2004 - device, folder, kind
            continue
        folder = parts[1].encode().decode("unicode_escape").encode("latin-1").decode(errors="replace")
        is_above = folder in {"/", path} or path.startswith(folder.rstrip("/") + "/")
        if is_above and len(folder) >= longest:
            found, longest = parts[2], len(folder)
    return found


def _read_mounts() -> str:
    try:
        return MOUNTS.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""  # a system that has no such file


def _is_windows_remote(path: str) -> bool:
    drive, windows = PurePath(path).drive, getattr(ctypes, "windll", None)
    if drive.startswith("\\\\"):
        return True
    return windows is not None and windows.kernel32.GetDriveTypeW(f"{drive}\\") == WINDOWS_REMOTE
