"""The garden's settings, its frost dates, and the mark that says whether anything changed."""

from sqlalchemy import CheckConstraint, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from app.core.words import FrostLaw, FrostSource, Side, Units, Weekday
from app.language import ENGLISH
from app.storage.base import Base, words


class Garden(Base):
    """The settings of the one garden that a database holds."""

    __tablename__ = "garden"
    __table_args__ = (
        CheckConstraint("id = 1", name="one_row"),
        CheckConstraint("latitude BETWEEN -90 AND 90", name="latitude_on_earth"),
        CheckConstraint("longitude BETWEEN -180 AND 180", name="longitude_on_earth"),
        CheckConstraint("tray_length_cm > 0 AND tray_width_cm > 0", name="tray_has_size"),
        CheckConstraint("risk > 0 AND risk < 1", name="risk_is_share"),
        CheckConstraint("autumn_risk > 0 AND autumn_risk < 1", name="autumn_risk_is_share"),
        CheckConstraint("confidence > 0 AND confidence < 1", name="confidence_is_share"),
        CheckConstraint("survival > 0 AND survival <= 1", name="survival_is_share"),
        CheckConstraint("spare >= 0 AND spare <= 1", name="spare_is_share"),
    )

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False, default=1)
    name: Mapped[str]
    season: Mapped[int]
    units: Mapped[Units] = mapped_column(words(Units, "units"))
    language: Mapped[str] = mapped_column(String(8), default=ENGLISH, server_default=ENGLISH)  # of what many read
    sowing_day: Mapped[Weekday] = mapped_column(words(Weekday, "sowing_day"))
    hand_out_day: Mapped[Weekday] = mapped_column(words(Weekday, "hand_out_day"))
    wishes_close: Mapped[str | None] = mapped_column(String(5))  # MM-DD of the growing year
    tray_length_cm: Mapped[float]
    tray_width_cm: Mapped[float]
    latitude: Mapped[float]
    longitude: Mapped[float]
    elevation_m: Mapped[float]
    frost_source: Mapped[FrostSource] = mapped_column(words(FrostSource, "frost_source"))
    frost_law: Mapped[FrostLaw] = mapped_column(words(FrostLaw, "frost_law"))
    threshold_c: Mapped[float]
    record_mark: Mapped[str | None] = mapped_column(String(32))  # tells one station's record from another
    risk: Mapped[float]
    autumn_risk: Mapped[float]
    confidence: Mapped[float]
    survival: Mapped[float]
    spare: Mapped[float]


class FrostPoint(Base):
    """One entered frost date: the chance in percent and the day of the growing year."""

    __tablename__ = "frost_point"
    __table_args__ = (
        UniqueConstraint("side", "chance_percent", name="uq_frost_point_side_chance"),
        CheckConstraint("chance_percent BETWEEN 1 AND 99", name="chance_is_percent"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    side: Mapped[Side] = mapped_column(words(Side, "side"))
    chance_percent: Mapped[int]
    month_day: Mapped[str] = mapped_column(String(5))  # MM-DD


class DataVersion(Base):
    """A mark that is new after every change, so that any process knows what it kept is old."""

    __tablename__ = "data_version"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    mark: Mapped[str] = mapped_column(String(32))
