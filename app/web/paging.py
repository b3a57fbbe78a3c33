"""Long lists, a page at a time, with the page in the address."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any, TypeVar

from flask import request, url_for

from app.storage.queries.rows import PAGE_ROWS

Row = TypeVar("Row")


@dataclass(frozen=True, kw_only=True)
class Paging:
    """Where a page stands in a long list; templates know it as `paging`.

    Attributes:
        page: Number of this page, from 1.
        pages: How many there are.
        total: Rows on all of them.
        rows: The most rows on one.
    """

    page: int
    pages: int
    total: int
    rows: int = PAGE_ROWS

    @property
    def first(self) -> int:
        """Number of the first row on this page, 0 in an empty list."""
        return min(self.total, (self.page - 1) * self.rows + 1)

    @property
    def last(self) -> int:
        """Number of the last row on this page."""
        return min(self.total, self.page * self.rows)

    def cut(self, rows: Sequence[Row]) -> Sequence[Row]:
        """Return those of all rows that stand on this page."""
        return rows[(self.page - 1) * self.rows : self.page * self.rows]

    @property
    def previous(self) -> str | None:
        """Address of the page before."""
        return self._address(self.page - 1) if self.page > 1 else None

    @property
    def next(self) -> str | None:
        """Address of the page after."""
        return self._address(self.page + 1) if self.page < self.pages else None

    def _address(self, page: int) -> str:
        """Return this address with another page; search and order stay."""
        kept = {key: value for key, value in request.args.items() if key != "page" and value}
        values: dict[str, Any] = {**kept, **(request.view_args or {}), "page": page}
        return url_for(str(request.endpoint), **values)


def read_paging(total: int, rows: int = PAGE_ROWS) -> Paging:
    """Return where the address stands in a list; past its end, the last page.

    Args:
        total: Rows of the whole list.
        rows: The most rows on one page.
    """
    pages = max(1, ceil(total / rows))
    return Paging(page=max(1, min(pages, read_number("page") or 1)), pages=pages, total=total, rows=rows)


def read_number(name: str) -> int | None:
    """Return a whole number from the address, or None where there is none that a row could have."""
    text = request.args.get(name, "")
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= len("999999999") else None
