"""The door to a mail server: connecting, signing in and handing over a letter, with every failure said in words."""

import smtplib
import socket
import ssl
from base64 import b64encode
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime, formataddr, make_msgid
from pathlib import Path

from app.core.words import MailSecurity
from app.language import N_
from app.storage.models import House

TIMEOUT_S = 20.0
OK, SIGNED_IN, CAN_BE_TRIED = 250, 235, range(400, 500)
LONGEST_SAID = 200
CERTIFICATE = "mail.pem"  # in the instance folder: whose certificate a mail server of one's own has
# What this computer calls itself. Its own name is not looked up: without a name server that takes minutes.
OWN_NAME = "[127.0.0.1]"
# Why a letter was not handed over. It is kept and logged in English.
_REFUSED_SENDER = N_("The mail server refuses the sender’s address: %(answer)s")
_REFUSED_ADDRESS = N_("The mail server refuses the address: %(answer)s")
_REFUSED_LETTER = N_("The mail server refuses the letter: %(answer)s")
BROKE_OFF = N_("The connection to the mail server broke off")
_BROKE_OFF_LATE = N_("The connection broke off as the letter was handed over, so it may have gone out or not")
_NOT_TRUSTED = N_(
    "The mail server at %(host)s, port %(port)s, shows a certificate that this computer does not trust (%(said)s). "
    "One of the garden’s own belongs in the file %(file)s in the instance folder"
)
_NO_TLS = N_("The mail server at %(host)s, port %(port)s, speaks no TLS on this port. Is it STARTTLS, or another port?")
_WRONG = N_("The mail server at %(host)s, port %(port)s, refuses the name or the passphrase: %(said)s")
_NO_STARTTLS = N_("The mail server at %(host)s, port %(port)s, does not offer STARTTLS")
_NO_SIGNING_IN = N_("The mail server at %(host)s, port %(port)s, does not offer signing in")
_NOT_FOUND = N_(
    "The mail server at %(host)s, port %(port)s, is not found by its name. Is this computer on the internet?"
)
_SILENT = N_("The mail server at %(host)s, port %(port)s, does not answer")
_REFUSES = N_("The mail server at %(host)s, port %(port)s, refuses: %(said)s")
_BREAKS_OFF = N_("The mail server at %(host)s, port %(port)s, refuses or breaks off the connection")
_USELESS = N_("The mail server at %(host)s, port %(port)s, cannot be used: %(said)s")
FAULTS = (
    _REFUSED_SENDER, _REFUSED_ADDRESS, _REFUSED_LETTER, BROKE_OFF, _BROKE_OFF_LATE, _NOT_TRUSTED, _NO_TLS, _WRONG,
    _NO_STARTTLS, _NO_SIGNING_IN, _NOT_FOUND, _SILENT, _REFUSES, _BREAKS_OFF, _USELESS,
)  # fmt: skip
_POLICY = SMTP.clone(cte_type="7bit")  # not every server takes eight bits


class MailError(Exception):
    """A letter was not handed over; the message says why.

    Attributes:
        may_retry: The same may go through later, and cannot arrive twice.
        is_of_server: It is not about this letter: others would fare alike now.
    """

    def __init__(self, words: str, *, may_retry: bool = True, is_of_server: bool = False) -> None:
        """Say why."""
        super().__init__(words)
        self.may_retry, self.is_of_server = may_retry, is_of_server


@dataclass(frozen=True, kw_only=True)
class MailServer:
    """A mail server and how it is entered.

    Attributes:
        host: Its name.
        port: Its port. [1]
        security: How the connection is protected.
        user: The name to sign in with; None where it asks for none.
        passphrase: The passphrase to it.
        sender: The address that letters come from.
        certificate: A file with the certificate that it has, or is signed by; None for those that everybody trusts.
    """

    host: str
    port: int
    security: MailSecurity
    user: str | None
    passphrase: str | None
    sender: str
    certificate: Path | None = None


@dataclass(frozen=True, kw_only=True)
class Letter:
    """A letter in plain text.

    Attributes:
        to: The address.
        subject: Its subject.
        text: What it says.
        sender_name: What its sender is called.
        unsubscribe: The page on which it can be stopped; None where no address of it works from elsewhere.
    """

    to: str
    subject: str
    text: str
    sender_name: str
    unsubscribe: str | None = None


def server_of(house: House, instance: Path) -> MailServer | None:
    """Return the mail server that is set for the house; None where none is.

    Args:
        house: What is set.
        instance: The instance folder, which may hold a certificate.
    """
    if house.mail_host is None or house.mail_port is None or house.mail_security is None or house.mail_from is None:
        return None
    certificate = instance / CERTIFICATE
    return MailServer(
        host=house.mail_host,
        port=house.mail_port,
        security=house.mail_security,
        user=house.mail_user,
        passphrase=house.mail_passphrase,
        sender=house.mail_from,
        certificate=certificate if certificate.is_file() else None,
    )


@contextmanager
def connected(server: MailServer, *, timeout_s: float = TIMEOUT_S) -> Iterator[smtplib.SMTP]:
    """Give a connection to a mail server, signed in where it asks for that.

    Args:
        server: The server.
        timeout_s: How long it may be silent. [s]

    Raises:
        MailError: It cannot be reached, is not who it says, or lets nobody in.
    """
    try:
        smtp = _connect(server, timeout_s)
    except (OSError, smtplib.SMTPException, ValueError) as error:
        raise MailError(_why_not(server, error), is_of_server=True) from error
    try:
        yield smtp
    finally:
        with suppress(OSError, smtplib.SMTPException):
            smtp.quit()
        smtp.close()


