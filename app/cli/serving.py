"""The server."""

import errno
import gc
import ipaddress
import signal
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import NoReturn

import click
from waitress.server import create_server

from app import LARGEST_BODY_BYTES, create_app
from app.cli.errors import Failure
from app.cli.options import database_option, database_url, garden_session, today_option
from app.services.backups import backup_folder
from app.services.daily_backups import DailyBackups
from app.services.levelling import end_silent_levellings
from app.services.levelling_children import end_children
from app.settings import read_settings
from app.sheets.words import day_year

THREADS = 8
# A browser holds up to six connections open, and idle ones must not keep others out.
CONNECTIONS = 500
IDLE_SECONDS = 30
# What looks for a plan that fits may take so long to keep its best so far.
CHILDREN_SECONDS = 5


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", type=click.IntRange(1, 65535), help="Port to listen on; by default PORT, else 5000.")
@today_option
@database_option
def serve(database: str | None, today: datetime | None, host: str, port: int | None) -> None:
    """Serve the garden's pages until it is stopped with Ctrl-C."""
    settings = replace(read_settings(), database_url=database_url(database))
    settings = replace(settings, port=port or settings.port, today=today.date() if today else settings.today)
    with garden_session(database) as session:  # brings the schema up to date
        end_silent_levellings(session)
    application = create_app(settings)
    try:
        server = create_server(
            application,
            host=host,
            port=settings.port,
            threads=THREADS,
            connection_limit=CONNECTIONS,
            channel_timeout=IDLE_SECONDS,
            max_request_body_size=LARGEST_BODY_BYTES,
        )
    except (OSError, ValueError) as error:
        raise Failure(_why_not(error, host, settings.port)) from error
    signal.signal(signal.SIGTERM, _stop)
    gc.collect()
    gc.freeze()  # what is loaded by now stays: looking through it again only makes some requests slow
    if not _is_loopback(host):
        click.echo("There are no accounts yet: whoever reaches this address can change everything.", err=True)
    if settings.today is not None:
        click.echo(f"Today is taken to be {day_year(settings.today)}.")
    shown = f"[{host}]" if ":" in host else host
    with suppress(SystemExit):  # told to stop before the loop began
        click.echo(f"Traymates is at http://{shown}:{settings.port}  (Ctrl-C stops it)")
        backups = DailyBackups(settings.database_url, backup_folder(settings.instance))
        server.run()
        backups.stop()
    end_children(CHILDREN_SECONDS)
    click.echo("Stopped.")


def _stop(_number: int, _frame: object) -> NoReturn:
    """End the server's loop; requests that have begun are finished."""
    raise SystemExit(0)


def _why_not(error: Exception, host: str, port: int) -> str:
    if isinstance(error, OSError) and error.errno == errno.EADDRINUSE:
        return f"Port {port} is taken: another program listens there. Stop it, or choose one with --port or PORT."
    if isinstance(error, OSError) and error.errno == errno.EACCES:
        return f"Port {port} needs special rights on this computer; choose one above 1023."
    return f"This computer cannot listen on {host}, port {port}."


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
