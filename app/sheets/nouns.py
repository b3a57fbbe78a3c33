"""What the program keeps, by the nouns under which the history and the queries know it, as they are said to people."""

from app.language import N_, _
from app.storage.errors import NotFoundError

SAID = (
    N_("account"), N_("address on paper"), N_("backup"), N_("batch"), N_("care round"), N_("container"),
    N_("crop card"), N_("entry"), N_("frost date"), N_("frost record"), N_("garden"), N_("gift of spare plants"),
    N_("grower"), N_("house"), N_("label stock"), N_("labels"), N_("levelling"), N_("offer of spare plants"),
    N_("printer"), N_("request for spare plants"), N_("seed lot"), N_("shelf"), N_("sowing"),
    N_("sowing of last season"), N_("stay"), N_("test of seed"), N_("tray"), N_("trays"),
)  # fmt: skip


def noun_words(noun: str) -> str:
    """Return a noun in the language that is being spoken."""
    return _(noun) if noun in SAID else noun


def missing_words(error: NotFoundError) -> str:
    """Return that something is not there, as the beginning of a sentence."""
    return _("There is no %(noun)s %(number)s", noun=noun_words(error.noun), number=error.row_id)
