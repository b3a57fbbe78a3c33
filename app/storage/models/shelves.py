"""Shelves."""

from sqlalchemy import CheckConstraint
from sqlalchemy.orm import Mapped, mapped_column

from app.core.words import Place
from app.storage.base import Base, words


class Shelf(Base):
    """A bench, rack, sill or frame with one or more levels of the same size."""

    __tablename__ = "shelf"
    __table_args__ = (
        CheckConstraint("width_cm > 0 AND depth_cm > 0", name="has_size"),
        CheckConstraint("levels > 0", name="levels_positive"),
        CheckConstraint("positions >= 0", name="positions_not_negative"),
        CheckConstraint("hours_per_day BETWEEN 0 AND 24", name="hours_of_a_day"),
        CheckConstraint("ppfd >= 0 AND watts >= 0 AND pan_depth_mm >= 0", name="figures_not_negative"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    place: Mapped[Place] = mapped_column(words(Place, "place"))
    width_cm: Mapped[float]
    depth_cm: Mapped[float]
    levels: Mapped[int]
    positions: Mapped[int | None]  # in place of the computed count, for all levels together
    bench_temp_c: Mapped[float | None]
    ppfd: Mapped[float | None]
    hours_per_day: Mapped[float | None]
    watts: Mapped[float | None]
    pan_depth_mm: Mapped[float | None]
    fan: Mapped[bool | None]
