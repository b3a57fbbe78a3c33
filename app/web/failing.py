"""Sowings that are late or have failed, as pages show them."""

from flask import current_app

from app.core.failing import failing_of
from app.core.plan import Plan
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
    found = [one for one in failing_of(plan, grower=grower) if sowing in {None, one.sowing}]
    spares = count_spares(db.session) if counts_spares else {}
    return [failing_line(plan, one, spares) for one in found]


def first_failing(plan: Plan, *, grower: int | None = None) -> tuple[list[FailingLine], int]:
    """Return the sowings that come first among those that are late or have failed, in words, and how many there are."""
    found = failing_of(plan, grower=grower)
    spares = count_spares(db.session)
    return [failing_line(plan, one, spares) for one in found[:MOST_LINES]], len(found)


def spares_address() -> str:
    """Return the address of the list of spare plants, empty where it is not for whoever looks."""
    return way("spares.index") if "spares.index" in current_app.view_functions else ""
