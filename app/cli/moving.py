"""Moving a garden to another database."""

import click

from app.cli.errors import UsageFailure
from app.cli.options import database_option, database_url
from app.services.copying import copy_garden
from app.services.folder import NotEmptyError
from app.storage.opening import open_session, same_database


@click.command()
@click.option("--to", "target", required=True, metavar="URL", help="The database to copy into; it must be empty.")
@database_option
def copy(database: str | None, target: str) -> None:
    """Copy everything into an empty database of either engine."""
    source = database_url(database)
    if same_database(source, target):
        raise UsageFailure("Both addresses are of the same database; give another one to copy into.")
    with open_session(source, read_only=True) as session, open_session(target) as target_session:
        try:
            counts = copy_garden(session, target_session)
        except NotEmptyError as error:
            raise UsageFailure("The database to copy into holds a garden already; give an empty one.") from error
    click.echo(f"Copied {sum(counts.values()):,} rows.")
