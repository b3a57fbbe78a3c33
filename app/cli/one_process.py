"""Serving from one process with several threads, until it is told to stop."""

import select
import signal
import time
from typing import TYPE_CHECKING, Any

from waitress import wasyncore
from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer, create_server

from app import LARGEST_BODY_BYTES
from app.settings import Settings

if TYPE_CHECKING:
    from types import FrameType

    from flask import Flask

THREADS = 8
# A browser holds up to six connections open, and idle ones must not keep others out.
CONNECTIONS = 500
IDLE_SECONDS = 30
# Requests that run when the server is told to stop may take so long to end.
ENDING_SECONDS = 30.0
LOOK_SECONDS = 0.5


class Server:
    """Listens from when it is made; told to stop, it takes nothing new and ends what has begun."""

    def __init__(self, application: "Flask", settings: Settings) -> None:
        """Listen.

        Raises:
            OSError, ValueError: This computer cannot listen there.
        """
        self._sockets: dict[int, Any] = {}
        self._asked = 0
        self._server = create_server(
            application,
            map=self._sockets,
            host=settings.host,
            port=settings.port,
            threads=THREADS,
            connection_limit=CONNECTIONS,
            channel_timeout=IDLE_SECONDS,
            max_request_body_size=LARGEST_BODY_BYTES,
            ident=None,
            clear_untrusted_proxy_headers=settings.trusted_proxies == 0,
        )

        self._listening = self._of(BaseWSGIServer)
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, self._stop)

    def run(self) -> None:
        """Serve until Ctrl-C or SIGTERM, which may have come already; a second one ends what still runs."""
        while not self._asked:
            self._look(LOOK_SECONDS)
        for listening in self._listening:
            wasyncore.dispatcher.close(listening)  # its own close would take what wakes the loop along
        end = time.monotonic() + ENDING_SECONDS
        while self._asked < 2 and self._is_busy() and time.monotonic() < end:  # noqa: PLR2004 - the second time
            self._look(LOOK_SECONDS)
        self._server.task_dispatcher.shutdown(cancel_pending=True, timeout=1)

    def _stop(self, _number: int, _frame: "FrameType | None") -> None:
        self._asked += 1
        self._listening[0].pull_trigger()

    def _look(self, seconds: float) -> None:
        wasyncore.loop(timeout=seconds, use_poll=hasattr(select, "poll"), map=self._sockets, count=1)

    def _is_busy(self) -> bool:
        return any(channel.requests or channel.total_outbufs_len for channel in self._of(HTTPChannel))

    def _of(self, kind: type) -> list[Any]:
        return [one for one in list(self._sockets.values()) if isinstance(one, kind)]
