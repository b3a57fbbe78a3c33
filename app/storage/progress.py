"""How far a long piece of work has come, for whoever waits for it."""

from collections.abc import Callable

# Is called with the rows done so far and the rows in all.
Tell = Callable[[int, int], None]


def silent(_done: int, _total: int) -> None:
    """Tell nobody."""


class Progress:
    """Adds up what is done and tells of it."""

    def __init__(self, tell: Tell, total: int) -> None:
        """Take whom to tell, and the rows in all."""
        self._tell = tell
        self._total = total
        self._done = 0

    def add(self, rows: int) -> None:
        """Count rows that are done."""
        self._done += rows
        self._tell(self._done, self._total)
