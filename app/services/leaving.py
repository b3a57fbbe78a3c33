"""What belongs to a person, handed out to them, and erased when they leave."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from app.language import N_
from app.services.accounts import require_other_coordinator
from app.services.growers import remove_grower
from app.storage.history import NOUNS, leave_actor
from app.storage.models import Account, Grower
from app.storage.queries.drafts import list_all_drafts_of
from app.storage.queries.feeds import list_feeds
from app.storage.queries.growers import get_grower
from app.storage.queries.history import (
    Wanted,
    count_history,
    list_history_naming,
    list_history_of,
    list_history_to_hand_out,
)
from app.storage.queries.letters import list_letters_of
from app.storage.queries.people import get_account, list_sign_ins
from app.storage.queries.rows import find_name_id
from app.storage.queries.sowings import list_all_sowings_of
from app.storage.queries.spares import forget_notes, list_spares_of
from app.storage.queries.uses import list_sowings_of_grower
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.storage import Session

GONE = N_("somebody who left")  # kept in English
PERSONAL = frozenset({"name", "contact", "plot", "days", "email"})  # of a grower or an account


class WithGrower(StrEnum):
    """What becomes of the grower that an erased person was."""

    KEEP = "keep"
    HIDE = "hide"
    REMOVE = "remove"


@dataclass(frozen=True, kw_only=True)
class Leaving:
    """What erasing somebody would take away and leave.

    Attributes:
        account: The account.
        grower: The grower that they are; None for none.
        neutral: What the grower would be called.
        sowings: Sowings of the grower. [1]
        changes: Entries of the history that they made. [1]
        devices: Devices on which they are signed in. [1]
    """

    account: Account
    grower: Grower | None
    neutral: str
    sowings: int
    changes: int
    devices: int


def find_leaving(session: "Session", account_id: int) -> Leaving:
    """Return what erasing somebody would take away and leave.

    Raises:
        NotFoundError: There is no such account.
    """
    account = get_account(session, account_id)
    grower = None if account.grower_id is None else get_grower(session, account.grower_id)
    return Leaving(
        account=account,
        grower=grower,
        neutral="" if grower is None else _neutral_name(session, grower),
        sowings=0 if grower is None else list_sowings_of_grower(session, grower.id).count,
        changes=count_history(session, Wanted(account_id=account_id)),
        devices=len(list_sign_ins(session, account_id)),
    )


def erase(session: "Session", account_id: int, with_grower: WithGrower) -> str:
    """Erase a person: account, sign-ins and slips go, and their name goes from the history.

    What they did stays in the history without a name. Backups made before still hold the name, until they go.

    Args:
        session: Its transaction takes it all.
        account_id: Whose.
        with_grower: What becomes of the grower that they are: it stays as it is, it stays without name, contact and
            days, or it goes.

    Returns:
        The name that the account had.

    Raises:
        NotFoundError: There is no such account.
        LastCoordinatorError: Nobody would be left who may do everything.
        InUseError: The grower is to go, but has sowings.
    """
    hold_writes(session)
    account = get_account(session, account_id)
    require_other_coordinator(session, account)
    leave_actor(session, account_id)
    name, grower_id, neutral = account.name, account.grower_id, str(GONE)
    names = {name, *_former_names(session, "account", account_id)}
    session.delete(account)
    session.flush()
    if grower_id is not None and with_grower is not WithGrower.KEEP:
        grower = get_grower(session, grower_id)
        names |= {grower.name, *filter(None, (grower.contact,)), *_former_names(session, "grower", grower_id)}
        for model, row_id in forget_notes(session, grower_id):
            _blank_notes(session, NOUNS[model], row_id)
        if with_grower is WithGrower.REMOVE:
            remove_grower(session, grower_id)
        else:
            neutral = grower.name = _neutral_name(session, grower)
            grower.contact = grower.days = None
            session.flush()
    elif grower_id is not None:
        names.discard(get_grower(session, grower_id).name)  # it stays as it is, in the history too
    _forget(session, names, neutral)
    _blank(session, "account", account_id, GONE)
    if grower_id is not None and with_grower is not WithGrower.KEEP:
        _blank(session, "grower", grower_id, neutral)
    session.flush()
    return name


def own_data(session: "Session", account_id: int) -> dict[str, Any]:
    """Return everything that is kept of a person, as it is handed out to them.

    Raises:
        NotFoundError: There is no such account.
    """
    account = get_account(session, account_id)
    grower = None if account.grower_id is None else get_grower(session, account.grower_id)
    return {
        "account": {
            "name": account.name,
            "role": account.role.value,
            "has_passphrase": account.passphrase is not None,
            "has_pin": account.pin is not None,
            "language": account.language,
            "email": account.email,
            "made_at": _instant(account.made_at),
        },
        "devices": [
            {"device": row.device, "signed_in_at": _instant(row.made_at), "last_seen_at": _instant(row.seen_at)}
            for row in list_sign_ins(session, account_id)
        ],
        "calendar_addresses": [
            {
                "dates": "the garden's" if row.whole_garden else "your own",
                "made_at": _instant(row.made_at),
                "last_fetched_at": None if row.fetched_at is None else _instant(row.fetched_at),
            }
            for row in list_feeds(session, account_id)
        ],
        "weekly_letters": [
            {"week": row.week, "sent_at": None if row.sent_at is None else _instant(row.sent_at), "fault": row.fault}
            for row in list_letters_of(session, account_id)
        ],
        "grower": None
        if grower is None
        else {"name": grower.name, "plot": grower.plot, "contact": grower.contact, "days": grower.days},
        "sowings": [] if grower is None else list_all_sowings_of(session, grower.id),
        "last_season": [] if grower is None else list_all_drafts_of(session, grower.id),
        "spare_plants": {} if grower is None else list_spares_of(session, grower.id),
        "changes_by_you_or_of_you": [
            {
                "at": _instant(row.at),
                "by_you": row.account_id == account_id,
                "via": row.via.value,
                "what": row.noun,
                "which": row.subject,
                "action": row.action,
                "changes": [dict(zip(("column", "before", "after"), change, strict=True)) for change in row.changes],
            }
            for row in list_history_to_hand_out(session, account_id, account.grower_id)
        ],
    }


def _instant(seconds: float) -> str:
    return datetime.fromtimestamp(seconds, UTC).isoformat(timespec="seconds")


def _neutral_name(session: "Session", grower: Grower) -> str:
    """Return a name for a grower that says nobody's, and that no other has."""
    plain = f"Plot {grower.plot}" if grower.plot else "Former grower"
    name, number = plain, 2
    while find_name_id(session, Grower.name, name, other_than=grower.id) is not None:
        name, number = f"{plain} ({number})", number + 1
    return name