def hand_over(smtp: smtplib.SMTP, server: MailServer, letter: Letter, now: float) -> None:
    """Hand a letter over.

    Args:
        smtp: A connection from `connected`.
        server: The server.
        letter: The letter.
        now: The present moment. [s since 1970]

    Raises:
        MailError: It was refused, or the connection broke. Where it broke after the text was sent, nobody can tell
            whether the letter arrives, and it is not to be sent again.
    """
    message = make_message(server.sender, letter, now).as_bytes()
    try:
        _require(smtp.mail(server.sender), _REFUSED_SENDER, is_of_server=True)
        _require(smtp.rcpt(letter.to), _REFUSED_ADDRESS)
    except (OSError, smtplib.SMTPException) as error:
        raise MailError(BROKE_OFF, is_of_server=True) from error
    try:
        answer: tuple[int, bytes | str] = smtp.data(message)
    except smtplib.SMTPDataError as error:  # the server has not taken the text
        answer = error.smtp_code, error.smtp_error
    except (OSError, smtplib.SMTPException) as error:
        raise MailError(_BROKE_OFF_LATE, may_retry=False, is_of_server=True) from error
    _require(answer, _REFUSED_LETTER)


def make_message(sender: str, letter: Letter, now: float) -> EmailMessage:
    """Return a letter as it is sent.

    Source:
        RFC 5322; RFC 3834, 5 (Auto-Submitted); RFC 2369, 3.2 (List-Unsubscribe).
    """
    message = EmailMessage(policy=_POLICY)
    message["From"] = formataddr((_one_line(letter.sender_name), sender))
    message["To"] = letter.to
    message["Subject"] = _one_line(letter.subject)
    message["Date"] = format_datetime(datetime.fromtimestamp(now, UTC).astimezone())
    message["Message-ID"] = make_msgid(domain=sender.rpartition("@")[2])
    message["Auto-Submitted"] = "auto-generated"
    if letter.unsubscribe is not None:
        message["List-Unsubscribe"] = f"<{letter.unsubscribe}>"
    message.set_content(letter.text)
    return message


def _connect(server: MailServer, timeout_s: float) -> smtplib.SMTP:
    context = ssl.create_default_context()
    if server.certificate is not None:
        context.load_verify_locations(server.certificate)
    if server.security is MailSecurity.TLS:
        smtp: smtplib.SMTP = smtplib.SMTP_SSL(
            server.host, server.port, local_hostname=OWN_NAME, timeout=timeout_s, context=context
        )
    else:
        smtp = smtplib.SMTP(server.host, server.port, local_hostname=OWN_NAME, timeout=timeout_s)
    try:
        smtp.ehlo_or_helo_if_needed()
        if server.security is MailSecurity.STARTTLS:
            smtp.starttls(context=context)
        if server.user:
            _sign_in(smtp, server.user, server.passphrase or "")
    except BaseException:
        smtp.close()
        raise
    return smtp


def _sign_in(smtp: smtplib.SMTP, user: str, passphrase: str) -> None:
    """Sign in; what is not ASCII goes as RFC 4616 has it, which the library does not know."""
    if (user + passphrase).isascii():
        smtp.login(user, passphrase)
        return
    smtp.ehlo_or_helo_if_needed()  # it was forgotten when TLS began
    if "PLAIN" not in smtp.esmtp_features.get("auth", "").upper().split():
        raise smtplib.SMTPNotSupportedError("AUTH PLAIN")
    code, said = smtp.docmd("AUTH", "PLAIN " + b64encode(f"\0{user}\0{passphrase}".encode()).decode())
    if code != SIGNED_IN:
        raise smtplib.SMTPAuthenticationError(code, said)


def _why_not(server: MailServer, error: Exception) -> str:
    """Return why a mail server could not be entered."""
    said: object = ""
    if isinstance(error, ssl.SSLCertVerificationError):
        words, said = _NOT_TRUSTED, error.verify_message
    elif isinstance(error, ssl.SSLError):
        words = _NO_TLS
    elif isinstance(error, smtplib.SMTPAuthenticationError):
        words, said = _WRONG, _said(error.smtp_error)
    elif isinstance(error, smtplib.SMTPNotSupportedError):
        words = _NO_STARTTLS if "STARTTLS" in str(error) else _NO_SIGNING_IN
    elif isinstance(error, socket.gaierror):
        words = _NOT_FOUND
    elif isinstance(error, TimeoutError):
        words = _SILENT
    elif isinstance(error, smtplib.SMTPResponseException):
        words, said = _REFUSES, _said(error.smtp_error)
    elif isinstance(error, ConnectionError | smtplib.SMTPServerDisconnected):
        words = _BREAKS_OFF
    else:
        words, said = _USELESS, _said(str(error))
    return words % {"host": server.host, "port": server.port, "said": said, "file": CERTIFICATE}


def _require(answer: tuple[int, bytes | str], words: str, *, is_of_server: bool = False) -> None:
    code, said = answer
    if code in {OK, OK + 1}:
        return
    raise MailError(
        words % {"answer": f"{code} {_said(said)}"}, may_retry=code in CAN_BE_TRIED, is_of_server=is_of_server
    )


def _said(text: bytes | str) -> str:
    """Return what a server said, as a line that can be shown."""
    plain = text.decode("utf-8", "replace") if isinstance(text, bytes) else text
    return _one_line(plain)[:LONGEST_SAID]


def _one_line(text: str) -> str:
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
