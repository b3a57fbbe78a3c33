"""Serving from several processes, for PostgreSQL and behind a proxy that takes requests in whole."""

import gc
import os
import signal
import sys
from typing import TYPE_CHECKING, Any

from gunicorn.app.base import BaseApplication

from app import create_app
from app.cli.letters import begin_letters
from app.logs import log_config
from app.services.backups import backup_folder
from app.services.daily_backups import DailyBackups
from app.services.levelling_children import end_children
from app.settings import Settings

if TYPE_CHECKING:
    from types import FrameType

    from flask import Flask
    from gunicorn.arbiter import Arbiter
    from gunicorn.workers.base import Worker

THREADS = 4
SILENT_SECONDS = 60
ENDING_SECONDS = 30
KEPT_OPEN_SECONDS = 5
CHILDREN_SECONDS = 5


class Workers(BaseApplication):  # type: ignore[misc]  # the library comes without types
    """Several processes with several threads each; every one makes its application, and so its connections, itself."""

    def __init__(self, settings: Settings, workers: int, log: str) -> None:
        """Keep what each of them is made from.

        Args:
            settings: As the command has them.
            workers: How many processes. [1]
            log: What is logged, as `app.logs.log_config` takes it.
        """
        self.settings, self.workers, self.log = settings, workers, log
        super().__init__()

    def load_config(self) -> None:
        """Set what differs from the library's own defaults."""
        host = f"[{self.settings.host}]" if ":" in self.settings.host else self.settings.host
        options: dict[str, Any] = {
            "bind": f"{host}:{self.settings.port}",
            "workers": self.workers,
            "worker_class": "gthread",
            "threads": THREADS,
            "timeout": SILENT_SECONDS,
            "graceful_timeout": ENDING_SECONDS,
            "keepalive": KEPT_OPEN_SECONDS,
            # A connection to the database, or a thread, must not be shared by a fork.
            "preload_app": False,
            # Who says what a proxy would say is not believed here; the application believes as many as it is told.
            "forwarded_allow_ips": "",
            "control_socket_disable": True,
            "logconfig_dict": log_config(self.log),
            "when_ready": end_gently,
            "post_worker_init": self.settle,
            "worker_exit": end_searches,
        }
        for name, value in options.items():
            self.cfg.set(name, value)

    def load(self) -> "Flask":
        """Make the application of a worker, in the worker."""
        return create_app(self.settings)

    def settle(self, _worker: "Worker") -> None:
        """Begin what runs beside the requests of a worker, and leave Ctrl-C to the process that is in charge."""
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # a terminal sends it to every process
        gc.collect()
        gc.freeze()  # what is loaded by now stays: looking through it again only makes some requests slow
        DailyBackups(self.settings.database_url, backup_folder(self.settings.instance))
        begin_letters(self.settings)


def end_gently(_arbiter: "Arbiter") -> None:
    """Let Ctrl-C finish what has begun, as SIGTERM does; a second one breaks it off."""
    at_once = signal.getsignal(signal.SIGINT)

    def ask(_number: int, _frame: "FrameType | None") -> None:
        signal.signal(signal.SIGINT, at_once)
        os.kill(os.getpid(), signal.SIGTERM)

    signal.signal(signal.SIGINT, ask)


def end_searches(_arbiter: "Arbiter", _worker: "Worker") -> None:
    """Stop the searches that a worker let run, with their best so far."""
    end_children(CHILDREN_SECONDS)


def serve_by_workers(settings: Settings, workers: int, log: str) -> None:
    """Serve until Ctrl-C or SIGTERM.

    Args:
        settings: As the command has them; the schema of the database is up to date.
        workers: How many processes. [1]
        log: What is logged, as `app.logs.log_config` takes it.
    """
    in_charge = os.getpid()
    arguments, sys.argv = sys.argv, sys.argv[:1]  # the library would read them as its own
    try:
        Workers(settings, workers, log).run()
    except SystemExit as stopped:
        if os.getpid() != in_charge or stopped.code:
            raise
    finally:
        sys.argv = arguments
