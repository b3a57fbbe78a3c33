"""Accounts, sign-ins, one-time links and failed tries."""

from typing import NamedTuple

from sqlalchemy import delete, func, select, text, update
from sqlalchemy.orm import Session

from app.core.words import Role
from app.storage.models import Account, FailedTry, Grower, SignIn, Slip
from app.storage.queries.rows import Choice, get_row
from app.storage.queries.version import note_mark

# Every page asks this first, so the mark of the data comes along in the same query.
_WHO = text(
    "SELECT data_version.mark, sign_in.token, sign_in.is_bench, sign_in.acting_until, sign_in.seen_at,"
    " sign_in.expires_at, account.id, account.name, account.role, account.grower_id, account.is_demo,"
    " account.language"
    " FROM data_version LEFT JOIN sign_in ON sign_in.token = :token"
    " LEFT JOIN account ON account.id = sign_in.account_id WHERE data_version.id = 1"
)


class SignedIn(NamedTuple):
    """A sign-in with the account it is of; a bench tablet may have none."""

    token: str
    is_bench: bool
    acting_until: float | None
    seen_at: float
    expires_at: float
    account_id: int | None
    name: str | None
    role: Role | None
    grower_id: int | None
    is_demo: bool
    language: str | None


class AccountRow(NamedTuple):
    """An account as the list of people shows it."""

    id: int
    name: str
    role: Role
    grower_id: int | None
    grower: str | None
    is_waiting: bool
    has_pin: bool
    is_demo: bool
    sign_ins: int
    seen_at: float | None
    slip_expires_at: float | None


def find_signed_in(session: Session, token: str) -> SignedIn | None:
    """Return who is signed in by a token, in the one query that also reads the mark of the data; None for nobody.

    Args:
        session: Where to look.
        token: The token's digest.
    """
    row = session.connection().execute(_WHO, {"token": token}).one()
    mark, found, is_bench, acting_until, seen_at, expires_at, account_id, name, role, grower_id, is_demo, language = row
    note_mark(session, mark)
    if found is None:
        return None
    return SignedIn(
        token=found,
        is_bench=bool(is_bench),
        acting_until=acting_until,
        seen_at=seen_at,
        expires_at=expires_at,
        account_id=account_id,
        name=name,
        role=None if role is None else Role(role),
        grower_id=grower_id,
        is_demo=bool(is_demo),
        language=language,
    )


def get_account(session: Session, account_id: int) -> Account:
    """Return an account, or raise NotFoundError."""
    return get_row(session, Account, account_id, "account")


def find_account(session: Session, name_key: str) -> Account | None:
    """Return the account of a name as it is compared, or None."""
    return session.scalars(select(Account).where(Account.name_key == name_key)).one_or_none()


def find_demo_account(session: Session) -> Account | None:
    """Return the account by which the demo garden is looked at, or None."""
    return session.scalars(select(Account).where(Account.is_demo).order_by(Account.id).limit(1)).one_or_none()


def list_languages_of_growers(session: Session) -> dict[int, str]:
    """Return the language that growers with an account have chosen, by grower; of several accounts the first one's."""
    rows = session.execute(
        select(Account.grower_id, Account.language)
        .where(Account.grower_id.is_not(None), Account.language.is_not(None))
        .order_by(Account.id.desc())
    )
    return {grower_id: language for grower_id, language in rows if grower_id is not None and language is not None}


def has_coordinator(session: Session) -> bool:
    """Return whether somebody can sign in who may do everything; the demo's account does not count."""
    query = select(Account.id).where(
        Account.role == Role.COORDINATOR, Account.passphrase.is_not(None), Account.is_demo.is_(False)
    )
    return session.scalars(query.limit(1)).first() is not None


def count_coordinators(session: Session) -> int:
    """Return how many can sign in who may do everything; the demo's account does not count."""
    query = select(func.count(Account.id)).where(
        Account.role == Role.COORDINATOR, Account.passphrase.is_not(None), Account.is_demo.is_(False)
    )
    return session.scalar(query) or 0


def list_accounts(session: Session) -> list[AccountRow]:
    """Return every account by name, with how many devices it is signed in on and the slip that waits for it."""
    devices = (
        select(SignIn.account_id, func.count().label("number"), func.max(SignIn.seen_at).label("seen_at"))
        .where(SignIn.is_bench.is_(False))
        .group_by(SignIn.account_id)
        .subquery()
    )
    slips = (
        select(Slip.account_id, func.max(Slip.expires_at).label("expires_at"))
        .where(Slip.used_at.is_(None))
        .group_by(Slip.account_id)
        .subquery()
    )
    query = (
        select(
            Account.id,
            Account.name,
            Account.role,
            Account.grower_id,
            Grower.name,
            Account.passphrase.is_(None),
            Account.pin.is_not(None),
            Account.is_demo,
            func.coalesce(devices.c.number, 0),
            devices.c.seen_at,
            slips.c.expires_at,
        )
        .outerjoin(Grower, Grower.id == Account.grower_id)
        .outerjoin(devices, devices.c.account_id == Account.id)
        .outerjoin(slips, slips.c.account_id == Account.id)
        .order_by(Account.name_key)
    )
    return [AccountRow(*row) for row in session.execute(query)]


