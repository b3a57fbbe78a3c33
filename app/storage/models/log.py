"""The log: what members did and saw, what they ticked off, and tests of seed."""

import datetime as dt

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from app.core.words import Cause, LogKind, Tick
from app.storage.base import Base, words


class LogEntry(Base):
    """One entry. It is never changed: another one supersedes it, and both stay."""

    __tablename__ = "log_entry"
    __table_args__ = (
        CheckConstraint("count >= 0", name="count_not_negative"),
        CheckConstraint("seeds >= 0", name="seeds_not_negative"),
        CheckConstraint("supersedes_id <> id", name="supersedes_another"),
        Index("ix_log_entry_sowing_id_date", "sowing_id", "date"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    sowing_id: Mapped[int] = mapped_column(ForeignKey("sowing.id"))
    kind: Mapped[LogKind] = mapped_column(words(LogKind, "kind"))
    date: Mapped[dt.date] = mapped_column(index=True)
    count: Mapped[int]  # cells for sown and up, else plants; 0 takes back what it supersedes
    seeds: Mapped[int | None]
    tray_id: Mapped[int | None] = mapped_column(ForeignKey("tray.id", ondelete="SET NULL"), index=True)
    seed_lot_id: Mapped[int | None] = mapped_column(ForeignKey("seed_lot.id", ondelete="SET NULL"), index=True)
    cause: Mapped[Cause | None] = mapped_column(words(Cause, "cause"))
    note: Mapped[str | None] = mapped_column(String(500))
    supersedes_id: Mapped[int | None] = mapped_column(ForeignKey("log_entry.id"), unique=True)
    cells: Mapped[str | None] = mapped_column(String(4000))  # row-column of each cell that it is of, such as "1-1 1-2"
    # Who did it, and who typed it in: a coordinator may do so for somebody without a phone.
    grower_id: Mapped[int | None] = mapped_column(ForeignKey("grower.id", ondelete="SET NULL"), index=True)
    account_id: Mapped[int | None] = mapped_column(ForeignKey("account.id", ondelete="SET NULL"), index=True)
    made_at: Mapped[float | None]  # none where it came in a folder, which does not tell


class Ticked(Base):
    """A task of a sowing that was ticked off on a day, and leaves no count."""

    __tablename__ = "ticked"
    __table_args__ = (
        UniqueConstraint("sowing_id", "task", "date", name="uq_ticked_sowing_task_date"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    sowing_id: Mapped[int] = mapped_column(ForeignKey("sowing.id", ondelete="CASCADE"))
    task: Mapped[Tick] = mapped_column(words(Tick, "task"))
    date: Mapped[dt.date]
    account_id: Mapped[int | None] = mapped_column(ForeignKey("account.id", ondelete="SET NULL"), index=True)
    made_at: Mapped[float | None]


class SeedTest(Base):
    """Seeds of a lot on damp paper, or cells sown in a season before: how many came up."""

    __tablename__ = "seed_test"
    __table_args__ = (
        CheckConstraint("tried > 0", name="tried_positive"),
        CheckConstraint("seeds_per_cell > 0", name="seeds_per_cell_positive"),
        CheckConstraint("up >= 0 AND up <= tried", name="up_within_tried"),
        CheckConstraint("days > 0", name="days_positive"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    seed_lot_id: Mapped[int] = mapped_column(ForeignKey("seed_lot.id", ondelete="CASCADE"), index=True)
    date: Mapped[dt.date]  # the day on which it was begun
    tried: Mapped[int]  # seeds on paper, or cells
    seeds_per_cell: Mapped[float] = mapped_column(default=1.0)  # 1 on paper
    up: Mapped[int]
    days: Mapped[int | None]  # after how many days it was counted; none where cells of a season before were
