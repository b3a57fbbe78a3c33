"""Finished pages, kept in the process while nothing that they are made from has changed."""

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps

from flask import Flask, Response, current_app, g, request, session
from flask.typing import ResponseReturnValue

from app.extensions import db
from app.language import language
from app.storage.queries.version import get_mark
from app.web.access import view_key
from app.web.context import current_day

LIMIT_BYTES = 24 * 1024 * 1024
# What a page weighs beside its body: key, headers and the objects that hold them, about.
OVERHEAD_BYTES = 1024
FLASHES = "_flashes"  # where Flask's session holds messages that wait to be shown
TOKEN = "csrf_token"  # noqa: S105 - where Flask-WTF notes that the page holds a token

Key = tuple[str, str, str, str]
View = Callable[..., ResponseReturnValue]


@dataclass(frozen=True)
class KeptPage:
    """A finished answer: its body, its headers and the tag by which a browser knows it."""

    body: bytes
    headers: tuple[tuple[str, str], ...]
    etag: str

    @property
    def size_bytes(self) -> int:
        """What it takes in memory, about."""
        return len(self.body) + OVERHEAD_BYTES


class KeptPages:
    """Pages by what they depend on; the one asked for longest ago goes first when room is short."""

    def __init__(self, limit_bytes: int = LIMIT_BYTES) -> None:
        """Start empty, with room for so many bytes."""
        self.limit_bytes = limit_bytes
        self.size_bytes = 0
        self._pages: OrderedDict[Key, KeptPage] = OrderedDict()
        self._lock = threading.Lock()

    def __len__(self) -> int:
        """Return how many pages are kept."""
        return len(self._pages)

    def find(self, key: Key) -> KeptPage | None:
        """Return the page that was kept under this key, or None."""
        with self._lock:
            page = self._pages.get(key)
            if page is not None:
                self._pages.move_to_end(key)
            return page

    def keep(self, key: Key, page: KeptPage) -> None:
        """Keep a page; one that alone would fill the room is not kept."""
        if page.size_bytes > self.limit_bytes:
            return
        with self._lock:
            self._drop(key)
            self._pages[key] = page
            self.size_bytes += page.size_bytes
            while self.size_bytes > self.limit_bytes:
                self._drop(next(iter(self._pages)))

    def _drop(self, key: Key) -> None:
        page = self._pages.pop(key, None)
        self.size_bytes -= page.size_bytes if page else 0


def init_app(app: Flask) -> None:
    """Give the application its room for kept pages."""
    app.extensions["kept_pages"] = KeptPages()


def kept(view: View) -> View:
    """Keep the answers of a view that depend on nothing but data, day, address and who may see what.

    Whether the data has changed is asked of the database, in one query: the mark there is a new one after
    every change, whichever process made it. The query begins the transaction in which the view then reads,
    so a page is never kept under a mark that is newer or older than its data. A page that shows messages or
    holds the token of a form is one person's, and is made anew each time.
    """
    return kept_with(str)(view)


def kept_with(beside: Callable[[], str]) -> Callable[[View], View]:
    """Keep the answers of a view as `kept` does, where they also depend on what a function tells at that moment."""

    def keep(view: View) -> View:
        @wraps(view)
        def answer(*args: object, **kwargs: object) -> Response:
            if FLASHES in session:
                return _for_one_person(current_app.make_response(view(*args, **kwargs)))
            pages: KeptPages = current_app.extensions["kept_pages"]
            address = request.script_root + request.full_path
            key = (get_mark(db.session), current_day().isoformat(), view_key() + beside() + language(), address)
            page = pages.find(key)
            if page is None:
                response = current_app.make_response(view(*args, **kwargs))
                if response.status_code != 200 or TOKEN in g or session.modified:  # noqa: PLR2004 - what is kept
                    return _for_one_person(response)
                page = _finished(response)
                pages.keep(key, page)
            return _answer(page)

        return answer

    return keep


def _finished(response: Response) -> KeptPage:
    body = response.get_data()
    tag = hashlib.blake2b(body, digest_size=16).hexdigest()
    return KeptPage(body, tuple(response.headers), tag)


def _answer(page: KeptPage) -> Response:
    """Return a page, or that the browser has it already."""
    response = Response(page.body, headers=list(page.headers))
    _ask_each_time(response)
    response.set_etag(page.etag, weak=True)
    response.make_conditional(request)
    return response


def _for_one_person(response: Response) -> Response:
    _ask_each_time(response)
    return response


def _ask_each_time(response: Response) -> None:
    response.headers["Cache-Control"] = "private, no-cache"
