"""Sentences that are kept in English and said again, by the errors that they are made from."""

import errno
import smtplib
import socket
import ssl
import string
from unittest.mock import patch

import pytest

from app.core.words import MailSecurity
from app.language import speaking
from app.services.backups import words_of
from app.services.mail import MailError, MailServer, connected
from app.sheets import stored_words
from app.sheets.stored_words import KNOWN, say_again
from app.storage.backup import DAMAGED, LOOSE, NO_GARDEN, NOT_COPIED, BackupError
from app.storage.errors import AwayError, BusyError, CrossedError, FullError, ReadOnlyError
from app.storage.trouble import said

SERVER = MailServer(
    host="mail.example.org",
    port=465,
    security=MailSecurity.STARTTLS,
    user=None,
    passphrase=None,
    sender="a@example.org",
)
UNTRUSTED = ssl.SSLCertVerificationError("untrusted")
UNTRUSTED.verify_message = "self-signed certificate"
TROUBLES = [
    UNTRUSTED,
    ssl.SSLError("no TLS"),
    smtplib.SMTPAuthenticationError(535, b"100 % wrong"),
    smtplib.SMTPNotSupportedError("STARTTLS extension not supported"),
    smtplib.SMTPNotSupportedError("AUTH PLAIN"),
    socket.gaierror("no name"),
    TimeoutError("late"),
    smtplib.SMTPResponseException(421, b"go away. Come back."),
    ConnectionRefusedError("refused"),
    ValueError("odd"),
]


@pytest.fixture
def told(monkeypatch):
    """Return the sentences that were found, while another language is spoken."""
    found = []

    def tell(words, **values):
        found.append(words)
        return words % values

    monkeypatch.setattr(stored_words, "_", tell)
    with speaking("fr"):
        yield found


@pytest.mark.parametrize("filename", [None, "/media/stick/100 % garden. Old"])
@pytest.mark.parametrize(
    "number", [errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EROFS, errno.ENOENT, errno.ENOTDIR, errno.EIO]
)
def test_why_a_file_failed_is_said_again(told, number, filename):
    kept = words_of(OSError(number, "Why it is so", filename))
    assert say_again(kept) == kept
    assert len(told) == 1


@pytest.mark.parametrize(
    "words", [NO_GARDEN, NOT_COPIED, LOOSE, DAMAGED], ids=["nothing", "not copied", "loose", "damaged"]
)
def test_why_a_copy_failed_is_said_again(told, words):
    values = {"name": "the copy", "table": "sowing", "fault": "row 5 missing", "reason": "locked"}
    kept = words_of(BackupError(words % values))
    assert not kept.endswith(".")
    assert say_again(kept) == kept
    assert told[-1] == words
    assert ("the copy" in told) == ("the copy" in kept)


@pytest.mark.parametrize("kind", [BusyError, CrossedError, FullError, ReadOnlyError, AwayError])
def test_why_a_database_failed_is_said_again(told, kind):
    kept = words_of(said(kind, "postgresql://shed/garden", OSError("no route.\nsecond line")))
    assert say_again(kept) == kept
    assert len(told) == 2  # the sentence, and what stands in it


@pytest.mark.parametrize("error", TROUBLES, ids=lambda error: f"{type(error).__name__} {error}")
def test_why_a_mail_server_failed_is_said_again(told, error):
    with patch("app.services.mail._connect", side_effect=error), pytest.raises(MailError) as failed, connected(SERVER):
        pass
    kept = str(failed.value)
    assert say_again(kept) == kept
    assert len(told) == 1
    assert "mail.example.org" in kept


def test_a_sentence_that_nobody_knows_stays_as_it_is(told):
    assert say_again("Something else, with 5 % of it") == "Something else, with 5 % of it"
    assert told == []


def test_every_kept_sentence_is_told_from_the_others(told):
    for words in KNOWN:
        names = [
            name
            for _text, name, _spec, _conversion in string.Formatter().parse(words.replace("%(", "{").replace(")s", "}"))
            if name
        ]
        told.clear()
        say_again(words % {name: f"<{name}>" for name in names})
        assert told[-1] == words
