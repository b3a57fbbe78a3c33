"""What the program writes about itself: one JSON object a line on the standard error, and nothing about people.

Of a message only the words that stand in this program are written, with the numbers in it; of an error its kind and
where it happened. What somebody typed, a name, an address inside the program with what it holds, a cookie: none can
get into a line, whatever went wrong.
"""

import json
import logging
import logging.config
import re
import traceback
from contextvars import ContextVar
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
# Messages of these files are words with numbers in them, and say nothing about people.
OWN = (str(Path(__file__).resolve().parent), str(Path("gunicorn", "arbiter.py")))
PLACES = 12  # of the innermost calls of an error
REQUESTS = "traymates.requests"
FIELDS = "fields"  # the extra of a record that is written as it stands
PLACEHOLDER = re.compile(r"%(?:\([^)]*\))?[-#0 +]*[0-9.*]*[a-zA-Z]")
LEVELS = {"requests": logging.INFO, "errors": logging.WARNING, "nothing": logging.CRITICAL + 1}

request_id: ContextVar[str | None] = ContextVar("request_id", default=None)


class JsonFormatter(logging.Formatter):
    """Writes a record as one line of JSON without anything that came from outside the program."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        line: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "from": record.name,
        }
        fields = getattr(record, FIELDS, None)
        if isinstance(fields, dict):
            line |= fields
        elif (words := _words(record)) is not None:
            line["words"] = words
        if record.exc_info and record.exc_info[1] is not None:
            line |= _error(record.exc_info[1])
        if "id" not in line and (current := request_id.get()) is not None:
            line["id"] = current
        return json.dumps(line, ensure_ascii=True)


def log_config(kind: str) -> dict[str, Any]:
    """Return the configuration of `logging` for requests and errors, errors alone, or nothing.

    Args:
        kind: `requests`, `errors` or `nothing`.
    """
    level = LEVELS[kind]
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"json": {"()": f"{__name__}.{JsonFormatter.__name__}"}},
        "handlers": {
            "stderr": {"class": "logging.StreamHandler", "formatter": "json", "stream": "ext://sys.stderr"},
        },
        "root": {"level": max(level, logging.WARNING), "handlers": ["stderr"]},
        "loggers": {
            REQUESTS: {"level": level},
            "waitress.queue": {"level": max(level, logging.ERROR)},  # busy for a moment is no fault
            "gunicorn.error": {"level": max(level, logging.WARNING), "handlers": [], "propagate": True},
            "gunicorn.access": {"level": logging.CRITICAL, "handlers": [], "propagate": False},
        },
    }


def set_up_logs(kind: str) -> None:
    """Write this process's log so from here on.

    Args:
        kind: `requests`, `errors` or `nothing`.
    """
    logging.config.dictConfig(log_config(kind))


def _words(record: logging.LogRecord) -> str | None:
    """Return what a message of the program itself says; of another's none, since it may hold anything."""
    if not (record.pathname.startswith(OWN[0]) or record.pathname.endswith(OWN[1])) or not isinstance(record.msg, str):
        return None
    arguments = iter(record.args if isinstance(record.args, tuple) else ())
    return PLACEHOLDER.sub(lambda _found: _shown(next(arguments, None)), record.msg)


def _shown(argument: object) -> str:
    if isinstance(argument, int | float):
        return str(argument)
    if isinstance(argument, BaseException):
        return type(argument).__name__
    return "…"


def _error(error: BaseException) -> dict[str, Any]:
    """Return the kinds of an error and of what led to it, and where it happened, innermost last."""
    kinds: list[str] = []
    cause: BaseException | None = error
    while cause is not None and len(kinds) < PLACES:
        kinds.append(f"{type(cause).__module__}.{type(cause).__qualname__}")
        cause = cause.__cause__ or (None if cause.__suppress_context__ else cause.__context__)
    found: dict[str, Any] = {"error": kinds[0], "places": _places(error.__traceback__)}
    if len(kinds) > 1:
        found["because"] = kinds[1:]
    if isinstance(error, OSError) and error.errno is not None:
        found["errno"] = error.errno
    return found


def _places(trace: TracebackType | None) -> list[str]:
    frames = [frame.f_code.co_filename + f":{line} {frame.f_code.co_name}" for frame, line in traceback.walk_tb(trace)]
    return [_short(place) for place in frames[-PLACES:]]


def _short(place: str) -> str:
    """Return a place without the folders in which the program is installed."""
    if place.startswith(str(ROOT / "app")):
        return place[len(str(ROOT)) + 1 :].replace("\\", "/")
    return place.replace("\\", "/").rpartition("site-packages/")[2].rpartition("/lib/")[2]