def list_linked(session: Session) -> dict[str, list[int]]:
    """Return the ids of the accounts of each grower who has any, by the grower's name."""
    query = select(Grower.name, Account.id).join(Account, Account.grower_id == Grower.id)
    linked: dict[str, list[int]] = {}
    for name, account_id in session.execute(query):
        linked.setdefault(name, []).append(account_id)
    return linked


def link_growers(session: Session, linked: dict[str, list[int]]) -> None:
    """Let accounts be of the growers who have these names now; of nobody, where none has."""
    for name, ids in linked.items():
        grower_id = session.scalar(select(Grower.id).where(Grower.name == name))
        session.execute(update(Account).where(Account.id.in_(ids)).values(grower_id=grower_id))


def list_growers_without_account(session: Session) -> list[Choice]:
    """Return the growers whom no account is of, by name."""
    query = select(Grower.id, Grower.name).where(~Grower.id.in_(select(Account.grower_id).where(Account.grower_id > 0)))
    return [Choice(*row) for row in session.execute(query.order_by(Grower.name, Grower.id))]


def list_with_pin(session: Session) -> list[Choice]:
    """Return the accounts that have a PIN, by name."""
    query = select(Account.id, Account.name).where(Account.pin.is_not(None)).order_by(Account.name_key)
    return [Choice(*row) for row in session.execute(query)]


def list_tablets(session: Session) -> list[SignIn]:
    """Return the bench tablets, the one made last first."""
    return list(session.scalars(select(SignIn).where(SignIn.is_bench).order_by(SignIn.made_at.desc(), SignIn.token)))


def end_tablet(session: Session, token: str) -> None:
    """Make a bench tablet a plain device again."""
    session.execute(delete(SignIn).where(SignIn.token == token, SignIn.is_bench))


def keep_hash(session: Session, account_id: int, **hashes: str) -> None:
    """Keep another hash of the passphrase or PIN that an account has already; nothing has changed for anybody.

    Args:
        session: Its transaction takes it.
        account_id: Whose.
        hashes: `passphrase` or `pin`.
    """
    session.execute(update(Account).where(Account.id == account_id).values(hashes))


def let_act(session: Session, token: str, account_id: int | None, until: float | None, at: float) -> None:
    """Note who acts at a bench tablet, and until when; nobody if None. [s since 1970]"""
    values = {"account_id": account_id, "acting_until": until, "seen_at": at}
    session.execute(update(SignIn).where(SignIn.token == token, SignIn.is_bench).values(values))


def list_sign_ins(session: Session, account_id: int) -> list[SignIn]:
    """Return the devices on which an account is signed in, the one seen last first."""
    query = select(SignIn).where(SignIn.account_id == account_id, SignIn.is_bench.is_(False))
    return list(session.scalars(query.order_by(SignIn.seen_at.desc(), SignIn.token)))


def end_sign_ins(session: Session, account_id: int, *, but: str | None = None) -> int:
    """Sign an account out everywhere, but for one device if its token's digest is given; return on how many."""
    done = session.execute(delete(SignIn).where(SignIn.account_id == account_id, SignIn.token != (but or "")))
    return int(done.rowcount)  # type: ignore[attr-defined]  # a statement that changes rows has it


def end_sign_in(session: Session, token: str) -> None:
    """Sign one device out."""
    session.execute(delete(SignIn).where(SignIn.token == token))


def touch_sign_in(session: Session, token: str, at: float) -> None:
    """Note when a device was last seen."""
    session.execute(update(SignIn).where(SignIn.token == token).values(seen_at=at))


def sweep(session: Session, *, now: float, seen_before: float, tried_before: float) -> None:
    """Forget what has expired, sign-ins not seen since, and failed tries that are older. [s since 1970]"""
    session.execute(delete(SignIn).where((SignIn.seen_at < seen_before) | (SignIn.expires_at < now)))
    session.execute(delete(Slip).where(Slip.expires_at < now))
    session.execute(delete(FailedTry).where(FailedTry.at < tried_before))


def find_slip(session: Session, token: str, *, lock: bool = False) -> Slip | None:
    """Return a one-time link by its token's digest, or None.

    Args:
        session: Where to look.
        token: The digest.
        lock: Whether nobody else may use it before this transaction ends.
    """
    query = select(Slip).where(Slip.token == token)
    return session.scalars(query.with_for_update() if lock else query).one_or_none()


def drop_slips(session: Session, account_id: int | None) -> None:
    """Forget the one-time links of an account, or those that make the first coordinator."""
    of = Slip.account_id.is_(None) if account_id is None else Slip.account_id == account_id
    session.execute(delete(Slip).where(of))


def count_tries(session: Session, subject: str, since: float) -> int:
    """Return how many tries of a subject have failed since a moment."""
    query = select(func.count(FailedTry.id)).where(FailedTry.subject == subject, FailedTry.at >= since)
    return session.scalar(query) or 0


def forget_tries(session: Session, subject: str) -> None:
    """Forget the failed tries of a subject, once one was right."""
    session.execute(delete(FailedTry).where(FailedTry.subject == subject))
