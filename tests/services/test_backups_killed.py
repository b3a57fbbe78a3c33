"""Killed at every point, a backup, the thinning out of old ones, and a restore leave nothing half done."""

import json
import os
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from tests.backups import url_of
from tests.lengths import every

ROOT = Path(__file__).resolve().parents[2]
STRIDE = every(10)  # of each kind of point; on PostgreSQL each try takes longer
UNUSED = "sqlite://"  # the script has a file of its own

pytestmark = [
    pytest.mark.soak,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="the system does not split processes"),
]


def kill(what, url, tmp_path, *saboteur):
    stride = STRIDE if url == UNUSED else every(4 * STRIDE)
    return subprocess.run(
        [sys.executable, "-m", "tests.services.killed_backups", what, url, tmp_path / "room", str(stride), *saboteur],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )


def found_after_kills(what, url, tmp_path):
    """Return what was found after a kill at each point, by the kind of point."""
    done = kill(what, url, tmp_path)
    assert done.returncode == 0, done.stderr
    found = [tuple(pair) for pair in json.loads(done.stdout)]
    print(f"\n  {what}, killed at {len(found) - 1} points: {dict(Counter(after for _, after in found))}")
    return found


def test_a_backup_over_an_older_one_is_the_old_or_the_new(tmp_path):
    found = found_after_kills("copy", UNUSED, tmp_path)
    points = {point for point, _ in found}
    assert {"before fsync", "after fsync", "before replace", "after replace", "statement", None} <= points
    assert {after for point, after in found if point == "before replace"} == {"old"}
    assert {after for point, after in found if point == "after replace"} == {"new"}


def test_old_ones_go_only_after_the_new_one_is_there(tmp_path):
    found = found_after_kills("day", UNUSED, tmp_path)
    points = {point for point, _ in found}
    assert {"before replace", "after replace", "before unlink", "after unlink", None} <= points
    assert {after for _, after in found} >= {"0 gone, not made", "0 gone, made", "1 gone, made"}


def test_a_restore_is_whole_or_not_begun(engine, tmp_path):
    engine.dispose()
    is_sqlite = engine.dialect.name == "sqlite"
    with engine.begin():
        pass  # that something was committed has it emptied afterwards
    found = found_after_kills("restore", UNUSED if is_sqlite else url_of(engine), tmp_path)
    points = {point for point, _ in found}
    assert {"before replace", "after replace", "before commit", "after commit", "statement", None} <= points
    assert {after for _, after in found} == {"as before", "restored"}
    assert found[-1] == (None, "restored")


@pytest.mark.parametrize(
    ("what", "saboteur", "words"),
    [
        ("copy", "in place", "FileNotFoundError|BackupError"),
        ("day", "room first", "an old one went before the new one was there"),
        ("restore", "half way", "half of it is restored"),
    ],
)
def test_the_check_turns_red_where_it_is_done_otherwise(tmp_path, what, saboteur, words):
    done = kill(what, UNUSED, tmp_path, saboteur)
    assert done.returncode != 0
    assert re.search(words, done.stderr)
