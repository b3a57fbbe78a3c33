"""Sowings that are late or have failed, as pages show them."""

import numpy as np
from flask import current_app
from numpy.typing import NDArray

from app.core.plan import Plan
from app.core.work.failing import remedies_of, troubles_of
from app.extensions import db
from app.sheets.failing import FailingLine, failing_line
from app.storage.queries.spare_counts import count_spares
from app.web.access import way

# More are told of in the list of sowings.
MOST_LINES = 30


def failing_lines(
    plan: Plan, *, grower: int | None = None, sowing: int | None = None, counts_spares: bool = True
) -> list[FailingLine]:
    """Return the sowings that are late or have failed, in words.

    Args:
        plan: The garden's plan.
        grower: Index of the only grower whose sowings count; None for all.
        sowing: Index of the only sowing; None for all.
        counts_spares: Whether spare plants are counted, which takes a query.
    """
    wanted = _sowings_of(plan, grower) if sowing is None else np.array([sowing])
    found = remedies_of(plan, troubles_of(plan, sowings=wanted))
    spares = count_spares(db.session) if counts_spares else {}
    return [failing_line(plan, one, spares) for one in found]


def first_failing(plan: Plan, *, grower: int | None = None) -> tuple[list[FailingLine], int]:
    """Return the sowings that come first among those that are late or have failed, in words, and how many there are."""
    found = troubles_of(plan, sowings=_sowings_of(plan, grower))
    spares = count_spares(db.session)
    return [failing_line(plan, one, spares) for one in remedies_of(plan, found[:MOST_LINES])], len(found)


def _sowings_of(plan: Plan, grower: int | None) -> NDArray[np.int64] | None:
    return None if grower is None else np.flatnonzero(plan.garden.sowings.grower == grower)


def spares_address() -> str:
    """Return the address of the list of spare plants, empty where it is not for whoever looks."""
    return way("spares.index") if "spares.index" in current_app.view_functions else ""
