"""Who may come in: invitations, signing in and out, roles."""

import hashlib
import secrets
import time
from dataclasses import dataclass

from app.core.words import Role, SlipKind
from app.services.passphrases import check_passphrase, check_pin, comparable, hash_anew, hash_secret, is_right
from app.storage import Session
from app.storage.engine import writing
from app.storage.history import note_history
from app.storage.models import Account, FailedTry, SignIn, Slip
from app.storage.queries.growers import get_grower
from app.storage.queries.people import (
    count_coordinators,
    count_tries,
    drop_slips,
    end_sign_ins,
    find_account,
    find_demo_account,
    find_slip,
    forget_tries,
    get_account,
    keep_hash,
    let_act,
    list_growers_without_account,
    sweep,
)
from app.storage.queries.version import hold_writes, renew_mark

DAY_S = 24 * 60 * 60
LONGEST_S = 366 * DAY_S  # a season, on a device of one's own
SHARED_S = 12 * 60 * 60  # on one that others use too
IDLE_S = {Role.MEMBER: 120 * DAY_S, Role.COORDINATOR: 30 * DAY_S}
SLIP_S = {SlipKind.FIRST: DAY_S, SlipKind.INVITATION: 21 * DAY_S, SlipKind.RESET: 3 * DAY_S}
# After so many wrong tries within that time, further ones are refused; by name, and from one address.
TRIES_S = 15 * 60
MOST_TRIES, MOST_FROM_ADDRESS = 5, 40
# So long after their last request somebody at the bench tablet is forgotten.
BENCH_S = 60


class NameTakenError(Exception):
    """Somebody has this name already."""


class SlipError(Exception):
    """A one-time link is not known, was used, or is too old."""


class WrongError(Exception):
    """No such name, or the passphrase is another; which of them is not told."""


class TooManyTriesError(Exception):
    """Too many wrong tries for a name or from an address."""


class NoPinError(Exception):
    """The person has no PIN, so a coordinator logs for them."""


class LastCoordinatorError(Exception):
    """Nobody would be left who may do everything."""


@dataclass(frozen=True)
class NewSlip:
    """A one-time link that is shown once: only its digest is kept.

    Attributes:
        token: What goes into its address.
        kind: What it is for.
        name: Whom it is for; None for the first coordinator.
        expires_at: Until when. [s since 1970]
    """

    token: str
    kind: SlipKind
    name: str | None
    expires_at: float


