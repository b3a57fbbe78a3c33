"""Large gardens whose places are a fifth short of what the plan needs at its peak."""

from sqlalchemy import delete, select, update

from app.core.plan import make_plan
from app.core.words import PLACES
from app.storage import Session
from app.storage.models import Shelf, Tray
from app.storage.queries.plan import get_garden
from tests.benchmarks.gardens import fill

SHARE_OF_PEAK = 0.8


def fill_short(engine, n_sowings):
    """Fill a database; a place's positions are all on its first shelf, and nothing is dealt or sown.

    Returns:
        The garden, and the first day on which anything of it can be sown: before it, every choice is open.
    """
    fill(engine, n_sowings)
    with Session(engine) as session:
        session.execute(delete(Tray))
        session.flush()
        plan = make_plan(get_garden(session))
        peak = plan.ledger.needed.max(axis=0)
        for place, trays in zip(PLACES, peak.tolist(), strict=True):
            shelves = session.scalars(select(Shelf.id).where(Shelf.place == place).order_by(Shelf.id)).all()
            session.execute(update(Shelf).where(Shelf.id.in_(shelves)).values(positions=0))
            session.execute(update(Shelf).where(Shelf.id == shelves[0]).values(positions=int(SHARE_OF_PEAK * trays)))
        session.commit()
        times = plan.timeline
        return get_garden(session), int(times.sow_from[plan.light_place >= 0].min())
