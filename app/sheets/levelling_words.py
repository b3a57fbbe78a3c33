"""Why levelling changes a sowing, and what else would do, in words for pages and commands alike."""

from app.core.fitting.explain import Alternative, Change, FullWeeks, LeftOut
from app.core.plan import Plan


def full_words(full: tuple[FullWeeks, ...]) -> str:
    """Return places and weeks, as `lamps 10 – 30 May (W19 – W21), 3 trays over`."""
    raise NotImplementedError


def why_words(change: Change) -> str:
    """Return why a sowing is changed, as a sentence without a full stop."""
    raise NotImplementedError


def left_out_words(left_out: LeftOut) -> str:
    """Return which place has no room for it and when, as a sentence without a full stop."""
    raise NotImplementedError


def alternative_words(alternative: Alternative | None, plan: Plan) -> str:
    """Return the nearest alternative, or that there is none, as a sentence without a full stop."""
    raise NotImplementedError
