"""The end of a season by command."""

import time
from datetime import datetime

import click

from app.cli.errors import Failure, UsageFailure
from app.cli.options import database_option, day_of, garden_session, today_option
from app.services.backups import backup_folder
from app.services.season_end import LevellingRunsError, NoBackupError, OtherSeasonError, carry_season
from app.settings import read_settings


@click.command("next-season")
@click.argument("season", type=int)
@today_option
@database_option
def next_season(database: str | None, today: datetime | None, season: int) -> None:
    """End SEASON, such as 2027, and begin the next one: the old one goes into a backup in the instance folder.

    Growers, accounts, shelves, crop cards and what is known of seed stay. Sowings wait to be kept as wishes or left
    out. Trays, the log, care rounds and spare plants leave, after the backup was made and checked.
    """
    folder = backup_folder(read_settings().instance)
    try:
        with garden_session(database, today=day_of(today)) as session:
            carried = carry_season(session, folder, time.time(), season=season)
    except OtherSeasonError as error:
        raise UsageFailure(f"The garden is in another season than {season}, and nothing was changed.") from error
    except LevellingRunsError as error:
        raise Failure("A plan that fits is being looked for. Wait for it, or stop it; nothing was changed.") from error
    except NoBackupError as error:
        raise Failure(f"The backup could not be made, so nothing was changed: {error}.") from error
    click.echo(f"The season {carried.season} has begun. That of {season} is kept in {carried.backup}.")
