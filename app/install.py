"""Installs the program into `.venv` beside it, after looking whether this computer can run it.

It runs before anything is installed, with any Python from 3.7 on, and so uses nothing but the standard library:

    python3 app/install.py            look, then install what is missing or out of date
    python3 app/install.py --check    look only

`make install` calls it; on Windows, where there is no make, people do. `traymates check` looks with the same functions.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import platform
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
OLDEST = (3, 11)
BITS_64 = 2**32
# `.venv` takes 0.6 GB, and pip as much again while it unpacks; then the garden and its backups. [B]
ROOM_TO_INSTALL = 1_500_000_000
ROOM_TO_RUN = 500_000_000
# The program is newer than this; a clock that says less was set by nobody. [s since 1970]
WRITTEN_AFTER = 1_759_276_800.0  # 2025-10-01
DEFAULT_PORT = 5000
# File systems of other machines, on which SQLite's locks do not hold (sqlite.org/wal.html, "All processes ... must be
# on the same host computer").
DISTANT = ("nfs", "nfs4", "cifs", "smb3", "smbfs", "fuse.sshfs", "9p", "afs", "ceph", "glusterfs", "fuse.rclone")
FILES = ("requirements.lock", "pyproject.toml")
STAMP = ".installed"
QUIETLY = ("-m", "pip", "install", "-qq", "--disable-pip-version-check", "--no-deps")


class Finding(NamedTuple):
    """What was looked at: whether it will do, and in words what was found, or what to do."""

    name: str
    is_right: bool
    words: str


def right(name: str, words: str) -> Finding:
    """Return what will do."""
    return Finding(name, is_right=True, words=words)


def wrong(name: str, words: str) -> Finding:
    """Return what will not do, and what to do about it."""
    return Finding(name, is_right=False, words=words)


def look_before_installing(port: int, instance: Path) -> list[Finding]:
    """Return what this computer has and lacks for the program to be installed and run.

    Args:
        port: The port that the server will listen on.
        instance: The folder for the database; it need not be there.
    """
    return [
        look_at_python(),
        look_at_bits(),
        look_at_venv(),
        look_at_room(ROOT, ROOM_TO_INSTALL),
        look_at_folder(instance),
        look_at_disk(instance),
        look_at_port(port),
        look_at_clock(time.time()),
    ]


def look_at_python(
    found: tuple[int, ...] = tuple(sys.version_info[:3]), kind: str = platform.python_implementation()
) -> Finding:
    """Return whether this Python is new enough."""
    shown = ".".join(map(str, found))
    oldest = ".".join(map(str, OLDEST))
    if kind != "CPython":
        return wrong("Python", f"This is {kind}; install the usual Python (CPython) {oldest} or newer.")
    if found[:2] < OLDEST:
        return wrong("Python", f"This is Python {shown}; install {oldest} or newer and call it by its name.")
    return right("Python", shown)


def look_at_bits(largest: int = sys.maxsize, machine: str = platform.machine(), system: str = sys.platform) -> Finding:
    """Return whether there are packages for this kind of computer."""
    if largest <= BITS_64:
        return wrong("Computer", "This system is 32-bit. Install a 64-bit one; on a small board, its 64-bit image.")
    if system == "win32" and machine.upper() == "ARM64":
        return wrong("Computer", "There are no packages for Windows on ARM. Install the Python for x86-64.")
    return right("Computer", f"64-bit, {machine or 'unknown'}")


def look_at_venv(has: Path | None = None) -> Finding:
    """Return whether Python can make an environment of its own for the program; `has` is only for tests."""
    missing = [name for name in ("venv", "ensurepip") if _is_missing(name, has)]
    if missing:
        name = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"
        return wrong(
            "Environment",
            f"Python’s module {missing[0]} is not there. On Debian and Ubuntu: sudo apt install {name}",
        )
    return right("Environment", "venv and pip can be made")


def look_at_room(folder: Path, least: int) -> Finding:
    """Return whether a disk has room enough. [B]"""
    free = shutil.disk_usage(_there(folder)).free
    shown = f"{free / 1e9:.1f} GB free"
    if free < least:
        return wrong("Disk", f"{shown} where {folder} is; make room for {least / 1e9:.1f} GB.")
    return right("Disk", shown)


def look_at_folder(folder: Path) -> Finding:
    """Return whether the folder of the database can be written to, or made."""
    there = _there(folder)
    if not there.is_dir():
        return wrong("Folder", f"{there} is a file; choose another folder with TRAYMATES_INSTANCE.")
    if not os.access(there, os.W_OK | os.X_OK):
        return wrong("Folder", f"{there} may not be written to by this user. Give the right, or choose another.")
    return right("Folder", str(folder))


def look_at_disk(folder: Path, mounts: Path = Path("/proc/mounts")) -> Finding:
    """Return whether a folder lies on a disk of this computer, as far as the system tells."""
    kind = _file_system(_there(folder), mounts)
    if kind in DISTANT:
        return wrong(
            "Place",
            f"{folder} lies on another machine’s disk ({kind}), where locks do not hold. Choose a local one.",
        )
    return right("Place", "on this computer")


def look_at_port(port: int, host: str = "127.0.0.1") -> Finding:
    """Return whether a port is free."""
    try:
        with socket.socket() as probe:
            if os.name == "posix":  # as the server does; elsewhere it would take a port that is taken
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind((host, port))
    except PermissionError:
        return wrong("Port", f"{port} needs special rights; choose one above 1023 with PORT.")
    except OSError:
        return wrong("Port", f"{port} is taken by another program; stop it, or choose another with PORT.")
    return right("Port", f"{port} is free")


def look_at_clock(now: float) -> Finding:
    """Return whether the clock can be right: it must be past the day of the program itself. [s since 1970]"""
    shown = time.strftime("%Y-%m-%d %H:%M", time.localtime(now))
    if now < WRITTEN_AFTER:
        return wrong("Clock", f"It says {shown}, which is past. Set it; due dates and backups go by it.")
    return right("Clock", shown)


def shown(findings: list[Finding]) -> str:
    """Return findings as lines of text."""
    width = max(len(finding.name) for finding in findings)
    return "\n".join(f"{'ok ' if one.is_right else 'NO '} {one.name:{width}}  {one.words}" for one in findings)


def python_of(environment: Path) -> Path:
    """Return where an environment has its Python."""
    return environment / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def is_up_to_date(root: Path) -> bool:
    """Return whether `.venv` has the present packages and starts, which an upgrade of the system may have ended."""
    stamp = root / ".venv" / STAMP
    try:
        made = stamp.stat().st_mtime
        if any((root / name).stat().st_mtime > made for name in FILES):
            return False
        command = [str(python_of(root / ".venv")), "-c", "import flask, numpy, pysqlite3, typst"]
        return subprocess.run(command, check=False, capture_output=True, timeout=120).returncode == 0
    except (OSError, subprocess.SubprocessError):
        return False


def install(root: Path) -> None:
    """Make `.venv` anew with the locked packages, whose hashes are checked, and the program itself."""
    environment = root / ".venv"
    print(f"Making .venv with Python {platform.python_version()}", flush=True)
    subprocess.run([sys.executable, "-m", "venv", "--clear", str(environment)], check=True)
    print("Installing the locked packages (one to three minutes the first time)", flush=True)
    python = str(python_of(environment))
    lock = ["--require-hashes", "-r", str(root / "requirements.lock")]
    subprocess.run([python, *QUIETLY, *lock], check=True)
    subprocess.run([python, *QUIETLY, "--no-build-isolation", "-e", str(root)], check=True)
    (environment / STAMP).touch()


def main(arguments: list[str] | None = None) -> int:
    """Look, install where that is wanted and needed, and return the exit status."""
    parser = argparse.ArgumentParser(description="Install Traymates into .venv, after looking whether it can run here.")
    parser.add_argument("--check", action="store_true", help="look only")
    parser.add_argument("--quiet", action="store_true", help="say nothing where all is there already")
    options = parser.parse_args(arguments)
    if not options.check and is_up_to_date(ROOT):
        if not options.quiet:
            print(f"Installed: {python_of(ROOT / '.venv').parent / 'traymates'}")
        return 0
    port = os.environ.get("PORT") or str(DEFAULT_PORT)
    findings = look_before_installing(
        int(port) if port.isdecimal() else DEFAULT_PORT, Path(os.environ.get("TRAYMATES_INSTANCE") or ROOT / "instance")
    )
    print(shown(findings), flush=True)
    # A port that is taken, perhaps by the program itself, keeps nobody from installing it.
    if options.check or not all(one.is_right for one in findings if one.name != "Port"):
        return 0 if all(one.is_right for one in findings) else 1
    try:
        install(ROOT)
    except subprocess.CalledProcessError as error:
        print(
            f"It could not be installed: this ended with {error.returncode}: {' '.join(map(str, error.cmd))}",
            file=sys.stderr,
        )
        return 1
    print(f"Installed: {python_of(ROOT / '.venv').parent / 'traymates'}")
    return 0


def _is_missing(name: str, has: Path | None) -> bool:
    if has is not None:
        return not (has / name).exists()
    return importlib.util.find_spec(name) is None


def _there(folder: Path) -> Path:
    """Return a folder, or the nearest one above it that is there."""
    folder = folder.absolute()
    while not folder.exists():
        folder = folder.parent
    return folder


def _file_system(folder: Path, mounts: Path) -> str:
    """Return the kind of file system of a folder, empty where the system does not tell."""
    try:
        lines = mounts.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    place, kind = "", ""
    for line in lines:
        parts = line.split(" ")
        if len(parts) > 2:  # noqa: PLR2004 - device, place, kind
            at = parts[1].replace("\\040", " ")
            if (str(folder) + "/").startswith(at.rstrip("/") + "/") and len(at) >= len(place):
                place, kind = at, parts[2]
    return kind


if __name__ == "__main__":
    sys.exit(main())
