"""Passphrases and PINs: what makes a good one, and their hashes."""

import threading
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from itertools import pairwise

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from app.language import _
from app.storage.published import SEED_DATA

LEAST_LETTERS, MOST_LETTERS = 10, 128
PIN_DIGITS = range(4, 9)
# One hash takes 20 ms and 19 MB: so many at once may wait for it, and others are told to come again, since
# whoever waits keeps a thread from those who are signed in.
WAITING = 3
# The second recommended choice of the OWASP Password Storage Cheat Sheet: argon2id with 19 MiB, t = 2, p = 1.
_hasher = PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1)
_waiting = threading.BoundedSemaphore(WAITING)
_hashing = threading.Lock()


class BusyError(Exception):
    """Too many are signing in at this moment."""


class WeakPassphraseError(ValueError):
    """A passphrase or PIN that would be guessed; the message says what would be right."""


def check_passphrase(text: str, about: Iterable[str] = ()) -> None:
    """Refuse a passphrase that would be guessed.

    Args:
        text: The passphrase.
        about: Words that everybody would try first, such as the person's and the garden's name.

    Raises:
        WeakPassphraseError: It is too short, too long, well known, or hardly more than one of these words.
    """
    plain = comparable(text)
    if len(text) < LEAST_LETTERS:
        raise WeakPassphraseError(
            _("Use at least %(least)s letters; three or four words are easy to remember.", least=LEAST_LETTERS)
        )
    if len(text) > MOST_LETTERS:
        raise WeakPassphraseError(_("Use at most %(most)s letters.", most=MOST_LETTERS))
    if plain in _common() or len(set(plain)) < LEAST_LETTERS // 2:
        raise WeakPassphraseError(
            _("This one is tried first by whoever guesses. Take three or four words that are yours.")
        )
    for word in map(comparable, about):
        rest = plain.replace(word, "") if word else plain
        if len(rest) < LEAST_LETTERS // 2:
            raise WeakPassphraseError(_("This is little more than a name that others know. Add other words."))


def check_pin(text: str) -> None:
    """Refuse a PIN that would be guessed.

    Raises:
        WeakPassphraseError: It is no 4 to 8 digits, all the same or in a row.
    """
    if not (text.isascii() and text.isdigit() and len(text) in PIN_DIGITS):
        raise WeakPassphraseError(_("A PIN has 4 to 8 digits."))
    steps = {int(after) - int(before) for before, after in pairwise(text)}
    if steps in ({0}, {1}, {-1}):
        raise WeakPassphraseError(_("Digits that are all the same or in a row are tried first. Mix them."))


def comparable(text: str) -> str:
    """Return a text as two of them are compared: of one size, and each letter written one way."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())


def hash_secret(text: str) -> str:
    """Return the hash of a passphrase or PIN.

    Raises:
        BusyError: Too many are being hashed.
    """
    with _turn():
        return _hasher.hash(unicodedata.normalize("NFC", text))


def is_right(text: str, known: str | None) -> bool:
    """Return whether a passphrase or PIN is the one whose hash is known; without one, say no after as long.

    Raises:
        BusyError: Too many are being hashed.
    """
    with _turn():
        try:
            _hasher.verify(known or _nobodys(), unicodedata.normalize("NFC", text))
        except (VerificationError, InvalidHashError):
            return False
        return known is not None


def hash_anew(text: str, known: str) -> str | None:
    """Return the hash of a passphrase or PIN that is right, if it should cost more by now; None if not.

    Raises:
        BusyError: Too many are being hashed.
    """
    return hash_secret(text) if _hasher.check_needs_rehash(known) else None


@cache
def _common() -> frozenset[str]:
    """Return what people take when they are asked for ten letters (common practice, from memory)."""
    return frozenset((SEED_DATA / "common_passphrases.txt").read_text(encoding="utf-8").split())


@cache
def _nobodys() -> str:
    return _hasher.hash("what nobody has")


@contextmanager
def _turn() -> Iterator[None]:
    if not _waiting.acquire(blocking=False):
        raise BusyError
    try:
        with _hashing:
            yield
    finally:
        _waiting.release()
