"""What the program is told by its surroundings, read once at the start."""

import os
import re
import secrets
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from app.core.house.address import AddressError, read_address

DEFAULT_PORT = 5000
LAST_PORT = 65535
PORT_DIGITS = re.compile("[0-9]{1,5}")
LOOPBACK = "127.0.0.1"
MOST_PROXIES = 5
KEY_FILE = "secret_key"
KEY_BYTES = 32


class SettingsError(ValueError):
    """A setting in the environment cannot be used; the message says what would be right."""


@dataclass(frozen=True, kw_only=True)
class Settings:
    """Everything that may differ from one machine to the next.

    Attributes:
        database_url: Where the garden is stored, as SQLAlchemy writes addresses.
        instance: Folder for the database and the secret key of this machine.
        port: Port that the server listens on. [1 to 65535]
        today: The day that the program takes for today; None for the real one.
        secret_key: Signs session cookies; None for the one kept in the instance folder.
        public_url: The address under which phones reach the program, for what is printed; None for the one
            entered on its page, if any.
        host: Address of this machine that the server listens on.
        trusted_proxies: How many proxies stand before the server, each of which says whom it asks for. [1]
    """

    database_url: str
    instance: Path
    port: int = DEFAULT_PORT
    today: date | None = None
    secret_key: str | None = None
    public_url: str | None = None
    host: str = LOOPBACK
    trusted_proxies: int = 0


def read_settings(environ: Mapping[str, str] = os.environ) -> Settings:
    """Return the settings found in the environment.

    Args:
        environ: DATABASE_URL, PORT, PUBLIC_URL, TRUSTED_PROXY, TRAYMATES_INSTANCE, TRAYMATES_TODAY (year-month-day)
            and TRAYMATES_SECRET_KEY are read; one that is missing or empty takes its default.

    Raises:
        SettingsError: A value cannot be used.
    """
    instance = Path(environ.get("TRAYMATES_INSTANCE") or Path(__file__).parent.parent / "instance").absolute()
    return Settings(
        database_url=environ.get("DATABASE_URL") or f"sqlite:///{(instance / 'traymates.sqlite3').as_posix()}",
        instance=instance,
        port=_port(environ.get("PORT") or str(DEFAULT_PORT)),
        today=_day(environ.get("TRAYMATES_TODAY") or None),
        secret_key=_key(environ.get("TRAYMATES_SECRET_KEY") or None),
        public_url=_public_url(environ.get("PUBLIC_URL") or None),
        trusted_proxies=_proxies(environ.get("TRUSTED_PROXY") or "0"),
    )


def kept_secret_key(instance: Path) -> str:
    """Return the secret key kept in the instance folder, making it at the first start.

    The key is written aside and then linked into place, so that of several processes that start at
    once all end up with the same, whole key.

    Args:
        instance: The folder; made if it is missing.

    Raises:
        SettingsError: The file is there but holds no key.
    """
    path = instance / KEY_FILE
    if not path.exists():
        instance.mkdir(parents=True, exist_ok=True)
        _place_new_key(path)
    key = path.read_text(encoding="ascii").strip()
    if len(key) < KEY_BYTES:
        raise SettingsError(
            f"{KEY_FILE} in the instance folder holds no key. Remove the file; a new one is made at the next start."
        )
    return key


def _place_new_key(path: Path) -> None:
    handle, aside = tempfile.mkstemp(dir=path.parent)  # mkstemp gives owner-only permissions (0600)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secrets.token_hex(KEY_BYTES))
            file.flush()
            os.fsync(file.fileno())
        os.link(aside, path)
    except FileExistsError:
        pass  # another process was first
    finally:
        Path(aside).unlink()


def _port(text: str) -> int:
    if not (PORT_DIGITS.fullmatch(text) and 1 <= int(text) <= LAST_PORT):
        raise SettingsError(
            f"PORT is {text!r}; it must be a whole number from 1 to {LAST_PORT}, such as {DEFAULT_PORT}."
        )
    return int(text)


def _proxies(text: str) -> int:
    if not (PORT_DIGITS.fullmatch(text) and int(text) <= MOST_PROXIES):
        raise SettingsError(
            f"TRUSTED_PROXY is {text!r}; it must be how many proxies stand before the server, 0 to {MOST_PROXIES}. "
            "With one, set it to 1."
        )
    return int(text)


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise SettingsError(
            f"TRAYMATES_TODAY is {text!r}; it must be a day as year-month-day, such as 2027-04-10."
        ) from None


def _public_url(text: str | None) -> str | None:
    if text is None:
        return None
    try:
        return read_address(text)
    except AddressError as error:
        raise SettingsError(f"PUBLIC_URL is {text!r}. {error}") from None


def _key(text: str | None) -> str | None:
    if text is not None and len(text) < KEY_BYTES:
        raise SettingsError(
            f"TRAYMATES_SECRET_KEY has {len(text)} characters; it must have at least {KEY_BYTES}, best random ones."
        )
    return text
