"""The weekly letters: who is to get one, sent once, and what became of each."""

import logging
import time
from collections.abc import Callable
from contextvars import copy_context
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from threading import BoundedSemaphore, Event, Thread

from filelock import FileLock, Timeout

from app.core.house.mail import letter_week
from app.core.words import MailSecurity
from app.language import _
from app.services.mail import BROKE_OFF, Letter, MailError, MailServer, connected, hand_over, server_of
from app.storage import Engine, Session
from app.storage.errors import DatabaseError
from app.storage.models import Reminder
from app.storage.opening import open_engine, open_session, session_on
from app.storage.queries.days import set_today
from app.storage.queries.garden import find_garden
from app.storage.queries.house import find_house, get_house
from app.storage.queries.letters import Recipient, find_reminder, list_recipients
from app.storage.queries.version import hold_writes

LOOK_EVERY_S = 900.0
RETRY_S = 3600.0
LOCK_FILE = ".letters.lock"  # in the instance folder
LONGEST_FAULT = 500
TEST_WAIT_S = 10.0

# Makes somebody's letter of the week that begins on a Monday; None where they have nothing to do in it.
Compose = Callable[[Session, Recipient, date], Letter | None]

log = logging.getLogger(__name__)
_testing = BoundedSemaphore()  # one at a time: each may hold a thread of the server for a while


@dataclass(frozen=True, kw_only=True)
class MailValues:
    """What is set of the mail server; all None where there is none.

    Attributes:
        host: Its name.
        port: Its port. [1]
        security: How the connection is protected.
        user: The name to sign in with.
        passphrase: A new passphrase to it; None to keep the one that is there.
        sender: The address that letters come from.
    """

    host: str | None
    port: int | None
    security: MailSecurity | None
    user: str | None
    passphrase: str | None
    sender: str | None


@dataclass(frozen=True)
class Sending:
    """What a round of sending came to.

    Attributes:
        sent: Letters handed over. [1]
        faults: Why others were not, each once.
    """

    sent: int = 0
    faults: tuple[str, ...] = ()


def change_mail(session: Session, values: MailValues) -> None:
    """Set the mail server. Another server, or another name on it, never gets the passphrase of the one before."""
    hold_writes(session)
    house = get_house(session)
    is_same = (house.mail_host, house.mail_user) == (values.host, values.user) and values.user is not None
    house.mail_passphrase = values.passphrase or (house.mail_passphrase if is_same else None)
    house.mail_host, house.mail_port, house.mail_security = values.host, values.port, values.security
    house.mail_user, house.mail_from = values.user, values.sender
    session.flush()


def send_letters(url: str, instance: Path, now: float, compose: Compose) -> Sending | None:
    """Send the letters that are due, each once.

    Before a letter is handed over it is written down that it is on its way, and afterwards what became of it. If the
    computer stops between the two, nobody can tell whether it went out; it is not sent again, and its row says so.

    Args:
        url: The database's address.
        instance: The instance folder.
        now: The present moment. [s since 1970]
        compose: Makes a letter.

    Returns:
        What was sent; None where no letter is due, there is no mail server, or another process is at it.

    Raises:
        DatabaseError: The database cannot be reached, read or written.
    """
    local = datetime.fromtimestamp(now, UTC).astimezone()
    monday = letter_week(local)
    if monday is None:
        return None
    try:
        with FileLock(instance / LOCK_FILE, timeout=0):
            return _send(url, instance, now, monday, local.date(), compose)
    except Timeout:
        return None


def _send(url: str, instance: Path, now: float, monday: date, today: date, compose: Compose) -> Sending | None:
    week = week_name(monday)
    with open_session(url, read_only=True) as session:
        set_today(session, today)
        server = server_of(find_house(session), instance)
        if server is None or find_garden(session) is None:
            return None
        made = [(who.account_id, compose(session, who, monday)) for who in list_recipients(session, week, now)]
    letters = [(account_id, letter) for account_id, letter in made if letter is not None]
    if not letters:
        return None
    with open_engine(url) as engine:
        return _hand_over(engine, server, letters, week, now)


def week_name(monday: date) -> str:
    """Return a week as it is kept, such as `2027-W15`."""
    year, number, _ = monday.isocalendar()
    return f"{year}-W{number:02d}"


