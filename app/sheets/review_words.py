"""What became of the sowings of a season: how late they were, how they ended, and which are looked into."""

import numpy as np
from numpy.typing import NDArray

from app.core.review.season import Review
from app.core.review.shares import ENDINGS, Ended
from app.language import _, ngettext
from app.sheets.words import number_words

Flags = NDArray[np.bool_]

# Endings that a coordinator looks into; those that came to all their plants are not listed.
LOOKED_INTO = (Ended.PART, Ended.FAILED, Ended.TOO_LATE, Ended.SILENT)


def late_words(days: float) -> str:
    """Return how late something was, as `2 days late`, `half a day early` or `on the day`."""
    rounded = round(abs(days) * 2) / 2
    if rounded == 0:
        return _("on the day")
    if rounded == 0.5:  # noqa: PLR2004 - a half has a word of its own
        return _("half a day late") if days > 0 else _("half a day early")
    number = number_words(int(rounded) if rounded.is_integer() else rounded)
    count = 1 if rounded == 1 else 2
    if days > 0:
        return ngettext("%(num)s day late", "%(num)s days late", count, num=number)
    return ngettext("%(num)s day early", "%(num)s days early", count, num=number)


def looked_into_of(review: Review) -> list[int]:
    """Return the indices of the sowings that were late or did not come to all their plants, those worst off first."""
    shares = review.shares
    rank = {ENDINGS.index(one): at for at, one in enumerate((Ended.FAILED, Ended.TOO_LATE, Ended.SILENT, Ended.PART))}
    is_bad = shares.is_counted & np.isin(shares.ended, [ENDINGS.index(one) for one in LOOKED_INTO])
    found = np.flatnonzero(is_bad | shares.is_late).tolist()
    return sorted(found, key=lambda at: (rank.get(int(shares.ended[at]), len(rank)), at))


def is_failed(review: Review) -> Flags:
    """Return which sowings came to nothing: not sown, lost, or never said. Shape (n_sowings,)."""
    ended = [ENDINGS.index(one) for one in (Ended.FAILED, Ended.TOO_LATE)]
    failed: Flags = review.shares.is_counted & np.isin(review.shares.ended, ended)
    return failed


def outcome_words(review: Review, at: int) -> str:
    """Return what became of a sowing, as `failed` or `some plants handed out, late`; empty for one sown outside."""
    shares = review.shares
    if not shares.is_counted[at]:
        return ""
    ended = _(ENDINGS[int(shares.ended[at])].value)
    return _("%(outcome)s, late", outcome=ended) if shares.is_late[at] else ended