def _former_names(session: "Session", noun: str, row_id: int) -> Iterable[str]:
    """Yield the names and contacts that the history has of an account or a grower."""
    for row in list_history_of(session, None, noun=noun, subject_id=row_id):
        for column, *values in row.changes:
            if column in {"name", "contact"}:
                yield from (value for value in values if isinstance(value, str) and value)


def _forget(session: "Session", names: set[str], neutral: str) -> None:
    """Put something else in place of these names, wherever one stands in the history as a whole value."""
    for row in list_history_naming(session, sorted(names)):
        if row.subject in names:
            row.subject = neutral
        row.changes = [
            [column, *(neutral if isinstance(value, str) and value in names else value for value in values)]
            for column, *values in row.changes
        ]


def _blank_notes(session: "Session", noun: str, row_id: int) -> None:
    """Take out of the history of an offer or a request what its grower wrote beside it."""
    for row in list_history_of(session, None, noun=noun, subject_id=row_id):
        row.changes = [[column, *([None, None] if column == "note" else values)] for column, *values in row.changes]


def _blank(session: "Session", noun: str, row_id: int, neutral: str) -> None:
    """Take what is personal out of the history of an account or a grower itself."""
    for row in list_history_of(session, None, noun=noun, subject_id=row_id):
        row.subject = neutral
        row.changes = [[column, *([None, None] if column in PERSONAL else values)] for column, *values in row.changes]
