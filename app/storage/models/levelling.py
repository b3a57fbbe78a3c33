"""Levellings: how far each is, what it answers, and what became of the answer."""

from datetime import date
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String, text
from sqlalchemy.orm import Mapped, mapped_column

from app.core.fitting.answer import Phase
from app.core.words import LevellingState, Light, Place
from app.storage.base import Base, words


class Levelling(Base):
    """One search for a plan that fits; what it writes here itself leaves the mark of the data as it is.

    Instants are counted in seconds since 1970 (UTC), so that every process and engine reads them alike.
    """

    __tablename__ = "levelling"
    __table_args__ = (
        CheckConstraint("seconds > 0", name="seconds_positive"),
        CheckConstraint("(extra_place IS NULL) = (extra_positions IS NULL)", name="whole_extra"),
        CheckConstraint("extra_positions > 0", name="extra_positive"),
        CheckConstraint("(state = 'running') = (ended_at IS NULL)", name="running_until_it_ends"),
        # One at a time: a second one that runs breaks it, whichever process starts it.
        Index(
            "uq_levelling_running",
            "state",
            unique=True,
            sqlite_where=text("state = 'running'"),
            postgresql_where=text("state = 'running'"),
        ),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    state: Mapped[LevellingState] = mapped_column(words(LevellingState, "state"))
    started_at: Mapped[float]
    ended_at: Mapped[float | None]
    beat_at: Mapped[float]  # when it last gave a sign of life
    stop_wanted: Mapped[bool]
    mark: Mapped[str] = mapped_column(String(32))  # of the data that it was made from
    today: Mapped[date]
    seconds: Mapped[int]  # how long it may look
    extra_place: Mapped[Place | None] = mapped_column(words(Place, "extra_place"))  # as if there were a shelf more
    extra_positions: Mapped[int | None]
    phase: Mapped[Phase] = mapped_column(words(Phase, "phase"))
    reached: Mapped[list[Any]] = mapped_column(JSON)  # goal, value and bound of each goal so far
    answer: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    changes: Mapped[int]  # sowings that it changes, and of these those whose change was accepted
    accepted: Mapped[int]
    good_until: Mapped[date | None]  # the first day that it chooses; later it cannot be applied
    fault: Mapped[str | None] = mapped_column(String(500))  # why it failed, in words, where they are known


class LevellingChange(Base):
    """What an answer would write to a sowing, and what stood there; with the days and places that they come to."""

    __tablename__ = "levelling_change"
    __table_args__ = ({"sqlite_with_rowid": False},)

    levelling_id: Mapped[int] = mapped_column(ForeignKey("levelling.id", ondelete="CASCADE"), primary_key=True)
    # A sowing that is removed takes its row along: there is nothing left to be put back.
    sowing_id: Mapped[int] = mapped_column(ForeignKey("sowing.id", ondelete="CASCADE"), primary_key=True, index=True)
    is_accepted: Mapped[bool]
    sow_on_before: Mapped[date | None]
    sow_on_after: Mapped[date | None]
    light_before: Mapped[Light | None] = mapped_column(words(Light, "light_before"))
    light_after: Mapped[Light | None] = mapped_column(words(Light, "light_after"))
    placed_before: Mapped[int | None]
    placed_after: Mapped[int | None]
    wanted: Mapped[int]
    day_before: Mapped[date | None]
    day_after: Mapped[date | None]
    place_before: Mapped[Place | None] = mapped_column(words(Place, "place_before"))
    place_after: Mapped[Place | None] = mapped_column(words(Place, "place_after"))
