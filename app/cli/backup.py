"""Backups by hand, once a day, and back."""

import time
from pathlib import Path

import click

from app.cli.errors import Failure, UsageFailure
from app.cli.options import database_option, database_url
from app.services.backups import (
    NotEmptyError,
    back_up,
    backup_folder,
    backup_name,
    look_after_backups,
    restore_backup,
)
from app.settings import read_settings
from app.sheets.backup_words import checked_words, moment_words, size_words


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Write over the file that is there.")
@click.option("--daily", is_flag=True, help="Make the day's backup in the instance folder, if it is not there yet.")
@database_option
def backup(database: str | None, file: Path | None, *, replace: bool, daily: bool) -> None:
    """Copy everything into FILE while people go on working; a folder gets a file named by date and time.

    The copy is opened and checked before it gets its name. It holds names, contacts, the Wi-Fi's passphrase and what
    people sign in with: keep it as safe as the key of the shed.

    A server that runs makes one every day by itself. Where none does, call --daily once an hour or once a day.
    """
    if daily == (file is not None):
        raise UsageFailure("Say where the backup goes: a FILE or a folder; or --daily and no file.")
    if file is None:
        _back_up_daily(database_url(database))
        return
    path = file / backup_name(time.time()) if file.is_dir() else file
    if path.exists() and not replace:
        raise UsageFailure(f"There is a file {path} already, and it stays as it is. Say --replace to write over it.")
    facts = back_up(database_url(database), path)
    click.echo(f"Wrote {path}, {size_words(facts.size_bytes)}. Checked: {checked_words(facts)}.")


def _back_up_daily(url: str) -> None:
    look = look_after_backups(url, backup_folder(read_settings().instance), time.time())
    if look is None:
        click.echo("Another process is making a backup.")
        return
    if look.made is not None and look.facts is not None:
        click.echo(f"Wrote {look.made.path}, {size_words(look.made.size_bytes)}. Checked: {checked_words(look.facts)}.")
    elif look.fault is None and look.last is not None:
        click.echo(f"None is due: the last was made on {moment_words(look.last.at)}.")
    elif look.fault is None:
        click.echo("The database holds nothing yet, so there is nothing to back up.")
    faults = [f"No backup was made: {look.fault}."] if look.fault else []
    faults += [f"The second folder got no copy: {look.second_fault}."] if look.second_fault else []
    if faults:
        raise Failure("\n".join(faults))


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--replace", is_flag=True, help="Replace what is there, once a copy of it is kept.")
@database_option
def restore(database: str | None, file: Path, *, replace: bool) -> None:
    """Put everything from the backup FILE into the database, in one step; the server may go on running.

    FILE may come from either kind of database and from an earlier version of the program. It is checked first. What
    was there before is kept in the instance folder. Afterwards nobody is signed in.
    """
    folder = backup_folder(read_settings().instance)
    try:
        restored = restore_backup(database_url(database), file, folder, time.time(), replace=replace)
    except NotEmptyError as error:
        message = "The database holds something already, and it stays as it is. Say --replace to replace all of it."
        raise UsageFailure(message) from error
    click.echo(f"Restored {file}. Checked: {checked_words(restored.facts)}.")
    if restored.before is not None:
        click.echo(f"What was there before is kept in {restored.before}.")
    click.echo("Nobody is signed in any more; people sign in as they did when the backup was made.")
