"""Seed lots."""

from sqlalchemy import CheckConstraint, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.core.words import Origin
from app.storage.base import Base, words
from app.storage.models.crops import Crop


class SeedLot(Base):
    """One packet or jar of seed with a stated or tested germination."""

    __tablename__ = "seed_lot"
    __table_args__ = (
        CheckConstraint("germination > 0 AND germination <= 1", name="germination_is_share"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    crop_id: Mapped[int] = mapped_column(ForeignKey("crop.id"), index=True)
    variety: Mapped[str | None]
    germination: Mapped[float | None]
    origin: Mapped[Origin | None] = mapped_column(words(Origin, "origin"))
    year: Mapped[int | None]

    crop: Mapped[Crop] = relationship()
