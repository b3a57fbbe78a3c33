"""Growers."""

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from app.storage.base import Base


class Grower(Base):
    """A member with a plot who wants plants; the garden itself may be one."""

    __tablename__ = "grower"
    __table_args__ = ({"sqlite_autoincrement": True},)

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    plot: Mapped[str | None]
    contact: Mapped[str | None] = mapped_column(String(200))
    days: Mapped[str | None]  # weekdays they can come, separated by spaces, Monday first
