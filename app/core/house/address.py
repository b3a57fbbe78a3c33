"""The address under which phones reach the program: what may be one, and the address of a tray under it."""

import re
from ipaddress import ip_address
from urllib.parse import urlsplit

from app.core.errors import CoreError
from app.language import N_, _

LONGEST = 200
NAME = re.compile(r"(?=.{1,253}$)(?!-)[a-z0-9-]{1,63}(?<!-)(\.(?!-)[a-z0-9-]{1,63}(?<!-))*")
PATH = re.compile(r"(/[A-Za-z0-9._~-]+)*")
PARTS = N_("The address may hold a host, a port and a path, and nothing else, such as %(example)s.")
EXAMPLE = "http://shed.lan:5000"


class AddressError(CoreError):
    """What was given is no address that a phone could reach; the message says what would be right."""


def read_address(text: str) -> str:
    """Return an address as it is kept: scheme and host in small letters, no slash at its end.

    Args:
        text: What was given: http or https, a host, and perhaps a port and a path.

    Raises:
        AddressError: It is something else, or leads nowhere but to the machine itself.
    """
    text = text.strip()
    if len(text) > LONGEST:
        raise AddressError(
            _("The address has %(count)s characters; at most %(most)s can be kept.", count=len(text), most=LONGEST)
        )
    try:
        parts = urlsplit(text)
        host, port = parts.hostname or "", parts.port
    except ValueError:
        raise AddressError(
            _("This is no address. Write it as a browser shows it, such as %(example)s.", example=EXAMPLE)
        ) from None
    if parts.scheme not in {"http", "https"}:
        raise AddressError(_("The address must begin with http:// or https://, such as %(example)s.", example=EXAMPLE))
    netloc = f"[{host}]" if ":" in host else host
    netloc += "" if port is None else f":{port}"
    path = parts.path.rstrip("/")
    if not host or port == 0 or parts.netloc.lower() != netloc or not PATH.fullmatch(path):
        raise AddressError(_(PARTS, example=EXAMPLE))
    if text.rstrip("/") != f"{text[: len(parts.scheme)]}://{parts.netloc}{path}":  # a ? or # and what follows it
        raise AddressError(_(PARTS, example=EXAMPLE))
    _require_reachable(host)
    return f"{parts.scheme}://{netloc}{path}"


def tray_address(address: str, number: int) -> str:
    """Return the short address of a tray, which its code holds.

    In capitals where case does not matter, since codes hold capitals in less room.

    Args:
        address: The program's address, as `read_address` gives it.
        number: Number of the tray. [1]
    """
    scheme, _, rest = address.partition("://")
    host, slash, path = rest.partition("/")
    return f"{scheme.upper()}://{host.upper()}{slash}{path}/T/{number}"


def _require_reachable(host: str) -> None:
    try:
        ip = ip_address(host)
    except ValueError:
        if not NAME.fullmatch(host) or host.replace(".", "").isdecimal():
            raise AddressError(
                _(
                    "“%(host)s” is no name or number of a machine; write one such as %(example)s.",
                    host=host,
                    example=EXAMPLE,
                )
            ) from None
        reaches = not (host == "localhost" or host.endswith(".localhost"))
    else:
        reaches = not (ip.is_loopback or ip.is_unspecified or ip.is_multicast)
    if not reaches:
        raise AddressError(
            _(
                "%(host)s leads every phone to itself, not to this program. Write the name or number that this machine "
                "has on the garden’s network, such as %(example)s.",
                host=host,
                example=EXAMPLE,
            )
        )
