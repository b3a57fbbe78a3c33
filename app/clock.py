"""The only way to today: everything else is given the day."""

from datetime import UTC, date, datetime

from app.settings import Settings


def today(settings: Settings) -> date:
    """Return the day that is taken for today: the fixed one, or this machine's calendar day."""
    return settings.today or datetime.now(UTC).astimezone().date()
