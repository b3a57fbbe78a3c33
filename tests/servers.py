"""Ports and waiting for servers that a test starts as processes of their own."""

import socket
import time


def free_port():
    """Return a port on which nobody listens."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(port, *, seconds=20):
    """Wait until somebody listens on a port."""
    end = time.monotonic() + seconds
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            if time.monotonic() > end:
                raise
            time.sleep(0.05)
        else:
            return
