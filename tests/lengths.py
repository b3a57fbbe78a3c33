"""How long tests go on: ten times as long in `make soak` as in `make test`."""

import os
from zlib import crc32

from hypothesis import settings

SOAK = os.environ.get("TRAYMATES_SOAK") == "1"
TIMES = 10 if SOAK else 1

# No deadline: the first solve of a packing loads the solver. The usual examples are the same on every
# machine; a soak draws new ones each time.
settings.register_profile("usual", max_examples=100 * TIMES, deadline=None, derandomize=not SOAK, database=None)


def is_of_a_tenth(name):
    """Return whether something is among the tenth of its kind that `make test` looks at: always the same ones."""
    return crc32(name.encode()) % 10 == 0
