"""The order of a long list: it stands in the address as `sort=plants`, or `sort=-plants` for the largest first."""

from dataclasses import dataclass
from typing import Any

from flask import request, url_for

DOWN = "-"  # before the key


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column of a list.

    Attributes:
        words: Its head.
        key: What the list is ordered by in it; empty where it cannot be.
        down: The largest come first when it is chosen.
        shape: Class of its cells, such as `n` for figures.
    """

    words: str
    key: str = ""
    down: bool = False
    shape: str = ""


@dataclass(frozen=True, kw_only=True)
class Ordering:
    """How a list is ordered; templates know it as `ordering`.

    Attributes:
        columns: All columns, in the order of the page.
        key: Of the column that it is ordered by.
        down: The largest, latest or last come first.
        is_usual: It is the order that the list has without being asked.
    """

    columns: tuple[Column, ...]
    key: str
    down: bool
    is_usual: bool

    @property
    def value(self) -> str | None:
        """Return what stands in the address; None where nothing has to."""
        return None if self.is_usual else _value(self.key, down=self.down)

    def address(self, column: Column) -> str:
        """Return this address ordered by a column, the other way round if it is so already; filters stay."""
        down = not self.down if column.key == self.key else column.down
        kept = {key: value for key, value in request.args.items() if key not in {"page", "sort"} and value}
        values: dict[str, Any] = {**kept, **(request.view_args or {}), "sort": _value(column.key, down=down)}
        return url_for(str(request.endpoint), **values)


def read_ordering(columns: tuple[Column, ...], usual_key: str) -> Ordering:
    """Return the order that the address asks for; without one that there is, the usual one.

    Args:
        columns: All columns of the list.
        usual_key: By which of them it is ordered without being asked.
    """
    text = request.args.get("sort", "")
    usual = next(column for column in columns if column.key == usual_key)
    chosen = next((column for column in columns if column.key and column.key == text.removeprefix(DOWN)), None)
    if chosen is None:
        return Ordering(columns=columns, key=usual.key, down=usual.down, is_usual=True)
    down = text.startswith(DOWN)
    return Ordering(columns=columns, key=chosen.key, down=down, is_usual=chosen is usual and down == usual.down)


def _value(key: str, *, down: bool) -> str:
    return f"{DOWN}{key}" if down else key
