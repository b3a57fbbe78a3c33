"""Backups in words: when, how large, how old, what was checked."""

from datetime import datetime

from app.language import N_, _, nouns
from app.services.backups import BackupFacts
from app.sheets.words import away_words, count_words, day_year, decimal_sign, number_words

KILOBYTE, MEGABYTE, GIGABYTE = 1_000, 1_000_000, 1_000_000_000
MINUTE_S, HOUR_S, DAY_S = 60, 3_600, 86_400
ROUND_FROM = 10
"""From so many on, a size has no decimal."""


def moment_words(at: float) -> str:
    """Return a moment in this machine's time zone, as `Sat 10 Apr 2027, 03:12`. [s since 1970]"""
    local = datetime.fromtimestamp(at).astimezone()
    return f"{day_year(local.date())}, {local:%H:%M}"


def moment_ago(at: float, now: float) -> str:
    """Return a moment with how many days ago it was, as `3 days ago, Sat 10 Apr 2027, 03:12`. [s since 1970]"""
    days = [datetime.fromtimestamp(one).astimezone().date() for one in (at, now)]
    return f"{away_words(*days)}, {moment_words(at)}"


def size_words(size_bytes: int) -> str:
    """Return the size of a file, as `740 kB` or `1.2 MB`. [B]"""
    for unit, words in ((GIGABYTE, N_("%(size)s GB")), (MEGABYTE, N_("%(size)s MB"))):
        if size_bytes >= unit:
            size = size_bytes / unit
            return _(words, size=f"{size:.0f}" if size >= ROUND_FROM else f"{size:.1f}".replace(".", decimal_sign()))
    return _("%(size)s kB", size=max(1, round(size_bytes / KILOBYTE)))


def age_words(age_s: float) -> str:
    """Return an age, as `3 hours` or `2 days`; only its largest part, rounded down. [s]"""
    for unit, name in (
        (DAY_S, nouns("day", "days")),
        (HOUR_S, nouns("hour", "hours")),
        (MINUTE_S, nouns("minute", "minutes")),
    ):
        if age_s >= unit:
            return count_words(int(age_s // unit), *name)
    return _("less than a minute")


def checked_words(facts: BackupFacts) -> str:
    """Return what the check of a backup has found."""
    return checked_counts_words(facts.rows, len(facts.counts), facts.revision)


def checked_counts_words(rows: int, tables: int, revision: str) -> str:
    """Return what the check of a backup has found, from its figures."""
    return _(
        "the file is whole, every row has the rows it belongs to, %(rows)s rows in %(tables)s, schema %(revision)s",
        rows=number_words(rows),
        tables=count_words(tables, "table", "tables"),
        revision=revision,
    )


def late_words(age_s: float | None) -> str:
    """Return that the last good backup is so old, or that there is none. [s]"""
    if age_s is None:
        return _("There is no backup yet.")
    return _("The last good backup is %(age)s old.", age=age_words(age_s))
