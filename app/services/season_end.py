"""The end of a season: what is carried into the next one, and what leaves after a backup was made and checked."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from app.core.calendar import NO_DAY
from app.core.log.entries import NO_LOT
from app.core.plants.germination import lots_sown, observed_sowings
from app.language import N_
from app.services.backups import backup_name, engine_of, words_of
from app.services.garden import get_garden
from app.services.plan import get_plan
from app.storage.backup import BackupError, copy_database
from app.storage.base import table_of
from app.storage.errors import DatabaseError
from app.storage.history import note_history
from app.storage.models import Draft, SeedTest
from app.storage.queries.levelling import find_latest_levelling
from app.storage.queries.version import hold_writes
from app.storage.restoring import hold_everything
from app.storage.season_end import clear_season, count_of_season, list_wishes
from app.storage.tables import insert_columns
from app.storage.whole_files import passing_folder

if TYPE_CHECKING:
    from app.core.plan import Plan
    from app.storage import Session

__all__ = [
    "Carried",
    "Ending",
    "LevellingRunsError",
    "NoBackupError",
    "OtherSeasonError",
    "carry_season",
    "find_ending",
    "passing_folder",
]

# What the history says of what left.
_TOLD = {"sowing": N_("sowings"), "tray": N_("trays"), "log_entry": N_("entries of the log")}


class LevellingRunsError(Exception):
    """A plan that fits is being looked for: its answer would be for sowings that are gone."""


class NoBackupError(Exception):
    """The season could not be kept, so nothing was changed; the message says why."""


class OtherSeasonError(Exception):
    """The season has been carried already, by somebody else or on another page."""


@dataclass(frozen=True, kw_only=True)
class Ending:
    """What carrying a season into the next would take along and what would leave.

    Attributes:
        season: The season that ends.
        counts: Rows of each table that leaves.
        drafts: Sowings that become wishes to take over. [1]
        tests: Sowings whose count of what came up stays with their seed lot. [1]
        here: Plants that are still on the shelves by the log. [1]
        is_levelling: Whether a plan that fits is being looked for, so that it has to wait.
    """

    season: int
    counts: dict[str, int]
    drafts: int
    tests: int
    here: int
    is_levelling: bool


@dataclass(frozen=True, kw_only=True)
class Carried:
    """What carrying a season came to.

    Attributes:
        season: The new season.
        backup: Where the old one is kept.
        drafts: Sowings that became wishes to take over. [1]
        tests: Sowings whose count of what came up stays with their seed lot. [1]
    """

    season: int
    backup: Path
    drafts: int
    tests: int


def find_ending(session: "Session", now: float) -> Ending:
    """Return what carrying the season into the next would take along, or raise NoGardenError.

    Args:
        session: Where the garden is.
        now: The present moment. [s since 1970]
    """
    plan = get_plan(session)
    return Ending(
        season=plan.garden.settings.season,
        counts=count_of_season(session),
        drafts=len(plan.garden.sowings),
        tests=len(_seed_tests(plan)),
        here=int(plan.living[plan.progress.over_on == NO_DAY].sum()),
        is_levelling=_is_levelling(session, now),
    )


def carry_season(session: "Session", folder: Path, now: float, *, season: int) -> Carried:
    """Begin the next season: the old one goes into a backup, and what a garden keeps from year to year stays.

    Sowings become wishes to take over, and what came up of them stays with their seed lots as tests. The log, trays,
    care rounds and spare plants leave.

    Args:
        session: Its transaction takes it all; nothing was written in it yet.
        folder: Where the backups are.
        now: The present moment. [s since 1970]
        season: The season that is to end.

    Raises:
        NoGardenError: There is no garden yet.
        OtherSeasonError: Another season is at hand.
        LevellingRunsError: A plan that fits is being looked for.
        NoBackupError: The old season could not be kept; nothing was changed.
    """
    hold_writes(session)
    hold_everything(session)
    garden = get_garden(session)
    if garden.season != season:
        raise OtherSeasonError
    if _is_levelling(session, now):
        raise LevellingRunsError
    path = folder / backup_name(now, season=season)
    try:
        copy_database(engine_of(session), path)
    except (OSError, BackupError, DatabaseError) as error:
        raise NoBackupError(words_of(error)) from error
    plan = get_plan(session)
    drafts, tests, counts = _drafts(session, plan), _seed_tests(plan), count_of_season(session)
    clear_season(session)
    for model, rows in ((Draft, drafts), (SeedTest, tests)):
        if rows:
            columns = {name: [row[name] for row in rows] for name in rows[0]}
            insert_columns(session, table_of(model), columns)
    garden = get_garden(session)
    garden.season = season + 1
    session.flush()
    said = [("season", season, season + 1), ("backup", None, path.name)]
    said += [(words, counts[name], None) for name, words in _TOLD.items() if counts[name]]
    note_history(session, "garden", N_("carried into the next season"), subject=garden.name, changes=said)
    session.flush()
    return Carried(season=season + 1, backup=path, drafts=len(drafts), tests=len(tests))


def _is_levelling(session: "Session", now: float) -> bool:
    latest = find_latest_levelling(session, today=date.min, now=now)
    return latest is not None and latest.is_running


def _drafts(session: "Session", plan: "Plan") -> list[dict[str, Any]]:
    """Return a wish for each sowing, with what was handed out of it; none where nothing was written down of it."""
    log, left = plan.garden.log, plan.logged.left
    has_log = np.bincount(log.sowing, minlength=len(left)) > 0
    got = {row: int(left[at]) if has_log[at] else None for at, row in enumerate(plan.garden.sowings.ids.tolist())}
    return [
        {key: value for key, value in wish.items() if key != "id"} | {"got": got[wish["id"]]}
        for wish in list_wishes(session)
    ]


def _seed_tests(plan: "Plan") -> list[dict[str, Any]]:
    """Return what came up of each sowing with a seed lot, as a test of the lot that was begun on the sowing day."""
    garden, logged, lots = plan.garden, plan.logged, lots_sown(plan.garden)
    return [
        {
            "seed_lot_id": garden.lots[int(lots[at])].id,
            "date": date.fromordinal(int(logged.sown_on[at])),
            "tried": seen.tried,
            "seeds_per_cell": float(seen.seeds_per_cell),
            "up": seen.up,
            "days": None,
        }
        for at, seen in observed_sowings(garden, logged).items()
        if lots[at] != NO_LOT
    ]
