"""The trays, as they are dealt or as dealing would have them; and dealing."""

from datetime import date, datetime
from typing import TYPE_CHECKING

import click

from app.cli.errors import UsageFailure
from app.cli.options import database_option, day_of, format_option, garden_session, today_option
from app.cli.tables import WRITERS
from app.services.deal import accept_deal, propose_deal, season_days
from app.services.plan import get_plan
from app.sheets.tables import Table
from app.sheets.tray_table import COLUMNS, tray_rows

if TYPE_CHECKING:
    from app.storage import Session

_DAY = click.DateTime(["%Y-%m-%d"])


@click.command()
@click.option("--deal", "is_dealt", is_flag=True, help="Deal these trays: store them, and print what was stored.")
@click.option("--from", "first", type=_DAY, metavar="DATE", help="Only trays filled on this day or later.")
@click.option("--to", "last", type=_DAY, metavar="DATE", help="Only trays filled on this day or earlier.")
@format_option
@today_option
@database_option
def trays(
    database: str | None,
    today: datetime | None,
    form: str,
    *,
    is_dealt: bool,
    first: datetime | None,
    last: datetime | None,
) -> None:
    """Print the trays by number: their cells and sowings, and where they stand from when to when.

    What is not dealt yet stands there as dealing the season, or the days that are given, would have it; DEALT
    says whether a tray is stored just so. PLACES are the places with the day it comes and the day it leaves,
    POSITION its shelf, level and position in each of them, or that it waits for one.

    Trays that are sown stay on the positions on which they stand on the day that is taken for today.
    """
    day = day_of(today)
    with garden_session(database, read_only=not is_dealt, today=day) as session:
        days = _days(session, first, last)
        if days is None:
            table = Table(COLUMNS, [])
        elif is_dealt:
            accept_deal(session, first=days[0], last=days[1], today=day)
            table = _table(session, days, day)
        else:
            table = _table(session, days, day)
    click.echo(WRITERS[form](table), nl=False)


def _table(session: "Session", days: tuple[date, date], today: date) -> Table:
    return tray_rows(propose_deal(session, first=days[0], last=days[1], today=today), days)


def _days(session: "Session", first: datetime | None, last: datetime | None) -> tuple[date, date] | None:
    """Return the days that are asked for, by default those of the season; None where nothing is ever filled."""
    if first and last and last < first:
        raise UsageFailure(f"--to {last.date()} lies before --from {first.date()}.")
    season = season_days(get_plan(session))
    if season is None:
        return None
    return (first.date() if first else season[0], last.date() if last else season[1])
