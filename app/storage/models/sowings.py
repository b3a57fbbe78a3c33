"""Sowings."""

from datetime import date

from sqlalchemy import CheckConstraint, ForeignKey, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.core.words import Light
from app.storage.base import Base, words
from app.storage.models.crops import Crop
from app.storage.models.growers import Grower
from app.storage.models.seed_lots import SeedLot


class Sowing(Base):
    """One grower's wish for plants of one crop, and what became of it."""

    __tablename__ = "sowing"
    __table_args__ = (
        CheckConstraint("plants > 0", name="plants_positive"),
        CheckConstraint("placed >= 0 AND placed <= plants", name="placed_within_plants"),
        CheckConstraint("priority BETWEEN 1 AND 3", name="priority_1_to_3"),
        CheckConstraint("risk > 0 AND risk < 1", name="risk_is_share"),
        CheckConstraint("days_to_maturity > 0", name="days_to_maturity_positive"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    grower_id: Mapped[int] = mapped_column(ForeignKey("grower.id"), index=True)
    crop_id: Mapped[int] = mapped_column(ForeignKey("crop.id"), index=True)
    seed_lot_id: Mapped[int | None] = mapped_column(ForeignKey("seed_lot.id"), index=True)
    plants: Mapped[int]
    variety: Mapped[str | None]
    days_to_maturity: Mapped[int | None]  # of the variety, in place of the card's
    priority: Mapped[int | None]  # 1 first, 3 last; 2 where none is given
    plant_out: Mapped[date | None]  # the grower's own date
    risk: Mapped[float | None]  # the grower's own spring risk
    sow_on: Mapped[date | None]  # a day set by the coordinator
    light: Mapped[Light | None] = mapped_column(words(Light, "light"))
    placed: Mapped[int | None]  # plants granted where not all found room
    brings_seed: Mapped[bool] = mapped_column(default=False, server_default=false())  # its grower does; else the garden

    grower: Mapped[Grower] = relationship()
    crop: Mapped[Crop] = relationship()
    seed_lot: Mapped[SeedLot | None] = relationship()


class Draft(Base):
    """A sowing of the season before, which becomes one again when its grower or a coordinator takes it over."""

    __tablename__ = "draft"
    __table_args__ = (
        CheckConstraint("plants > 0", name="plants_positive"),
        CheckConstraint("priority BETWEEN 1 AND 3", name="priority_1_to_3"),
        CheckConstraint("days_to_maturity > 0", name="days_to_maturity_positive"),
        CheckConstraint("got >= 0", name="got_not_negative"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    grower_id: Mapped[int] = mapped_column(ForeignKey("grower.id", ondelete="CASCADE"), index=True)
    crop_id: Mapped[int] = mapped_column(ForeignKey("crop.id", ondelete="CASCADE"), index=True)
    seed_lot_id: Mapped[int | None] = mapped_column(ForeignKey("seed_lot.id", ondelete="SET NULL"), index=True)
    plants: Mapped[int]
    variety: Mapped[str | None]
    days_to_maturity: Mapped[int | None]
    priority: Mapped[int | None]
    brings_seed: Mapped[bool]
    got: Mapped[int | None]  # plants that were handed out of it; none where that was not written down
