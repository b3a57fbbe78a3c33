"""Containers."""

from sqlalchemy import CheckConstraint
from sqlalchemy.orm import Mapped, mapped_column

from app.storage.base import Base


class Container(Base):
    """A kind of cell, pot or box, and how many stand in one tray position."""

    __tablename__ = "container"
    __table_args__ = (
        CheckConstraint("cells_per_tray > 0", name="cells_per_tray_positive"),
        CheckConstraint("cell_volume_ml > 0", name="cell_volume_positive"),
        CheckConstraint("(rows IS NULL) = (columns IS NULL)", name="rows_with_columns"),
        CheckConstraint("rows IS NULL OR rows * columns = cells_per_tray", name="rows_times_columns"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    cells_per_tray: Mapped[int]
    cell_volume_ml: Mapped[float]
    rows: Mapped[int | None]
    columns: Mapped[int | None]
