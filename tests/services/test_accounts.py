"""Accounts without pages: passphrases, PINs, tries, roles, what leaves with a person and what stays."""

import time

import pytest
from argon2 import PasswordHasher, extract_parameters
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import func, select, update

from app.core.words import Role, Via
from app.services import accounts
from app.services.accounts import (
    MOST_FROM_ADDRESS,
    MOST_TRIES,
    TRIES_S,
    LastCoordinatorError,
    NameTakenError,
    NoPinError,
    SlipError,
    TooManyTriesError,
    WrongError,
)
from app.services.folder import DEMO_FOLDER, load_demo, load_folder
from app.services.leaving import GONE, WithGrower, erase, find_leaving, own_data
from app.services.passphrases import WeakPassphraseError, check_passphrase, check_pin, comparable, hash_secret, is_right
from app.services.removal import InUseError
from app.storage.history import Actor, note_history, set_actor
from app.storage.models import Account, FailedTry, Grower, History, SignIn, Slip, Sowing
from tests import rows
from tests.people import add_account

GOOD, OTHER = "green tin watering can", "brown earthen flower pot"


def coordinator(session, name="Ruth Tan"):
    return add_account(session, name, passphrase=hash_secret(GOOD))


def text_of(session):
    """Return all that stands in the tables that outlive a person, as one text."""
    found = []
    for model in (History, Account, Grower, Sowing, SignIn, Slip):
        columns = [column.key for column in model.__table__.columns]
        found += [repr([getattr(row, key) for key in columns]) for row in session.scalars(select(model))]
    return "\n".join(found)


# ---------------------------------------------------------------- passphrases and PINs


def test_hash_is_argon2id_with_at_least_the_owasp_choice():
    """OWASP Password Storage Cheat Sheet: argon2id, 19 MiB, 2 passes, 1 lane; read by the library's own parser."""
    known = hash_secret(GOOD)
    found = extract_parameters(known)
    assert (found.type.name, found.parallelism) == ("ID", 1)
    assert found.memory_cost >= 19 * 1024
    assert found.time_cost >= 2
    assert PasswordHasher().verify(known, GOOD)


def test_equal_passphrases_have_different_hashes():
    assert hash_secret(GOOD) != hash_secret(GOOD)


@pytest.mark.parametrize(
    "text", ["short", "", "password123", "aaaaaaaaaaaa", "Ruth Tan 123", "wrenmoor wrenmoor", "x" * 129, "qwertyuiop"]
)
def test_weak_passphrases_are_refused_with_words(text):
    with pytest.raises(WeakPassphraseError, match=r"\.$"):
        check_passphrase(text, ["Ruth Tan", "Wrenmoor"])


@pytest.mark.parametrize("text", [GOOD, "Übergroße Möhren im Beet", "12 potatoes, 3 leeks"])
def test_good_passphrases_pass(text):
    check_passphrase(text, ["Ruth Tan", "Wrenmoor"])


@pytest.mark.parametrize(
    "pin", ["123", "1234", "4321", "0000", "12345678", "123456789", "12a4", "\uff11\uff12\uff14\uff19", "", "4 82"]
)
def test_pins_that_would_be_guessed_are_refused(pin):
    with pytest.raises(WeakPassphraseError):
        check_pin(pin)


@given(st.text(min_size=1, max_size=40))
def test_names_are_compared_whatever_their_capitals_and_blanks(name):
    assert comparable(f"  {name.upper()} ") == comparable(name.upper())
    assert comparable(comparable(name)) == comparable(name)


def test_letters_written_in_two_ways_are_one_passphrase():
    assert is_right("Mo\u0308hren im gru\u0308nen Beet", hash_secret("M\u00f6hren im gr\u00fcnen Beet"))


# ---------------------------------------------------------------- signing in and tries


def test_only_the_right_passphrase_signs_in(session):
    account = coordinator(session)
    session.commit()
    assert accounts.sign_in(session, " ruth TAN", GOOD, "10.0.0.9").id == account.id
    for name, passphrase in (("Ruth Tan", OTHER), ("Ruth", GOOD), ("", ""), ("Ruth Tan", "")):
        with pytest.raises(WrongError):
            accounts.sign_in(session, name, passphrase, "10.0.0.9")


def test_a_hash_that_costs_less_than_it_should_by_now_is_made_anew_when_its_person_signs_in(session):
    ann = accounts.invite(session, "Ann", Role.MEMBER, None)
    cheap = PasswordHasher(time_cost=1, memory_cost=8 * 1024, parallelism=1)
    ann.passphrase, ann.pin = cheap.hash("correct horse battery"), cheap.hash("2580")
    session.commit()
    told = session.scalar(select(func.count()).select_from(History))
    accounts.sign_in(session, "Ann", "correct horse battery", "10.0.0.7")
    session.commit()
    accounts.come_to_bench(session, "nobody's tablet", ann.id, "2580", "10.0.0.7")
    session.commit()
    session.refresh(ann)
    for fresh, secret in ((ann.passphrase, "correct horse battery"), (ann.pin, "2580")):
        assert fresh.startswith("$argon2id$v=19$m=19456,t=2,p=1$")
        assert is_right(secret, fresh)
    assert session.scalar(select(func.count()).select_from(History)) == told  # nobody has changed anything


