"""The project's own files, for the rules that read them."""

import os
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# Made on the machine and ignored by git: no part of the project.
MADE_FOLDERS = {".git", ".venv", ".hypothesis", "instance", "build", "__pycache__"}


def project_files(*suffixes):
    """Return the project's files, sorted; with suffixes, those whose names end in one of them."""
    found = []
    for folder, folders, names in os.walk(ROOT):
        folders[:] = [
            name for name in folders if name not in MADE_FOLDERS and not name.endswith(("_cache", ".egg-info"))
        ]
        found += [Path(folder, name) for name in names if name.endswith(suffixes or "")]
    return sorted(found)


def relative(path):
    """Return a path as it is written in the project."""
    return path.relative_to(ROOT).as_posix()


def texts(*suffixes):
    """Return (path as written in the project, text) of each file that holds text."""
    pairs = []
    for path in project_files(*suffixes):
        content = path.read_bytes()
        if b"\0" not in content:
            pairs.append((relative(path), content.decode("utf-8")))
    return pairs
