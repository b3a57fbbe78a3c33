"""Accounts, and what lets their people in: sign-ins, one-time links, failed tries.

Instants are counted in seconds since 1970 (UTC). Of tokens only digests are kept.
"""

from typing import ClassVar

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from app.core.words import Role, SlipKind
from app.storage.base import Base, words

DIGEST = String(64)
HASH = String(200)


class Account(Base):
    """A person who signs in; without a passphrase, one whose invitation still waits."""

    __tablename__ = "account"
    __table_args__ = ({"sqlite_autoincrement": True},)
    marks_data: ClassVar[bool] = False

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    name_key: Mapped[str] = mapped_column(String(160), unique=True)  # as it is compared: letters of one size
    role: Mapped[Role] = mapped_column(words(Role, "role"))
    grower_id: Mapped[int | None] = mapped_column(ForeignKey("grower.id", ondelete="SET NULL"), index=True)
    passphrase: Mapped[str | None] = mapped_column(HASH)
    pin: Mapped[str | None] = mapped_column(HASH)
    language: Mapped[str | None] = mapped_column(String(8))
    email: Mapped[str | None] = mapped_column(String(200))  # for the weekly letter, of those who want it
    is_demo: Mapped[bool]
    made_at: Mapped[float]


class SignIn(Base):
    """A device on which somebody is signed in; the bench tablet is so for nobody, or for one for a short time."""

    __tablename__ = "sign_in"
    __table_args__ = (CheckConstraint("is_bench OR account_id IS NOT NULL", name="of_somebody"),)
    marks_data: ClassVar[bool] = False
    is_transient: ClassVar[bool] = True

    token: Mapped[str] = mapped_column(DIGEST, primary_key=True)
    account_id: Mapped[int | None] = mapped_column(ForeignKey("account.id", ondelete="CASCADE"), index=True)
    is_bench: Mapped[bool]
    made_at: Mapped[float]
    seen_at: Mapped[float]
    expires_at: Mapped[float]
    acting_until: Mapped[float | None]  # when the bench tablet forgets who is at it
    device: Mapped[str | None]


class Slip(Base):
    """A one-time link, printed or shown once."""

    __tablename__ = "slip"
    __table_args__ = (CheckConstraint("(kind = 'first') = (account_id IS NULL)", name="first_is_nobodys"),)
    marks_data: ClassVar[bool] = False
    is_transient: ClassVar[bool] = True

    token: Mapped[str] = mapped_column(DIGEST, primary_key=True)
    kind: Mapped[SlipKind] = mapped_column(words(SlipKind, "kind"))
    account_id: Mapped[int | None] = mapped_column(ForeignKey("account.id", ondelete="CASCADE"), index=True)
    made_at: Mapped[float]
    expires_at: Mapped[float]
    used_at: Mapped[float | None]


class FailedTry(Base):
    """A passphrase or PIN that was wrong; counted here, so that limits outlive a restart."""

    __tablename__ = "failed_try"
    marks_data: ClassVar[bool] = False
    is_transient: ClassVar[bool] = True

    id: Mapped[int] = mapped_column(primary_key=True)
    subject: Mapped[str] = mapped_column(DIGEST, index=True)  # of the name or the address that was tried
    at: Mapped[float]
