"""Letting people in from the machine on which the program runs."""

import click

from app.cli.errors import Failure
from app.cli.options import database_option, garden_session
from app.core.words import Role
from app.services.accounts import LastCoordinatorError, change_role, invite, make_slip
from app.services.passphrases import comparable
from app.settings import read_settings
from app.sheets.backup_words import moment_words
from app.storage.queries.people import find_account
from app.storage.queries.printing import find_public_address


@click.command(name="invite")
@click.argument("name")
@click.option(
    "--role",
    type=click.Choice([role.value for role in Role]),
    help="What they may do; by default coordinator for a new account, and as it is for one that is there.",
)
@database_option
def invite_person(name: str, database: str | None, role: str | None) -> None:
    """Print a one-time link for NAME: to come in, or with another passphrase than the lost one.

    For a garden in which nobody who may do everything can sign in any more.
    """
    if not comparable(name):
        raise click.BadParameter("give a name", param_hint="NAME")
    settings = read_settings()
    with garden_session(database) as session:
        account = find_account(session, comparable(name))
        if account is None:
            account = invite(session, name, Role(role or Role.COORDINATOR), None)
        elif role is not None:
            try:
                change_role(session, account.id, Role(role))
            except LastCoordinatorError as error:
                raise Failure("Nobody else may do everything here, so this account stays a coordinator's.") from error
        slip = make_slip(session, account.id)
        row = find_public_address(session)
        shown = account.name
    address = settings.public_url or (row.address if row is not None else f"http://127.0.0.1:{settings.port}")
    click.echo(f"{shown} opens {address}/slips/{slip.token}\nonce, until {moment_words(slip.expires_at)}.")
