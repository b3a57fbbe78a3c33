"""Tables that are printed: frost dates, season fit, deadlines, the shelf ledger."""

from collections.abc import Callable
from datetime import date, datetime

import click

from app.cli.options import database_option, day_of, format_option, garden_session, today_option
from app.core.plan import Plan
from app.services.plan import get_plan
from app.sheets.tables import (
    Table,
    csv_text,
    deadline_rows,
    frost_rows,
    json_text,
    ledger_rows,
    plain_text,
    season_rows,
)

WRITERS = {"table": plain_text, "csv": csv_text, "json": json_text}


@click.command()
@format_option
@database_option
def frost(database: str | None, form: str) -> None:
    """Print the frost dates at several risks.

    SPRING is the first day on which the chance of a freeze then or later is at most the risk, AUTUMN
    the last on which the chance of one then or before is, DAYS the days between.
    """
    _print(database, form, frost_rows)


@click.command()
@format_option
@database_option
def season(database: str | None, form: str) -> None:
    """Print which crops the season carries.

    DAYS_OUTDOORS and DAYS_INDOORS are the days to spare when sown outside and when started indoors, negative
    when short, empty where it is not done; CHANCE_RIPE is the chance that the crop ripens.
    """
    _print(database, form, season_rows)


@click.command()
@format_option
@today_option
@database_option
def deadlines(database: str | None, today: datetime | None, form: str) -> None:
    """Print the deadlines of every sowing, as they stand on the day that is taken for today.

    What is written down goes before what was foreseen; what is due and not written down waits for today.
    """
    _print(database, form, deadline_rows, day_of(today))


@click.command()
@format_option
@today_option
@database_option
def ledger(database: str | None, today: datetime | None, form: str) -> None:
    """Print the positions needed and free in each place, week by week; free is negative when over-full.

    A tray keeps its place until what moves it on is written down, up to the day that is taken for today.
    """
    _print(database, form, ledger_rows, day_of(today))


def _print(database: str | None, form: str, rows: Callable[[Plan], Table], today: date | None = None) -> None:
    with garden_session(database, read_only=True, today=today) as session:
        plan = get_plan(session)
    click.echo(WRITERS[form](rows(plan)), nl=False)
