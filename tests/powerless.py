"""Folders that the tests' own process may not write to, also where it runs as root, whom no rights stop."""

import os
import shutil
import tempfile
from contextlib import contextmanager
from pathlib import Path

import pytest

NOBODY = 65534


@contextmanager
def open_folder():
    """Give a new folder that is reached by everybody."""
    folder = Path(tempfile.mkdtemp(prefix="traymates-"))
    folder.chmod(0o755)
    try:
        yield folder
    finally:
        folder.chmod(0o755)
        shutil.rmtree(folder)


@contextmanager
def powerless(folder):
    """Take the right to write to a folder and the files in it; inside the block this process is not root."""
    if not hasattr(os, "geteuid"):
        pytest.skip("this system has other rights")
    files = [path for path in folder.iterdir() if path.is_file()]
    rights = {path: path.stat().st_mode for path in (folder, *files)}
    for path in files:
        path.chmod(0o444)
    folder.chmod(0o555)
    root = os.geteuid() == 0
    if root:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)
        for path, mode in rights.items():
            path.chmod(mode)
