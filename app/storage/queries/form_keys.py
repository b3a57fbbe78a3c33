"""Forms that were sent, by the key that each page gives its form."""

from typing import NamedTuple

from sqlalchemy import delete, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.storage.errors import ClashError
from app.storage.models import FormKey
from app.storage.models.history import LONGEST_ANSWER


class SentForm(NamedTuple):
    """A form that has acted: the digest of what it held, and the address that it was answered with."""

    body: str
    answer: str


def find_sent_form(session: Session, key: str) -> SentForm | None:
    """Return what was sent under a key, or None where nothing was, or long ago."""
    row = session.execute(select(FormKey.body, FormKey.answer).where(FormKey.key == key)).one_or_none()
    return None if row is None else SentForm(*row)


def note_sent_form(session: Session, key: str, form: SentForm, now: float) -> None:
    """Write down that a form has acted, in the transaction in which it does.

    Args:
        session: Its transaction.
        key: The key of the form.
        form: What it held, and what it is answered with.
        now: Seconds since 1970 (UTC).

    Raises:
        ClashError: Another form of this key has acted meanwhile; the transaction is to be rolled back.
    """
    session.flush()
    try:
        session.execute(insert(FormKey).values(key=key, made_at=now, body=form.body, answer=_kept(form)))
    except IntegrityError as error:
        raise ClashError from error


def replace_sent_form(session: Session, key: str, form: SentForm, now: float) -> None:
    """Write down that a form has acted again, with other contents; arguments as `note_sent_form` takes them."""
    session.execute(update(FormKey).where(FormKey.key == key).values(made_at=now, body=form.body, answer=_kept(form)))


def _kept(form: SentForm) -> str:
    """Return the address that is kept; one as long as no page of ours makes it loses its questions."""
    return form.answer if len(form.answer) <= LONGEST_ANSWER else form.answer.partition("?")[0]


def forget_sent_forms(session: Session, before: float) -> None:
    """Forget the forms that were sent before an instant, in seconds since 1970 (UTC)."""
    session.execute(delete(FormKey).where(FormKey.made_at < before))
