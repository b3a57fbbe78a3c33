"""How phones find the program: the page that says it, and the sheet for the door."""

from dataclasses import dataclass

from segno.helpers import make_wifi_data

from app.sheets.qr import make_pattern


@dataclass(frozen=True, kw_only=True)
class Code:
    """A code.

    Attributes:
        modules: Modules along a side. [1]
        path: The dark ones, as `app.sheets.qr.Pattern` has them.
    """

    modules: int
    path: str


@dataclass(frozen=True, kw_only=True)
class Wifi:
    """The garden's wireless network.

    Attributes:
        name: Its name.
        passphrase: Its passphrase; empty for a network without one.
        code: What a phone joins it by.
    """

    name: str
    passphrase: str
    code: Code


@dataclass(frozen=True, kw_only=True)
class DoorSheet:
    """The sheet for the door.

    Attributes:
        garden: The garden's name, or the program's.
        wifi: The network to join first; None where it is not known.
        address: What opens the program.
        code: The same as a code.
        only_here: Whether the address is known on the garden's own network alone.
        changes: Whether the address may become another one.
        printed: The day it was printed, in words.
    """

    garden: str
    wifi: Wifi | None
    address: str
    code: Code
    only_here: bool
    changes: bool
    printed: str


def make_code(text: str) -> Code:
    """Return the code of a text."""
    pattern = make_pattern(text)
    return Code(modules=pattern.modules, path=pattern.path)


def make_wifi(name: str, passphrase: str | None) -> Wifi:
    """Return a network with the code by which a phone joins it.

    Args:
        name: Its name.
        passphrase: Its passphrase, of WPA or newer; None or empty for a network that is open.
    """
    text = make_wifi_data(name, passphrase or None, "WPA" if passphrase else None)
    pattern = make_pattern.__wrapped__(text)  # nothing keeps a passphrase
    return Wifi(name=name, passphrase=passphrase or "", code=Code(modules=pattern.modules, path=pattern.path))
