"""What members share out: care rounds, spare plants, and feeds of their dates.

Instants are counted in seconds since 1970 (UTC).
"""

import datetime as dt
from typing import ClassVar

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from app.storage.base import Base


class CareRound(Base):
    """One day's round of watering and airing, and whose it is."""

    __tablename__ = "care_round"
    __table_args__ = ({"sqlite_autoincrement": True},)

    id: Mapped[int] = mapped_column(primary_key=True)
    date: Mapped[dt.date] = mapped_column(unique=True)
    grower_id: Mapped[int | None] = mapped_column(ForeignKey("grower.id", ondelete="SET NULL"), index=True)
    is_offered: Mapped[bool]  # its member asks for somebody to take it over
    is_swapped: Mapped[bool]  # given to somebody by hand, so that sharing out anew leaves it
    done_on: Mapped[dt.date | None]
    done_by_id: Mapped[int | None] = mapped_column(ForeignKey("grower.id", ondelete="SET NULL"), index=True)
    note: Mapped[str | None] = mapped_column(String(500))


class SpareOffer(Base):
    """Plants of a sowing that its grower gives away."""

    __tablename__ = "spare_offer"
    __table_args__ = (CheckConstraint("plants > 0", name="plants_positive"), {"sqlite_autoincrement": True})

    id: Mapped[int] = mapped_column(primary_key=True)
    sowing_id: Mapped[int] = mapped_column(ForeignKey("sowing.id", ondelete="CASCADE"), index=True)
    plants: Mapped[int]
    date: Mapped[dt.date]
    note: Mapped[str | None] = mapped_column(String(500))


class SpareRequest(Base):
    """Plants of a crop that a grower asks for."""

    __tablename__ = "spare_request"
    __table_args__ = (CheckConstraint("plants > 0", name="plants_positive"), {"sqlite_autoincrement": True})

    id: Mapped[int] = mapped_column(primary_key=True)
    grower_id: Mapped[int] = mapped_column(ForeignKey("grower.id", ondelete="CASCADE"), index=True)
    crop_id: Mapped[int] = mapped_column(ForeignKey("crop.id", ondelete="CASCADE"), index=True)
    plants: Mapped[int]
    date: Mapped[dt.date]
    note: Mapped[str | None] = mapped_column(String(500))


class SpareGift(Base):
    """Spare plants that went from one grower to another."""

    __tablename__ = "spare_gift"
    __table_args__ = (CheckConstraint("plants > 0", name="plants_positive"), {"sqlite_autoincrement": True})

    id: Mapped[int] = mapped_column(primary_key=True)
    offer_id: Mapped[int] = mapped_column(ForeignKey("spare_offer.id", ondelete="CASCADE"), index=True)
    request_id: Mapped[int | None] = mapped_column(ForeignKey("spare_request.id", ondelete="SET NULL"), index=True)
    grower_id: Mapped[int | None] = mapped_column(ForeignKey("grower.id", ondelete="SET NULL"), index=True)
    plants: Mapped[int]
    date: Mapped[dt.date]


class Feed(Base):
    """A calendar feed under a secret address: an account's own dates, or those of the whole garden."""

    __tablename__ = "feed"
    __table_args__ = ({"sqlite_autoincrement": True},)
    marks_data: ClassVar[bool] = False

    id: Mapped[int] = mapped_column(primary_key=True)
    token: Mapped[str] = mapped_column(String(64), unique=True)  # a digest
    account_id: Mapped[int] = mapped_column(ForeignKey("account.id", ondelete="CASCADE"), index=True)
    whole_garden: Mapped[bool]
    made_at: Mapped[float]
    fetched_at: Mapped[float | None]


class FeedEvent(Base):
    """What calendars were told of an event last, so that they see when it has changed."""

    __tablename__ = "feed_event"
    marks_data: ClassVar[bool] = False

    key: Mapped[str] = mapped_column(String(200), primary_key=True)  # what it is of, in this garden
    uid: Mapped[str] = mapped_column(String(36), unique=True)  # what calendars know it by
    scope: Mapped[str] = mapped_column(String(40), index=True)  # whose dates it is among
    day: Mapped[dt.date]
    summary: Mapped[str] = mapped_column(String(300))
    digest: Mapped[str] = mapped_column(String(64))
    sequence: Mapped[int]
    changed_at: Mapped[float]
    is_cancelled: Mapped[bool]


class Reminder(Base):
    """A weekly letter that was sent, so that none is sent twice."""

    __tablename__ = "reminder"
    marks_data: ClassVar[bool] = False

    account_id: Mapped[int] = mapped_column(ForeignKey("account.id", ondelete="CASCADE"), primary_key=True)
    week: Mapped[str] = mapped_column(String(8), primary_key=True)
    sent_at: Mapped[float | None]  # none while it is on its way
    fault: Mapped[str | None] = mapped_column(String(500))
    retry_at: Mapped[float | None]  # when a failed one is tried again; none where it is not
