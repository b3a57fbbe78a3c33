"""The server."""

import errno
import gc
import socket
import sys
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime

import click

from app import create_app
from app.cli.errors import Failure, UsageFailure
from app.cli.letters import begin_letters
from app.cli.one_process import Server
from app.cli.options import database_option, database_url, garden_session, today_option
from app.logs import LEVELS, set_up_logs
from app.network import EVERY_IP, EVERY_IP4, is_loopback, working_addresses
from app.services.accounts import NewSlip, make_first_slip
from app.services.backups import backup_folder
from app.services.daily_backups import DailyBackups
from app.services.levelling import end_silent_levellings
from app.services.levelling_children import end_children
from app.settings import LOOPBACK, Settings, read_settings
from app.sheets.words import day_year

# What looks for a plan that fits may take so long to keep its best so far.
CHILDREN_SECONDS = 5
MOST_WORKERS = 64


@click.command()
@click.option(
    "--host",
    default=LOOPBACK,
    show_default=True,
    help="Address to listen on; 0.0.0.0 for every network that this computer is connected to.",
)
@click.option("--port", type=click.IntRange(1, 65535), help="Port to listen on; by default PORT, else 5000.")
@click.option(
    "--workers",
    type=click.IntRange(1, MOST_WORKERS),
    default=1,
    show_default=True,
    help="Processes that answer; more than one on PostgreSQL, and behind a proxy.",
)
@click.option(
    "--log",
    type=click.Choice(list(LEVELS)),
    default="errors",
    show_default=True,
    help="What is written to the standard error, one JSON object a line: each request and errors, errors, or nothing.",
)
@today_option
@database_option
def serve(*, database: str | None, today: datetime | None, host: str, port: int | None, workers: int, log: str) -> None:
    """Serve the garden's pages until it is stopped with Ctrl-C."""
    settings = replace(read_settings(), database_url=database_url(database), host=host)
    settings = replace(settings, port=port or settings.port, today=today.date() if today else settings.today)
    set_up_logs(log)
    with garden_session(database) as session:  # brings the schema up to date
        if workers > 1 and session.connection().dialect.name == "sqlite":
            raise UsageFailure("An SQLite file is served by one process. For several workers, use PostgreSQL.")
        end_silent_levellings(session)
        first = make_first_slip(session)
    if workers > 1:
        _serve_by_workers(settings, workers, log, first)
    else:
        _serve(settings, first)
    end_children(CHILDREN_SECONDS)
    click.echo("Stopped.")


def _serve(settings: Settings, first: NewSlip | None) -> None:
    application = create_app(settings)
    try:
        server = Server(application, settings)
    except (OSError, ValueError) as error:
        raise Failure(_why_not(error, settings.host, settings.port)) from error
    gc.collect()
    gc.freeze()  # what is loaded by now stays: looking through it again only makes some requests slow
    _say_where(settings, first)
    backups = DailyBackups(settings.database_url, backup_folder(settings.instance))
    letters = begin_letters(settings)
    server.run()
    backups.stop()
    if letters is not None:
        letters.stop()


def _serve_by_workers(settings: Settings, workers: int, log: str, first: NewSlip | None) -> None:
    if sys.platform == "win32":
        raise UsageFailure("Several workers need a system other than Windows; leave --workers out.")
    from app.cli.workers import serve_by_workers  # noqa: PLC0415 - its library is for no Windows

    try:
        with closing(socket.create_server((settings.host, settings.port))):
            pass  # it is free; the workers' own words for a port that is taken would be a log
    except (OSError, ValueError) as error:
        raise Failure(_why_not(error, settings.host, settings.port)) from error
    _say_where(settings, first)
    click.echo(
        f"{workers} workers answer. A proxy that takes in each request as a whole belongs before them: without one, a "
        "few slow phones keep everybody waiting (docs/operations.md)."
    )
    serve_by_workers(settings, workers, log)


def _say_where(settings: Settings, first: NewSlip | None) -> None:
    """Print the day that is taken for today, the addresses, and what a first start needs."""
    if settings.today is not None:
        click.echo(f"Today is taken to be {day_year(settings.today)}.")
    here = _here(settings)
    click.echo(f"Traymates is at {here}  (Ctrl-C stops it)")
    if first is not None:
        until = datetime.fromtimestamp(first.expires_at, UTC).astimezone()
        click.echo(
            f"Nobody can sign in yet. The first coordinator opens {settings.public_url or here}/slips/{first.token}\n"
            f"once, until {until:%H:%M} on {day_year(until.date())}; the next start gives a new link."
        )
    if settings.public_url is not None:
        click.echo(f"Phones open {settings.public_url}")
    elif is_loopback(settings.host):
        click.echo(f"Only this computer can open it. For phones, start it with --host {EVERY_IP4}.")
    elif addresses := working_addresses(settings.host, settings.port):
        click.echo("Phones on the garden’s network open " + " or ".join(addresses))
    else:
        click.echo("This computer is connected to no network, so no phone can open it.")


def _here(settings: Settings) -> str:
    host = {EVERY_IP4: LOOPBACK, EVERY_IP: "::1"}.get(settings.host, settings.host)
    return f"http://[{host}]:{settings.port}" if ":" in host else f"http://{host}:{settings.port}"


def _why_not(error: Exception, host: str, port: int) -> str:
    if isinstance(error, OSError) and error.errno == errno.EADDRINUSE:
        return f"Port {port} is taken: another program listens there. Stop it, or choose one with --port or PORT."
    if isinstance(error, OSError) and error.errno == errno.EACCES:
        return f"Port {port} needs special rights on this computer; choose one above 1023."
    return f"This computer cannot listen on {host}, port {port}."
