"""Crop cards."""

from sqlalchemy import CheckConstraint, ForeignKey, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.core.words import CountedFrom, Hardiness, HeatMethod, Light, Transplanting
from app.storage.base import Base, words
from app.storage.models.containers import Container


class Crop(Base):
    """What the program knows of one crop. A card without a start container is sown outside."""

    __tablename__ = "crop"
    __table_args__ = (
        CheckConstraint("indoor_weeks_min <= indoor_weeks_max", name="indoor_weeks_in_order"),
        CheckConstraint("indoor_weeks_min >= 0", name="indoor_weeks_positive"),
        CheckConstraint("days_to_maturity > 0", name="days_to_maturity_positive"),
        CheckConstraint("days_to_emerge > 0", name="days_to_emerge_positive"),
        CheckConstraint("start_container_id IS NULL OR days_to_emerge IS NOT NULL", name="days_to_emerge_given"),
        CheckConstraint("seeds_per_cell > 0", name="seeds_per_cell_positive"),
        CheckConstraint("plants_per_cell > 0", name="plants_per_cell_positive"),
        CheckConstraint("harvest_days >= 0 AND hardening_days >= 0", name="days_not_negative"),
        CheckConstraint(
            "NOT (transplanting = 'resents' AND pot_on_container_id IS NOT NULL)", name="resents_is_not_potted_on"
        ),
        CheckConstraint("(pot_on_container_id IS NULL) = (pot_on_after_days IS NULL)", name="pot_on_after_days_given"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    botanical: Mapped[str | None]
    hardiness: Mapped[Hardiness] = mapped_column(words(Hardiness, "hardiness"))
    plant_out_weeks: Mapped[float | None]
    direct_sow_weeks: Mapped[float | None]
    indoor_weeks_min: Mapped[float | None]
    indoor_weeks_max: Mapped[float | None]
    start_container_id: Mapped[int | None] = mapped_column(ForeignKey("container.id"), index=True)
    pot_on_container_id: Mapped[int | None] = mapped_column(ForeignKey("container.id"), index=True)
    pot_on_after_days: Mapped[int | None]
    transplanting: Mapped[Transplanting | None] = mapped_column(words(Transplanting, "transplanting"))
    days_to_maturity: Mapped[int]
    counted_from: Mapped[CountedFrom] = mapped_column(words(CountedFrom, "counted_from"))
    harvest_days: Mapped[int | None]
    hardening_days: Mapped[int | None]
    days_to_emerge: Mapped[int | None]  # empty where it is sown outside: nothing waits for it
    germ_temp_c: Mapped[float | None]
    heat: Mapped[bool]
    light: Mapped[Light | None] = mapped_column(words(Light, "light"))
    light_to_germinate: Mapped[bool | None]
    seeds_per_cell: Mapped[int]
    plants_per_cell: Mapped[int | None]
    sow_depth_mm: Mapped[float | None]
    seeds_per_gram: Mapped[float | None]
    seed_storage_years: Mapped[float | None]
    dli_target: Mapped[float | None]
    heat_sum_cd: Mapped[float | None]
    heat_base_c: Mapped[float | None]
    heat_method: Mapped[HeatMethod | None] = mapped_column(words(HeatMethod, "heat_method"))
    emergence_row: Mapped[str | None]
    germination_kind: Mapped[str | None]
    source: Mapped[str | None] = mapped_column(Text)

    start_container: Mapped[Container | None] = relationship(foreign_keys=[start_container_id])
    pot_on_container: Mapped[Container | None] = relationship(foreign_keys=[pot_on_container_id])