def digest_of(token: str) -> str:
    """Return what is kept of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


def make_first_slip(session: Session) -> NewSlip | None:
    """Return a link that makes the first coordinator, in place of an earlier one; None where nobody needs it.

    Where the demo garden is loaded, its own account lets whoever sits at this machine in.
    """
    hold_writes(session)
    if count_coordinators(session) or find_demo_account(session) is not None:
        return None
    return _make_slip(session, SlipKind.FIRST, None)


def invite(session: Session, name: str, role: Role, grower_id: int | None) -> Account:
    """Add an account that waits for its person; `make_slip` lets them in.

    Raises:
        NameTakenError: There is an account of this name.
        NotFoundError: There is no such grower.
    """
    hold_writes(session)
    name = " ".join(name.split())
    if find_account(session, comparable(name)) is not None:
        raise NameTakenError
    if grower_id is not None:
        get_grower(session, grower_id)
    return _add_account(session, name, role, grower_id)


def invite_growers(session: Session) -> tuple[list[Account], list[str]]:
    """Add a member's account for each grower whom none is of.

    Returns:
        The accounts, and the names of growers that an account has already which is not theirs.
    """
    hold_writes(session)
    added, taken = [], []
    for grower_id, name in list_growers_without_account(session):
        if find_account(session, comparable(name)) is None:
            added.append(_add_account(session, name, Role.MEMBER, grower_id))
        else:
            taken.append(name)
    return added, taken


def _add_account(session: Session, name: str, role: Role, grower_id: int | None) -> Account:
    account = Account(
        name=name, name_key=comparable(name), role=role, grower_id=grower_id, is_demo=False, made_at=time.time()
    )
    session.add(account)
    session.flush()
    return account


def make_slip(session: Session, account_id: int) -> NewSlip:
    """Return a new link for an account: to come in for the first time, or with another passphrase than the lost one.

    Raises:
        NotFoundError: There is no such account.
    """
    hold_writes(session)
    account = get_account(session, account_id)
    kind = SlipKind.INVITATION if account.passphrase is None else SlipKind.RESET
    note_history(session, "account", f"{kind} slip made", subject=account.name, subject_id=account.id)
    return _make_slip(session, kind, account)


def _make_slip(session: Session, kind: SlipKind, account: Account | None) -> NewSlip:
    drop_slips(session, None if account is None else account.id)
    token, now = secrets.token_urlsafe(24), time.time()
    slip = Slip(
        token=digest_of(token),
        kind=kind,
        account_id=None if account is None else account.id,
        made_at=now,
        expires_at=now + SLIP_S[kind],
    )
    session.add(slip)
    session.flush()
    return NewSlip(token, kind, None if account is None else account.name, slip.expires_at)


def open_slip(session: Session, token: str) -> tuple[Slip, Account | None]:
    """Return a one-time link that can still be used, and whom it is for; looking uses nothing up.

    Raises:
        SlipError: It is not known, was used, or is too old.
    """
    slip = find_slip(session, digest_of(token))
    if slip is None or slip.used_at is not None or slip.expires_at < time.time():
        raise SlipError
    return slip, None if slip.account_id is None else get_account(session, slip.account_id)


def use_slip(session: Session, token: str, *, name: str, passphrase: str, garden: str | None) -> Account:
    """Use a one-time link up: set the passphrase of its account, or make the first coordinator.

    Args:
        session: Its transaction takes it all; it is begun anew after the passphrase is hashed.
        token: The link's.
        name: Name of the first coordinator; others have one.
        passphrase: What the person chose.
        garden: The garden's name, if there is one.

    Raises:
        SlipError: It is not known, was used, or is too old.
        WeakPassphraseError: The passphrase would be guessed.
        NameTakenError: There is an account of this name.
        BusyError: Too many are doing so.
    """
    _, account = open_slip(session, token)
    name = " ".join(name.split()) if account is None else account.name
    check_passphrase(passphrase, [name, garden or ""])
    session.rollback()  # nobody waits while it is hashed
    known = hash_secret(passphrase)
    hold_writes(session)
    slip, account = open_slip(session, token)
    if account is None:
        if find_account(session, comparable(name)) is not None:
            raise NameTakenError
        account = Account(
            name=name, name_key=comparable(name), role=Role.COORDINATOR, is_demo=False, made_at=time.time()
        )
        session.add(account)
    account.passphrase = known
    slip.used_at = time.time()
    session.flush()
    forget_tries(session, _by_name(account.name))
    end_sign_ins(session, account.id)
    return account


def sign_in(session: Session, name: str, passphrase: str, address: str) -> Account:
    """Return the account of a name and a passphrase.

    The try is counted before it is looked at, so that many at once are counted like many in a row.

    Args:
        session: Is committed in between.
        name: As typed.
        passphrase: As typed.
        address: Where the request came from.

    Raises:
        WrongError: Name or passphrase are not right.
        TooManyTriesError: Too many were wrong within a quarter of an hour.
        BusyError: Too many are signing in.
    """
    count_try(session, _by_name(name), address)
    account = find_account(session, comparable(name))
    known, account_id = (None, None) if account is None else (account.passphrase, account.id)
    session.rollback()
    if not is_right(passphrase, known) or account_id is None or known is None:
        raise WrongError
    fresh = hash_anew(passphrase, known)
    hold_writes(session)
    account = get_account(session, account_id)
    if account.passphrase != known:
        raise WrongError
    if fresh is not None:
        keep_hash(session, account_id, passphrase=fresh)
    forget_tries(session, _by_name(name))
    forget_tries(session, _by_address(address))
    return account


def count_try(session: Session, subject: str, address: str) -> None:
    """Count a try of a subject and from an address, before it is looked at, and commit that.

    Raises:
        TooManyTriesError: Too many were wrong within a quarter of an hour.
    """
    with writing():  # this commit is not what the request is about: it goes on to write
        hold_writes(session)
        now = time.time()
        limits = ((subject, MOST_TRIES), (_by_address(address), MOST_FROM_ADDRESS))
        if any(count_tries(session, one, now - TRIES_S) >= most for one, most in limits):
            session.rollback()
            raise TooManyTriesError
        session.add_all(FailedTry(subject=one, at=now) for one, _ in limits)
        session.commit()


def _by_name(name: str) -> str:
    return digest_of(f"name {comparable(name)}")


def _by_address(address: str) -> str:
    return digest_of(f"address {address}")


def add_sign_in(session: Session, account: Account, *, own_device: bool, device: str | None) -> str:
    """Sign an account in on a device; return the token that the device keeps.

    Args:
        session: Its transaction takes it.
        account: Whose.
        own_device: Whether nobody else uses the device, so that it may last a season.
        device: What the device says that it is.
    """
    now = time.time()
    sweep(session, now=now, seen_before=now - max(IDLE_S.values()), tried_before=now - DAY_S)
    return _add_sign_in(session, account.id, LONGEST_S if own_device else SHARED_S, device, is_bench=False)


def add_bench(session: Session, device: str | None) -> str:
    """Make a device the bench tablet, signed in for nobody; return the token that it keeps."""
    return _add_sign_in(session, None, LONGEST_S, device, is_bench=True)


def _add_sign_in(
    session: Session, account_id: int | None, seconds: float, device: str | None, *, is_bench: bool
) -> str:
    token, now = secrets.token_urlsafe(32), time.time()
    session.add(
        SignIn(
            token=digest_of(token),
            account_id=account_id,
            is_bench=is_bench,
            made_at=now,
            seen_at=now,
            expires_at=now + seconds,
            device=device,
        )
    )
    session.flush()
    return token


def change_account(session: Session, account_id: int, *, name: str, role: Role, grower_id: int | None) -> Account:
    """Change what a coordinator sets of an account; with another role it is signed out everywhere.

    Raises:
        NotFoundError: There is no such account, or no such grower.
        NameTakenError: Another account has this name.
        LastCoordinatorError: Nobody would be left who may do everything.
    """
    account = rename(session, account_id, name)
    if grower_id is not None:
        get_grower(session, grower_id)
    account.grower_id = grower_id
    return change_role(session, account_id, role)


def rename(session: Session, account_id: int, name: str) -> Account:
    """Give an account another name.

    Raises:
        NotFoundError: There is no such account.
        NameTakenError: Another account has this name.
    """
    hold_writes(session)
    account, name = get_account(session, account_id), " ".join(name.split())
    other = find_account(session, comparable(name))
    if other is not None and other.id != account.id:
        raise NameTakenError
    account.name, account.name_key = name, comparable(name)
    session.flush()
    return account


def set_language(session: Session, account_id: int, code: str) -> None:
    """Let an account read in a language from now on, their sheets too: those are kept under the mark of the data."""
    hold_writes(session)
    get_account(session, account_id).language = code
    renew_mark(session)
    session.flush()


def change_passphrase(session: Session, account_id: int, old: str, new: str, *, garden: str | None, token: str) -> None:
    """Change the passphrase of who knows the old one; they stay signed in on one device.

    Args:
        session: Is committed in between; its last transaction takes the change.
        account_id: Whose.
        old: The old passphrase, as typed.
        new: What the person chose.
        garden: The garden's name, if there is one.
        token: Digest of what the one device is signed in by.

    Raises:
        WeakPassphraseError: The new one would be guessed.
        WrongError: The old one is not right.
        TooManyTriesError: Too many were wrong within a quarter of an hour.
        BusyError: Too many are doing so.
    """
    check_passphrase(new, [get_account(session, account_id).name, garden or ""])
    account, known = _ask_again(session, account_id, old, new)
    account.passphrase = known
    session.flush()
    end_sign_ins(session, account_id, but=token)


def change_pin(session: Session, account_id: int, passphrase: str, pin: str) -> None:
    """Set the PIN of who knows the passphrase; by it they say who they are at the bench tablet.

    Args:
        session: Is committed in between; its last transaction takes the change.
        account_id: Whose.
        passphrase: As typed.
        pin: 4 to 8 digits.

    Raises:
        WeakPassphraseError: It would be guessed.
        WrongError: The passphrase is not right.
        TooManyTriesError: Too many were wrong within a quarter of an hour.
        BusyError: Too many are doing so.
    """
    check_pin(pin)
    account, known = _ask_again(session, account_id, passphrase, pin)
    account.pin = known
    session.flush()
    forget_tries(session, _by_pin(account_id))


def _ask_again(session: Session, account_id: int, passphrase: str, secret: str) -> tuple[Account, str]:
    """Return the account of who knows its passphrase, to be changed, and the hash of a secret."""
    account = get_account(session, account_id)
    name, known = account.name, account.passphrase
    session.rollback()
    count_try(session, _by_name(name), f"account {account_id}")
    if not is_right(passphrase, known):
        raise WrongError
    fresh = hash_secret(secret)
    hold_writes(session)
    account = get_account(session, account_id)
    if account.passphrase != known:
        raise WrongError
    forget_tries(session, _by_name(name))
    forget_tries(session, _by_address(f"account {account_id}"))
    return account, fresh


def clear_pin(session: Session, account_id: int) -> None:
    """Remove the PIN of an account."""
    hold_writes(session)
    get_account(session, account_id).pin = None
    session.flush()
    forget_tries(session, _by_pin(account_id))


def come_to_bench(session: Session, token: str, account_id: int, pin: str, address: str) -> Account:
    """Let somebody act at a bench tablet for a short time.

    Args:
        session: Is committed in between; its last transaction takes it.
        token: Digest of what the tablet is signed in by.
        account_id: Who.
        pin: As typed.
        address: Where the request came from.

    Raises:
        NotFoundError: There is no such account.
        NoPinError: They have no PIN.
        WrongError: The PIN is another.
        TooManyTriesError: Too many were wrong within a quarter of an hour.
        BusyError: Too many are doing so.
    """
    known = get_account(session, account_id).pin
    if known is None:
        raise NoPinError
    session.rollback()
    count_try(session, _by_pin(account_id), address)
    if not is_right(pin, known):
        raise WrongError
    fresh = hash_anew(pin, known)
    hold_writes(session)
    account = get_account(session, account_id)
    if account.pin != known:
        raise WrongError
    if fresh is not None:
        keep_hash(session, account_id, pin=fresh)
    forget_tries(session, _by_pin(account_id))
    forget_tries(session, _by_address(address))
    now = time.time()
    let_act(session, token, account_id, now + BENCH_S, now)
    return account


def leave_bench(session: Session, token: str) -> None:
    """Forget who acts at a bench tablet."""
    let_act(session, token, None, None, time.time())


def _by_pin(account_id: int) -> str:
    return digest_of(f"pin {account_id}")


def change_role(session: Session, account_id: int, role: Role) -> Account:
    """Give an account another role; it is signed out everywhere, since it may see other things now.

    Raises:
        NotFoundError: There is no such account.
        LastCoordinatorError: Nobody would be left who may do everything.
    """
    hold_writes(session)
    account = get_account(session, account_id)
    if account.role == role:
        return account
    if role is not Role.COORDINATOR:
        require_other_coordinator(session, account)
    account.role = role
    session.flush()
    end_sign_ins(session, account.id)
    return account


def require_other_coordinator(session: Session, account: Account) -> None:
    """Refuse to take away the last one who may do everything.

    Raises:
        LastCoordinatorError: It is this account.
    """
    is_one = account.role is Role.COORDINATOR and account.passphrase is not None and not account.is_demo
    if is_one and count_coordinators(session) <= 1:
        raise LastCoordinatorError
