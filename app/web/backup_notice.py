"""What coordinators are told of backups on their first page."""

import time
from pathlib import Path

from flask import current_app

from app.services.backups import FOLDER, KeptBackup, backup_folder, find_last, is_late
from app.sheets.backup_words import late_words
from app.web.access import is_coordinator
from app.web.context import current_settings

SEEN = "last_backup"


def current_backup_folder() -> Path:
    """Return the folder in which the backups are."""
    return backup_folder(current_settings().instance)


def backup_notice() -> str:
    """Return that the last good backup is old or missing; nothing if it is not, or for those who cannot help it."""
    if not is_coordinator():
        return ""
    now = time.time()
    last = _find_last(now)
    return late_words(None if last is None else now - last.at) if is_late(last, now) else ""


def _find_last(now: float) -> KeptBackup | None:
    """Return the last good backup; the folder is read anew only after something in it was made or removed."""
    folder = current_settings().instance / FOLDER
    try:
        changed = folder.stat().st_mtime_ns
    except OSError:
        return None
    seen: tuple[int, KeptBackup | None] | None = current_app.extensions.get(SEEN)
    if seen is None or seen[0] != changed or seen[1] is None or seen[1].at > now:
        seen = current_app.extensions[SEEN] = (changed, find_last(folder, now))
    return seen[1]
