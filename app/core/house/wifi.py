"""What may be a name and a passphrase of a wireless network."""

import re

from app.core.errors import CoreError
from app.language import _

LONGEST_NAME_BYTES = 32  # IEEE 802.11-2020, 9.4.2.2
# IEEE 802.11-2020, annex J.4: 8 to 63 characters that ASCII can print, or the key itself as 64 hexadecimal digits.
LONGEST_PASSPHRASE = 63
PASSPHRASE = re.compile(r"[\x20-\x7e]{8,63}|[0-9A-Fa-f]{64}")


class WifiError(CoreError):
    """What was given is no name or no passphrase of a Wi-Fi; the message says what would be right."""


def require_wifi_name(name: str) -> None:
    """Raise WifiError unless a network can have this name."""
    size = len(name.encode())
    if not 1 <= size <= LONGEST_NAME_BYTES:
        raise WifiError(
            _("The name takes %(size)s bytes; a Wi-Fi’s has %(most)s at most.", size=size, most=LONGEST_NAME_BYTES)
        )


def require_wifi_passphrase(passphrase: str) -> None:
    """Raise WifiError unless a network can have this passphrase."""
    if not PASSPHRASE.fullmatch(passphrase):
        raise WifiError(
            _(
                "A Wi-Fi’s passphrase has 8 to %(most)s letters without accents, digits, signs and blanks.",
                most=LONGEST_PASSPHRASE,
            )
        )