def test_tries_are_counted_by_name_and_lapse(session):
    coordinator(session)
    session.commit()
    for _ in range(MOST_TRIES):
        with pytest.raises(WrongError):
            accounts.sign_in(session, "Ruth Tan", OTHER, "10.0.0.9")
    with pytest.raises(TooManyTriesError):
        accounts.sign_in(session, "RUTH tan", GOOD, "10.0.0.10")
    session.execute(update(FailedTry).values(at=FailedTry.at - TRIES_S - 1))
    session.commit()
    accounts.sign_in(session, "Ruth Tan", GOOD, "10.0.0.9")
    session.commit()
    assert session.scalar(select(func.count(FailedTry.id)).where(FailedTry.at > time.time() - TRIES_S)) == 0


def test_tries_are_counted_by_address_over_many_names(session):
    session.add_all(
        FailedTry(subject=accounts._by_address("10.0.0.9"), at=time.time()) for _ in range(MOST_FROM_ADDRESS)
    )
    session.commit()
    with pytest.raises(TooManyTriesError):
        accounts.count_try(session, "somebody else", "10.0.0.9")
    accounts.count_try(session, "somebody else", "10.0.0.10")


def test_tries_hold_no_name_and_no_address(session):
    with pytest.raises(WrongError):
        accounts.sign_in(session, "Odile Brandt", OTHER, "192.0.2.77")
    subjects = list(session.scalars(select(FailedTry.subject)))
    assert len(subjects) == 2
    assert not any("odile" in subject or "192" in subject for subject in subjects if len(subject) != 64)


def test_somebody_without_a_pin_cannot_come_to_the_bench(session):
    account = coordinator(session)
    token = accounts.digest_of(accounts.add_bench(session, "Tablet"))
    session.commit()
    with pytest.raises(NoPinError):
        accounts.come_to_bench(session, token, account.id, "4827", "10.0.0.9")


# ---------------------------------------------------------------- roles and slips


def test_last_coordinator_stays_one(session):
    one = coordinator(session)
    with pytest.raises(LastCoordinatorError):
        accounts.change_role(session, one.id, Role.MEMBER)
    with pytest.raises(LastCoordinatorError):
        erase(session, one.id, WithGrower.KEEP)
    accounts.invite(session, "Waits Still", Role.COORDINATOR, None)
    with pytest.raises(LastCoordinatorError):  # who has not come in yet could not help
        accounts.change_role(session, one.id, Role.MEMBER)
    coordinator(session, "Ada Brandt")
    assert accounts.change_role(session, one.id, Role.MEMBER).role is Role.MEMBER


def test_names_are_one_persons(session):
    accounts.invite(session, "Ada  Brandt", Role.MEMBER, None)
    with pytest.raises(NameTakenError):
        accounts.invite(session, "ada brandt", Role.MEMBER, None)
    other = accounts.invite(session, "Ada B.", Role.MEMBER, None)
    with pytest.raises(NameTakenError):
        accounts.rename(session, other.id, "ADA BRANDT")
    assert accounts.rename(session, other.id, "Ada B").name == "Ada B"


def test_all_growers_without_an_account_are_invited_once(session):
    rows.garden(session)
    ada, ines = rows.grower(session, "Ada Brandt"), rows.grower(session, "Ines Moreau")
    rows.grower(session, "Tomas Keel")
    accounts.invite(session, "Ada", Role.MEMBER, ada.id)
    accounts.invite(session, "tomas keel", Role.MEMBER, None)  # of this name, but of no grower
    added, taken = accounts.invite_growers(session)
    assert [(account.name, account.grower_id) for account in added] == [("Ines Moreau", ines.id)]
    assert taken == ["Tomas Keel"]
    assert accounts.invite_growers(session)[0] == []


def test_new_slip_ends_the_one_before_and_setting_a_passphrase_signs_out(session):
    account = coordinator(session)
    accounts.add_sign_in(session, account, own_device=True, device="Phone")
    first, second = accounts.make_slip(session, account.id), accounts.make_slip(session, account.id)
    session.commit()
    with pytest.raises(SlipError):
        accounts.open_slip(session, first.token)
    accounts.use_slip(session, second.token, name="", passphrase=OTHER, garden=None)
    session.commit()
    assert session.scalar(select(func.count()).select_from(SignIn)) == 0
    accounts.sign_in(session, "Ruth Tan", OTHER, "10.0.0.9")
    with pytest.raises(SlipError):
        accounts.use_slip(session, second.token, name="", passphrase=GOOD, garden=None)


# ---------------------------------------------------------------- another garden


