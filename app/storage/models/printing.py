"""What labels are printed with: printers, label stock of the garden's own, the address on paper; and what was made."""

from datetime import date

from sqlalchemy import CheckConstraint, String
from sqlalchemy.orm import Mapped, mapped_column

from app.core.house.label_sheets import LabelKind, StockPaper
from app.storage.base import Base, words


class Printer(Base):
    """A printer, and how far off what it prints comes out."""

    __tablename__ = "printer"
    __table_args__ = (CheckConstraint("scale_percent > 0", name="scale_positive"), {"sqlite_autoincrement": True})

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    offset_x_mm: Mapped[float]  # to the right
    offset_y_mm: Mapped[float]  # downwards
    scale_percent: Mapped[float]
    turned: Mapped[bool]  # takes labels of their own page by the other side first


class LabelStock(Base):
    """Label stock that people measured themselves."""

    __tablename__ = "label_stock"
    __table_args__ = (
        CheckConstraint("columns > 0 AND rows > 0", name="has_labels"),
        CheckConstraint("label_width_mm > 0 AND label_height_mm > 0", name="labels_have_size"),
        CheckConstraint("left_mm >= 0 AND top_mm >= 0", name="margins_not_negative"),
        CheckConstraint(
            "(columns = 1 OR pitch_across_mm >= label_width_mm) AND (rows = 1 OR pitch_down_mm >= label_height_mm)",
            name="labels_apart",
        ),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    paper: Mapped[StockPaper] = mapped_column(words(StockPaper, "paper"))
    columns: Mapped[int]
    rows: Mapped[int]
    label_width_mm: Mapped[float]
    label_height_mm: Mapped[float]
    left_mm: Mapped[float]
    top_mm: Mapped[float]
    pitch_across_mm: Mapped[float]
    pitch_down_mm: Mapped[float]
    cut: Mapped[bool]


class PublicAddress(Base):
    """The address on paper, in one row or none; what the surroundings set goes before it."""

    __tablename__ = "public_address"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    address: Mapped[str] = mapped_column(String(200))


class LabelPrint(Base):
    """When the label of a tray number was last made, under which address, and what it said.

    By number and not by tray: tags are printed before there is a tray, and paper outlives a row.
    """

    __tablename__ = "label_print"
    __table_args__ = (CheckConstraint("number > 0", name="number_positive"),)

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    kind: Mapped[LabelKind] = mapped_column(words(LabelKind, "kind"), primary_key=True)
    address: Mapped[str | None] = mapped_column(String(200))  # none: made without a code
    contents: Mapped[str] = mapped_column(String(64))  # a digest, empty for a tag
    made_on: Mapped[date]
