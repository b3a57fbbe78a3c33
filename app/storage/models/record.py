"""A station's daily temperatures, a row for each day that has one."""

import datetime as dt

from sqlalchemy import CheckConstraint
from sqlalchemy.orm import Mapped, mapped_column

from app.storage.base import Base


class DailyTemperature(Base):
    """Lowest and highest temperature of one day; what is missing is empty."""

    __tablename__ = "daily_temperature"
    __table_args__ = (
        CheckConstraint("tmin_c IS NOT NULL OR tmax_c IS NOT NULL", name="has_a_temperature"),
        CheckConstraint("tmin_c <= tmax_c", name="tmin_at_most_tmax"),
    )

    date: Mapped[dt.date] = mapped_column(primary_key=True)
    tmin_c: Mapped[float | None]
    tmax_c: Mapped[float | None]
