"""Who changed something last, for those who may know it."""

from app.extensions import db
from app.language import _
from app.sheets.backup_words import moment_words
from app.storage.base import Base
from app.storage.history import NOUNS
from app.storage.queries.history import Wanted, list_history
from app.web.access import current_person, is_coordinator


def last_change(row: object) -> str:
    """Return who changed a row last and when, in words; empty for whoever may not know, and where nobody is named."""
    noun = NOUNS.get(type(row)) if isinstance(row, Base) else None
    if noun is None or not is_coordinator():
        return ""
    last = next(iter(list_history(db.session, Wanted(noun, getattr(row, "id", None)))), None)
    if last is None or last.who is None:
        return ""
    person = current_person()
    if person and person.account_id == last.account_id:
        return _("by yourself, on another page, %(moment)s", moment=moment_words(last.at))
    return _("by %(who)s, %(moment)s", who=last.who, moment=moment_words(last.at))
