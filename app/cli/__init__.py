"""The `traymates` command."""

import sys

import click

from app.cli.backup import backup, restore
from app.cli.check import check
from app.cli.errors import Commands
from app.cli.fit import fit
from app.cli.folder import demo, dump, load
from app.cli.moving import copy
from app.cli.people import invite_person
from app.cli.season_end import next_season
from app.cli.serving import serve
from app.cli.tables import deadlines, frost, ledger, season
from app.cli.trays import trays


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
def main() -> None:
    """Sowing deadlines, trays and shelf space of a community garden's seedling program.

    Exit status: 0 done, 1 the garden's data or its database is at fault, 2 wrong usage.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # a name that the terminal cannot show stops nothing


for _command in (
    check,
    demo,
    serve,
    load,
    dump,
    frost,
    season,
    deadlines,
    ledger,
    trays,
    fit,
    copy,
    backup,
    restore,
    next_season,
    invite_person,
):
    main.add_command(_command)
