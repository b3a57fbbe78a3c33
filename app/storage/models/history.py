"""Who changed what and when, and what makes a form act once."""

from typing import Any, ClassVar

from sqlalchemy import JSON, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from app.core.words import Via
from app.storage.base import Base, words


class History(Base):
    """One change of one thing. It outlives the account of who made it, and then says only that it was a person.

    Instants are counted in seconds since 1970 (UTC).
    """

    __tablename__ = "history"
    __table_args__ = (Index("ix_history_noun_subject", "noun", "subject_id"), {"sqlite_autoincrement": True})
    marks_data: ClassVar[bool] = False

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[float] = mapped_column(index=True)
    via: Mapped[Via] = mapped_column(words(Via, "via"))
    account_id: Mapped[int | None] = mapped_column(ForeignKey("account.id", ondelete="SET NULL"), index=True)
    noun: Mapped[str] = mapped_column(String(40))
    subject_id: Mapped[int | None]
    subject: Mapped[str] = mapped_column(String(200))  # what it is called
    action: Mapped[str] = mapped_column(String(40))
    changes: Mapped[list[Any]] = mapped_column(JSON)  # column, value before and value after of each
    batch_id: Mapped[int | None] = mapped_column(index=True)  # with which others it was made


class Batch(Base):
    """Changes that were made together, such as pasted rows, and that are undone together."""

    __tablename__ = "batch"
    __table_args__ = ({"sqlite_autoincrement": True},)
    marks_data: ClassVar[bool] = False

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[float]
    account_id: Mapped[int | None] = mapped_column(ForeignKey("account.id", ondelete="SET NULL"), index=True)
    what: Mapped[str]  # such as "growers pasted"
    rows: Mapped[int]  # that were added
    digest: Mapped[str] = mapped_column(String(64), index=True)  # of what was sent, to know it again; else empty
    undone_at: Mapped[float | None]
    undone_by_id: Mapped[int | None] = mapped_column(ForeignKey("account.id", ondelete="SET NULL"), index=True)


LONGEST_ANSWER = 500


class FormKey(Base):
    """A form that was sent, and the address that it was answered with."""

    __tablename__ = "form_key"
    marks_data: ClassVar[bool] = False
    is_transient: ClassVar[bool] = True

    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    made_at: Mapped[float] = mapped_column(index=True)
    body: Mapped[str] = mapped_column(String(64))  # a digest
    answer: Mapped[str] = mapped_column(String(LONGEST_ANSWER))


class LastNumber(Base):
    """The last number of a kind that was ever given: what stands on paper is not given to something else."""

    __tablename__ = "last_number"
    marks_data: ClassVar[bool] = False

    kind: Mapped[str] = mapped_column(String(20), primary_key=True)
    last: Mapped[int]
