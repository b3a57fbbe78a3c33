"""Gardens in from folders and out into them."""

from pathlib import Path

import click

from app.cli.errors import UsageFailure
from app.cli.options import database_option, garden_session
from app.services.folder import NotEmptyError, dump_folder, has_garden, load_demo, load_folder


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--replace", is_flag=True, help="Replace the garden that is there.")
@database_option
def load(folder: Path, database: str | None, *, replace: bool) -> None:
    """Load a garden from the files in FOLDER into an empty database.

    Everything is checked first. If there is a fault, all are told and nothing is loaded.
    """
    with garden_session(database) as session:
        try:
            counts = load_folder(session, folder, replace=replace)
        except NotEmptyError as error:
            raise UsageFailure(f"{error} Say --replace to replace all of it.") from error
    click.echo(f"Loaded {_listed(counts)}.")


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
    """Load the demo garden; its place, people and weather are invented."""
    with garden_session(database) as session:
        is_taken = has_garden(session)
        if is_taken and if_empty:
            click.echo("There is a garden in the database; it stays as it is.")
            return
    if is_taken and not yes:
        # Asked outside the transaction, so that nobody waits for the answer.
        click.confirm("There is a garden in the database. Replace all of it by the demo garden?", abort=True)
    with garden_session(database) as session:
        counts = load_demo(session, replace=is_taken)
    click.echo(f"Loaded the demo garden (invented): {_listed(counts)}.")


def _listed(counts: dict[str, int]) -> str:
    return ", ".join(f"{count:,} {file.removesuffix('.csv').replace('_', ' ')}" for file, count in counts.items())
