"""Addresses for mail, and the week of which a letter is due."""

import re
from datetime import date, datetime, timedelta

from app.core.calendar import week_start
from app.core.errors import CoreError
from app.language import _

LONGEST_ADDRESS = 200
# The letters of an unquoted local part (RFC 5321, 4.1.2), and a domain or a name of the garden's own network.
_LOCAL = re.compile(r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+(\.[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+)*")
_LABEL = r"(?!-)[A-Za-z0-9-]{1,63}(?<!-)"
_HOST = re.compile(rf"(?=.{{1,253}}$){_LABEL}(\.{_LABEL})*")
LONGEST_LOCAL = 64

SUNDAY, MONDAY, TUESDAY = 6, 0, 1
SENDING_HOUR = 15


class MailAddressError(CoreError):
    """What was given is no address for mail, or no mail server; the message says what would be right."""


def read_mail_address(text: str) -> str:
    """Return an address for mail as it is kept, its domain in small letters; names outside ASCII by IDNA.

    Args:
        text: What was given, such as `ada@example.org`.

    Raises:
        MailAddressError: It is something else.

    Source:
        RFC 5321, 4.1.2 and 4.5.3.1, without quoted names and addresses in brackets, which nobody has.
    """
    local, at, domain = text.strip().rpartition("@")
    if not at or len(local) > LONGEST_LOCAL or not _LOCAL.fullmatch(local):
        raise MailAddressError(_("This is no address for mail. Write it in full, such as ada@example.org."))
    try:
        host = read_mail_host(domain)
    except MailAddressError:
        raise MailAddressError(
            _("What follows the @ is no name on the internet. Write the address in full, such as ada@example.org.")
        ) from None
    if len(local) + 1 + len(host) > LONGEST_ADDRESS:
        raise MailAddressError(
            _("The address is longer than %(most)s characters; none so long can be kept.", most=LONGEST_ADDRESS)
        )
    return f"{local}@{host}"


def read_mail_host(text: str) -> str:
    """Return the name or number of a mail server in small letters, names outside ASCII by IDNA.

    Raises:
        MailAddressError: It is something else.
    """
    try:
        host = text.strip().rstrip(".").encode("idna").decode("ascii").lower()
    except UnicodeError:
        host = ""
    if not _HOST.fullmatch(host):
        raise MailAddressError(_("Write the name of the mail server alone, such as mail.example.org."))
    return host


def letter_week(now: datetime) -> date | None:
    """Return the Monday of the week of which a letter is to go out now; None where it is too early or too late.

    Letters go out on the Sunday before from 15:00 on; a computer that was off then sends them on Monday or Tuesday. The
    hours are chosen here: late enough that Saturday's sowing is written down, early enough to plan the week.

    Args:
        now: The moment by the clock on the wall.
    """
    if now.weekday() == SUNDAY:
        return week_start(now.date()) + timedelta(days=7) if now.hour >= SENDING_HOUR else None
    return week_start(now.date()) if now.weekday() in {MONDAY, TUESDAY} else None