def test_accounts_are_linked_again_by_the_growers_names(session):
    load_folder(session, DEMO_FOLDER)
    names = list(session.scalars(select(Grower.name).order_by(Grower.name)))[:2]
    for name in names:
        grower_id = session.scalar(select(Grower.id).where(Grower.name == name))
        add_account(session, name, Role.MEMBER, grower_id)
    session.get_one(Grower, session.scalar(select(Grower.id).where(Grower.name == names[1]))).name = "Renamed"
    session.commit()
    load_folder(session, DEMO_FOLDER, replace=True)
    session.commit()
    session.expire_all()
    linked = {account.name: account.grower_id for account in session.scalars(select(Account))}
    assert session.get_one(Grower, linked[names[0]]).name == names[0]
    assert linked[names[1]] is None


def test_demo_account_comes_with_the_demo_and_goes_with_another_garden(session):
    load_demo(session)
    assert session.scalars(select(Account.is_demo)).all() == [True]
    assert accounts.make_first_slip(session) is None
    load_folder(session, DEMO_FOLDER, replace=True)
    assert session.scalars(select(Account)).all() == []
    assert accounts.make_first_slip(session) is not None


def test_demo_account_does_not_come_where_somebody_can_sign_in(session):
    coordinator(session)
    load_demo(session)
    assert session.scalars(select(Account.is_demo)).all() == [False]


# ---------------------------------------------------------------- leaving


@pytest.fixture
def leaver(session):
    """Return a member with a grower of another name, sowings, devices, and a history of both names."""
    rows.garden(session)
    crop = rows.crop(session, box=rows.container(session))
    grower = rows.grower(session, "Odile Brandt-Núñez", plot="14", contact="odile@plot.example", days="monday")
    rows.sowing(session, grower, crop)
    grower.contact = "0170 555 01"
    coordinator(session)
    member = add_account(session, "Odile old name", Role.MEMBER, grower.id, hash_secret(GOOD), hash_secret("4827"))
    session.flush()
    accounts.rename(session, member.id, "Odile")
    accounts.add_sign_in(session, member, own_device=True, device="Odile's phone")
    set_actor(session, Actor(member.id, Via.PAGE))
    note_history(session, "tray", "marked as sown", subject="12")
    note_history(session, "seed lot", "changed", subject="Jar", changes=[("source", None, "Odile Brandt-Núñez")])
    set_actor(session, Actor(None, Via.PROGRAM))
    session.commit()
    return member.id, grower.id


@pytest.mark.parametrize("others", [WithGrower.HIDE])
def test_erased_person_stands_nowhere_any_more(session, leaver, others):
    """Every table is read as text afterwards: neither name, nor an earlier one, nor contact is in it."""
    account_id, grower_id = leaver
    before = session.scalar(select(func.count(History.id)))
    assert erase(session, account_id, others) == "Odile"
    session.commit()
    session.expire_all()
    text = text_of(session)
    for told in ("Odile", "odile", "N\\xfa", "Núñez", "0170 555", "plot.example"):
        assert told not in text, told
    assert session.get_one(Grower, grower_id).name == "Plot 14"
    assert session.scalar(select(func.count(Sowing.id))) == 1
    assert session.scalar(select(func.count(History.id))) > before
    entry = session.scalars(select(History).where(History.action == "marked as sown")).one()
    assert (entry.account_id, entry.subject) == (None, "12")


def test_grower_can_stay_as_they_are_when_their_account_goes(session, leaver):
    account_id, grower_id = leaver
    erase(session, account_id, WithGrower.KEEP)
    session.commit()
    grower = session.get_one(Grower, grower_id)
    assert (grower.name, grower.contact) == ("Odile Brandt-Núñez", "0170 555 01")
    subjects = set(session.scalars(select(History.subject).where(History.noun == "account")))
    assert subjects == {"Ruth Tan", GONE}


def test_grower_with_sowings_is_not_removed_and_nothing_is_half_done(session, leaver):
    account_id, _ = leaver
    with pytest.raises(InUseError):
        erase(session, account_id, WithGrower.REMOVE)
    session.rollback()
    assert session.get_one(Account, account_id).name == "Odile"


def test_what_goes_is_counted_before(session, leaver):
    found = find_leaving(session, leaver[0])
    assert (found.sowings, found.changes, found.devices, found.neutral) == (1, 2, 1, "Plot 14")


def test_coordinator_can_erase_themselves_where_another_is_left(session):
    rows.garden(session)
    one, grower = coordinator(session), rows.grower(session, "Ruth Tan")
    one.grower_id = grower.id
    coordinator(session, "Ada Brandt")
    session.commit()
    set_actor(session, Actor(one.id, Via.PAGE))
    erase(session, one.id, WithGrower.HIDE)
    session.commit()
    assert "Ruth" not in text_of(session)


def test_own_data_holds_all_that_is_kept_and_nothing_secret(session, leaver):
    data = own_data(session, leaver[0])
    assert data["account"]["name"] == "Odile"
    assert data["grower"]["contact"] == "0170 555 01"
    assert [sowing["plants"] for sowing in data["sowings"]] == [session.scalars(select(Sowing.plants)).one()]
    assert {(entry["by_you"], entry["what"]) for entry in data["changes_by_you_or_of_you"]} == {
        (True, "tray"),
        (True, "seed lot"),
        (False, "account"),
        (False, "grower"),
    }
    assert "argon2" not in repr(data)
