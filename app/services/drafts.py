"""Keeping sowings of the season before, or leaving them out."""

from typing import TYPE_CHECKING

from app.language import N_
from app.services.batches import one_batch
from app.services.sowings import SowingValues, add_sowing
from app.storage.models import Draft, Sowing
from app.storage.queries.drafts import get_draft, list_draft_ids
from app.storage.queries.growers import get_grower
from app.storage.queries.seed_lots import get_seed_lot
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.storage import Session


def keep_draft(session: "Session", draft_id: int) -> Sowing:
    """Make a sowing of this season of one of the season before, which then no longer waits.

    A seed lot that holds another crop by now is not taken over. Raises NotFoundError.
    """
    hold_writes(session)
    draft = get_draft(session, draft_id)
    lot_id = draft.seed_lot_id
    if lot_id is not None and get_seed_lot(session, lot_id).crop_id != draft.crop_id:
        lot_id = None
    sowing = add_sowing(
        session,
        SowingValues(
            grower_id=draft.grower_id,
            crop_id=draft.crop_id,
            seed_lot_id=lot_id,
            plants=draft.plants,
            variety=draft.variety,
            days_to_maturity=draft.days_to_maturity,
            priority=draft.priority,
            plant_out=None,
            risk=None,
            sow_on=None,
            light=None,
            placed=None,
            brings_seed=draft.brings_seed,
        ),
    )
    session.delete(draft)
    session.flush()
    return sowing


def keep_all_drafts(session: "Session", grower_id: int) -> list[Sowing]:
    """Make sowings of this season of all that a grower has waiting of the season before, as one batch.

    Raises NotFoundError.
    """
    hold_writes(session)
    get_grower(session, grower_id)
    with one_batch(session, N_("wishes of last season kept")) as batch:
        kept = [keep_draft(session, draft_id) for draft_id in list_draft_ids(session, grower_id)]
        batch.rows = len(kept)
    return kept


def leave_out_draft(session: "Session", draft_id: int) -> Draft:
    """Let a sowing of the season before not wait any longer, and return what it was. Raises NotFoundError."""
    hold_writes(session)
    draft = get_draft(session, draft_id)
    session.delete(draft)
    session.flush()
    return draft
