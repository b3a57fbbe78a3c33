"""Trays, their cells, and where they stand from when to when."""

from datetime import date

from sqlalchemy import CheckConstraint, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from app.core.words import CellState, Place
from app.storage.base import Base, words


class Tray(Base):
    """One dealt tray, of cells that are sown or of pots that are potted on, under the number on its label."""

    __tablename__ = "tray"
    __table_args__ = (
        CheckConstraint("number > 0", name="number_positive"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    number: Mapped[int] = mapped_column(unique=True)
    container_id: Mapped[int] = mapped_column(ForeignKey("container.id"), index=True)
    sow_on: Mapped[date]  # for pots the day on which they are filled
    potted_on: Mapped[bool]
    pinned: Mapped[bool]  # whoever is in it stays in it when trays are dealt anew


class Cell(Base):
    """One cell of a tray. Its key lets it belong to one sowing at most; empty but owned, it is kept to be sown."""

    __tablename__ = "cell"
    __table_args__ = (
        CheckConstraint("row_number > 0 AND column_number > 0", name="in_grid"),
        CheckConstraint("state = 'empty' OR sowing_id IS NOT NULL", name="content_has_sowing"),
        Index("ix_cell_sowing_id", "sowing_id", "tray_id", "state"),  # the plan counts cells in it alone
        {"sqlite_with_rowid": False},  # the cells of a tray lie side by side
    )

    tray_id: Mapped[int] = mapped_column(ForeignKey("tray.id", ondelete="CASCADE"), primary_key=True)
    row_number: Mapped[int] = mapped_column(primary_key=True)
    column_number: Mapped[int] = mapped_column(primary_key=True)
    sowing_id: Mapped[int | None] = mapped_column(ForeignKey("sowing.id"))
    state: Mapped[CellState] = mapped_column(words(CellState, "state"))


class Stay(Base):
    """A tray in a place, from a day up to the day it leaves; without a shelf it waits for a position.

    That a position holds one tray a day, and a tray one position, the database refuses to break: by
    triggers on SQLite, by exclusion on PostgreSQL (migration 0003).
    """

    __tablename__ = "stay"
    __table_args__ = (
        CheckConstraint("end_on > begin_on", name="lasts_a_day"),
        CheckConstraint(
            "(shelf_id IS NULL) = (level IS NULL) AND (shelf_id IS NULL) = (slot IS NULL)", name="whole_position"
        ),
        CheckConstraint("level > 0 AND slot > 0", name="position_counts_from_1"),
        CheckConstraint("NOT pinned OR shelf_id IS NOT NULL", name="pin_has_position"),
        Index("ix_stay_position", "shelf_id", "level", "slot"),  # the triggers look there at every row
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    tray_id: Mapped[int] = mapped_column(ForeignKey("tray.id", ondelete="CASCADE"), index=True)
    place: Mapped[Place] = mapped_column(words(Place, "place"))
    shelf_id: Mapped[int | None] = mapped_column(ForeignKey("shelf.id"))
    level: Mapped[int | None]
    slot: Mapped[int | None]
    begin_on: Mapped[date]
    end_on: Mapped[date]
    pinned: Mapped[bool]