def _hand_over(engine: Engine, server: MailServer, letters: list[tuple[int, Letter]], week: str, now: float) -> Sending:
    sent, faults, done = 0, dict[str, None](), 0
    try:
        with connected(server) as smtp:
            for account_id, letter in letters:
                done += 1
                with session_on(engine) as session:
                    is_ours = claim(session, account_id, week, now)
                if not is_ours:
                    continue
                try:
                    hand_over(smtp, server, letter, now)
                except MailError as error:
                    # An address stands in no log.
                    faults[str(error) if error.is_of_server else "An address was refused"] = None
                    with session_on(engine) as session:
                        note_fault(session, account_id, week, error, now)
                    if error.is_of_server:
                        raise
                    smtp.rset()
                else:
                    sent += 1
                    with session_on(engine) as session:
                        note_sent(session, account_id, week, now)
    except (MailError, OSError) as error:
        fault = error if isinstance(error, MailError) else MailError(BROKE_OFF)
        faults[str(fault)] = None
        later = MailError(str(fault))
        for account_id, _ in letters[done:]:
            with session_on(engine) as session:
                if claim(session, account_id, week, now):
                    note_fault(session, account_id, week, later, now)
    return Sending(sent, tuple(faults))


def claim(session: Session, account_id: int, week: str, now: float) -> bool:
    """Write down that somebody's letter of a week is on its way; return False where it is, was, or must wait."""
    hold_writes(session)
    row = find_reminder(session, account_id, week)
    if row is None:
        session.add(Reminder(account_id=account_id, week=week, sent_at=None, fault=None, retry_at=None))
    elif row.sent_at is not None or row.retry_at is None or row.retry_at > now:
        return False
    else:
        row.fault = row.retry_at = None
    session.flush()
    return True


def note_sent(session: Session, account_id: int, week: str, now: float) -> None:
    """Write down that a letter was handed over."""
    hold_writes(session)
    row = find_reminder(session, account_id, week)
    if row is not None:  # who left meanwhile has none
        row.sent_at = now
        session.flush()


def note_fault(session: Session, account_id: int, week: str, error: MailError, now: float) -> None:
    """Write down why a letter was not handed over, and when it is tried again."""
    hold_writes(session)
    row = find_reminder(session, account_id, week)
    if row is not None:
        row.fault = str(error)[:LONGEST_FAULT]
        row.retry_at = now + RETRY_S if error.may_retry else None
        session.flush()


class WeeklyLetters:
    """Looks at once and then every quarter of an hour whether letters are due, until it is stopped.

    Every process of a server may have one: of those on one computer one sends at a time, and each letter is claimed in
    the database.
    """

    def __init__(self, url: str, instance: Path, compose: Compose, *, every_s: float = LOOK_EVERY_S) -> None:
        """Start looking.

        Args:
            url: The database's address.
            instance: The instance folder.
            compose: Makes a letter.
            every_s: How long to wait between two looks. [s]
        """
        self._url, self._instance, self._compose, self._every_s = url, instance, compose, every_s
        self._stopped = Event()
        self._thread = Thread(target=self._run, name="letters", daemon=True)
        self._thread.start()

    def stop(self, seconds: float = 0.0) -> None:
        """End it, and wait for letters that are on their way for so long at most. [s]"""
        self._stopped.set()
        self._thread.join(seconds)

    def _run(self) -> None:
        while not self._stopped.is_set():
            self._look()
            self._stopped.wait(self._every_s)

    def _look(self) -> None:
        try:
            sending = send_letters(self._url, self._instance, time.time(), self._compose)
        except DatabaseError as error:
            log.warning("No letters were sent: %s", error)
        except Exception:  # whatever it is, the next look may succeed
            log.exception("No letters were sent")
        else:
            for fault in sending.faults if sending else ():
                log.warning("A letter was not sent: %s", fault)


def send_test(server: MailServer, letter: Letter, *, wait_s: float = TEST_WAIT_S) -> str:
    """Send a letter out of turn, and return why it did not go; empty if it did.

    It is done aside: however slowly a mail server answers, whoever asked waits no longer than they are told.

    Args:
        server: The mail server.
        letter: The letter.
        wait_s: How long to wait for it. [s]
    """
    if not _testing.acquire(blocking=False):
        return _("Another test letter is on its way. Wait a moment")
    said = [_("The mail server did not take it within %(seconds)s seconds", seconds=format(wait_s, "g"))]

    def send() -> None:
        try:
            with connected(server, timeout_s=wait_s) as smtp:
                hand_over(smtp, server, letter, time.time())
            said.append("")
        except MailError as error:
            said.append(str(error))
        finally:
            _testing.release()

    thread = Thread(
        target=copy_context().run, args=(send,), name="test letter", daemon=True
    )  # speaks the same language
    thread.start()
    thread.join(wait_s)
    return said[-1]
