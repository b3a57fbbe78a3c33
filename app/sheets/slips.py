"""One-time links on paper: one slip for each person, to be cut out and handed over."""

from dataclasses import dataclass

from app.core.words import SlipKind
from app.language import N_, _
from app.sheets.backup_words import moment_words
from app.sheets.qr import make_pattern

PURPOSE = {
    SlipKind.FIRST: N_("Become the first coordinator"),
    SlipKind.INVITATION: N_("Come in for the first time"),
    SlipKind.RESET: N_("Choose a new passphrase"),
}


@dataclass(frozen=True, kw_only=True)
class SlipOnPaper:
    """A slip.

    Attributes:
        name: Whom it is for.
        purpose: What it is for.
        address: The address that its code holds.
        modules: Modules along a side of the code. [1]
        path: The dark ones, as `app.sheets.qr.Pattern` has them.
        until: When its link stops working, in words.
    """

    name: str
    purpose: str
    address: str
    modules: int
    path: str
    until: str


@dataclass(frozen=True, kw_only=True)
class SlipSheet:
    """Slips, several on a page.

    Attributes:
        garden: The garden's name, or the program's.
        only_here: Whether the address is known on the garden's own network alone.
        slips: The slips.
    """

    garden: str
    only_here: bool
    slips: tuple[SlipOnPaper, ...]


def make_slip_on_paper(name: str, kind: SlipKind, address: str, expires_at: float) -> SlipOnPaper:
    """Return a slip.

    Args:
        name: Whom it is for.
        kind: What it is for.
        address: Its one-time link.
        expires_at: When that stops working. [s since 1970]
    """
    pattern = make_pattern.__wrapped__(address)  # nothing keeps a link that works
    return SlipOnPaper(
        name=name,
        purpose=_(PURPOSE[kind]),
        address=address,
        modules=pattern.modules,
        path=pattern.path,
        until=moment_words(expires_at),
    )
