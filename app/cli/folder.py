"""Gardens in from folders and out into them, and a station's record in from its file."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from app.cli.errors import UsageFailure
from app.cli.options import database_option, garden_session
from app.services.demo import DEMO_DAY, set_up_demo
from app.services.folder import NotEmptyError, dump_folder, has_garden, load_folder
from app.services.record import replace_record
from app.sheets.record_words import record_lines
from app.sheets.words import day_year
from app.storage.progress import Tell


@click.command()
@click.argument("path", metavar="FOLDER|FILE", type=click.Path(exists=True, path_type=Path))
@click.option("--replace", is_flag=True, help="Replace the garden that is there.")
@database_option
def load(path: Path, database: str | None, *, replace: bool) -> None:
    """Load a garden from the files in FOLDER into an empty database, or a station's record from FILE.

    FILE is a daily_temperatures.csv or a GHCN-Daily CSV of a weather service. It takes the place of the record
    of the garden that is there; nothing else is touched.

    Everything is checked first. If there is a fault, all are told and nothing is loaded.
    """
    if path.is_file():
        if replace:
            raise UsageFailure("A station's record replaces the one there is anyway; --replace is for a folder.")
        _load_record(path, database)
        return
    with garden_session(database) as session, _progress() as tell:
        try:
            counts = load_folder(session, path, replace=replace, tell=tell)
        except NotEmptyError as error:
            raise UsageFailure(f"{error} Say --replace to replace all of it.") from error
    click.echo(f"Loaded {_listed(counts)}.")


def _load_record(path: Path, database: str | None) -> None:
    with garden_session(database) as session, _progress() as tell:
        summary = replace_record(session, path, tell=tell)
    click.echo("Loaded the station's record.")
    for line in record_lines(summary):
        click.echo(line)


@contextmanager
def _progress() -> Iterator[Tell]:
    """Give what draws a bar of the rows stored, on a terminal."""
    bars: list[Any] = []

    def tell(done: int, total: int) -> None:
        if not sys.stderr.isatty():
            return
        if not bars:
            bars.append(click.progressbar(length=total, label="Storing", file=sys.stderr))
        bars[0].update(done - bars[0].pos)

    try:
        yield tell
    finally:
        for bar in bars:
            bar.render_finish()


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.option("--replace", is_flag=True, help="Write over the garden folder that is there.")
@database_option
def dump(folder: Path, database: str | None, *, replace: bool) -> None:
    """Write the garden as files into FOLDER, which must be new or empty."""
    with garden_session(database, read_only=True) as session:
        counts = dump_folder(session, folder, replace=replace)
    click.echo(f"Wrote {_listed(counts)} into {folder}.")


@click.command()
@click.option("--if-empty", is_flag=True, help="Do nothing if there is a garden already.")
@click.option("--yes", is_flag=True, help="Replace the garden that is there without asking.")
@database_option
def demo(database: str | None, *, if_empty: bool, yes: bool) -> None:
    """Load the demo garden; its place, people and weather are invented.

    It stands as on Saturday 10 April 2027: trays are dealt for the season, and what was due before is sown.
    """
    with garden_session(database) as session:
        is_taken = has_garden(session)
        if is_taken and if_empty:
            click.echo("There is a garden in the database; it stays as it is.")
            return
    if is_taken and not yes:
        # Asked outside the transaction, so that nobody waits for the answer.
        click.confirm("There is a garden in the database. Replace all of it by the demo garden?", abort=True)
    with garden_session(database) as session:
        counts = set_up_demo(session, replace=is_taken)
    click.echo(f"Loaded the demo garden (invented): {_listed(counts)}. It stands as on {day_year(DEMO_DAY)}.")


def _listed(counts: dict[str, int]) -> str:
    return ", ".join(f"{count:,} {file.removesuffix('.csv').replace('_', ' ')}" for file, count in counts.items())
