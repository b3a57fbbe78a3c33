"""Batches in words: what was done in one, what it holds, and what keeps it from being undone.

All of it is kept in English, as the history is; what things are called is marked in `app.sheets.nouns`.
"""

from app.language import N_, _
from app.sheets.nouns import noun_words
from app.storage.queries.batches import BatchRow, InTheWay, Net

MADE = (
    N_("growers pasted"), N_("shelves pasted"), N_("seed lots pasted"), N_("sowings pasted"),
    N_("wishes of last season kept"),
)  # fmt: skip
# Said after what it is about.
IN_THE_WAY = (
    N_("was added since"), N_("was changed since"), N_("was removed since"), N_("was loaded from a folder since"),
    N_("was carried into the next season since"), N_("was cleared since"), N_("is there again"),
    N_("is not there any more"), N_("has a name that another one has by now"),
    N_("had a name that another one has by now"), N_("is used by a request for spare plants"),
    N_("is used by a gift of spare plants"), N_("is used by an offer of spare plants"), N_("is used by a care round"),
    N_("is used by an account"), N_("is used by a sowing"), N_("is used by a sowing of last season"),
    N_("is used by an entry of the log"), N_("is used by a test of seed"), N_("is used by a tray that stands there"),
    N_("is used by a cell of a tray"), N_("is used by a tick"),
)  # fmt: skip


def say_batch(row: BatchRow) -> BatchRow:
    """Return a batch as it is said in the language that is being spoken."""
    return row._replace(what=_(row.what))


def say_net(net: Net) -> Net:
    """Return what a batch made of a row, in the language that is being spoken."""
    return net._replace(noun=noun_words(net.noun))


def say_in_the_way(one: InTheWay) -> InTheWay:
    """Return what stands in the way of undoing a batch, in the language that is being spoken."""
    return one._replace(noun=noun_words(one.noun), why=_(one.why))
