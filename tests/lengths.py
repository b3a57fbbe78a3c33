"""How long tests go on: what takes long runs whole in `make soak`, and at about a tenth in `make test`.

A test says so by `TIMES` for what is drawn, by `every` for cases that are counted, and by `is_taken` for cases that
have a name. Those that `make test` takes are always the same.
"""

import os
from zlib import crc32

from hypothesis import settings

SOAK = os.environ.get("TRAYMATES_SOAK") == "1"
TIMES = 10 if SOAK else 1

# No deadline: the first solve of a packing loads the solver. The usual examples are the same on every
# machine; a soak draws new ones each time.
settings.register_profile("usual", max_examples=100 * TIMES, deadline=None, derandomize=not SOAK, database=None)


def every(step):
    """Return the step from one case that is taken to the next: 1 in a soak."""
    return 1 if SOAK else step


def is_taken(name, step=10):
    """Return whether the case of a name is one of those that are taken: all in a soak, or one of about `step`."""
    return crc32(name.encode()) % every(step) == 0
