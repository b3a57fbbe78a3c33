"""Making the plan fit."""

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from threading import Event
from typing import Any

import click

from app.cli.errors import Failure
from app.cli.options import database_option, database_url, day_of, format_option, garden_session, today_option
from app.core.fitting.answer import Progress
from app.core.words import LevellingState
from app.services.levelling import (
    BROKE_OFF,
    AlreadyRunningError,
    LevellingRow,
    StaleLevellingError,
    accept_levelling,
    find_answer,
    get_levelling,
    start_levelling,
)
from app.services.levelling_explained import explain_answer
from app.services.levelling_run import run_levelling
from app.sheets.levelling_goals import PHASES
from app.sheets.levelling_table import levelling_csv, levelling_json, levelling_text
from app.sheets.words import count_words
from app.storage.opening import open_session

WRITERS = {"table": levelling_text, "csv": levelling_csv, "json": levelling_json}
LONGEST_SECONDS = 86_400
STALE = "Something was changed while a plan that fits was looked for. Nothing is accepted; look again."


@click.command()
@click.option(
    "--seconds",
    type=click.IntRange(1, LONGEST_SECONDS),
    default=30,
    show_default=True,
    metavar="N",
    help="How long to look at most; Ctrl-C ends it before and keeps the best so far.",
)
@click.option("--accept", "is_accepted", is_flag=True, help="Accept all that it changes.")
@format_option
@today_option
@database_option
def fit(database: str | None, today: datetime | None, form: str, seconds: int, *, is_accepted: bool) -> None:
    """Look for a plan that fits, and print what it changes, who is left out and what it would take for all.

    Its goals, each without giving up what those before it reached: the smallest share of a grower's plants as large
    as can be; the most plants, priority counted; the fewest days from the best sowing days; the fewest trays. GAP
    says how far VALUE may be from what no plan can beat, as a fraction.

    Without --accept nothing is changed; the answer also waits on the page "Make it fit" until it is accepted there.
    """
    day = day_of(today)
    url = database_url(database)
    with open_session(url) as session:
        try:
            levelling = start_levelling(session, seconds=seconds, today=day)
        except AlreadyRunningError as error:
            raise Failure(str(error)) from error
    with _stoppable() as stop:
        run_levelling(url, levelling, stop, _Teller())
    with garden_session(database, read_only=True, today=day) as session:
        row = get_levelling(session, levelling, today=day)
        answer = find_answer(session, row)
        if answer is None:
            raise Failure(_why_no_answer(row))
        text = WRITERS[form](answer, explain_answer(answer))
    click.echo(text, nl=False)
    if is_accepted:
        _accept(url, row, day)


def _accept(url: str, row: LevellingRow, day: date) -> None:
    if not row.changes:
        click.echo("Nothing changes, so there is nothing to accept.", err=True)
        return
    with open_session(url) as session:
        try:
            changed = accept_levelling(session, row.id, today=day)
        except StaleLevellingError as error:
            raise Failure(STALE) from error
    said = f"Accepted: {count_words(changed, 'sowing', 'sowings')} changed."
    click.echo(f"{said} Trays stay as they were dealt until they are dealt again.", err=True)


def _why_no_answer(row: LevellingRow) -> str:
    if row.state is LevellingState.FAILED:
        return row.fault or BROKE_OFF
    return STALE if row.is_stale else "The search was stopped before there was an answer."


class _Teller:
    """Says on a terminal what the search is doing, once for each thing."""

    said: str = ""

    def __call__(self, progress: Progress) -> None:
        """Say it."""
        words = PHASES[progress.phase]
        if words != self.said and sys.stderr.isatty():
            click.echo(f"{words} …", err=True)
        self.said = words


@contextmanager
def _stoppable() -> Iterator[Event]:
    """Give an event that the first Ctrl-C, or a request to end, sets; the second one breaks off."""
    stop = Event()
    before: dict[signal.Signals, Any] = {}

    def ask(number: int, _frame: object) -> None:
        stop.set()
        signal.signal(number, before[signal.Signals(number)])

    for number in (signal.SIGINT, signal.SIGTERM):
        before[number] = signal.signal(number, ask)
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
