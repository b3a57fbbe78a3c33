"""Dealing 5,000 lots: held against sorting and packing alone, which no way of dealing can do without."""

from itertools import groupby
from operator import itemgetter

import numpy as np
import pytest
from sqlalchemy import delete, update

from app.core.dealing.cells import lay_out
from app.core.dealing.deal import changed_contents, deal
from app.core.plan import make_plan
from app.core.space.dealt import NOT_DEALT
from app.core.space.packing import pack
from app.services.deal import accept_deal, season_days
from app.storage import Session
from app.storage.engine import make_engine, reading
from app.storage.models import Shelf, Tray
from app.storage.queries.dealt import get_dealt_cells, get_dealt_stays
from app.storage.queries.plan import get_garden
from app.storage.schema import upgrade
from tests.benchmarks.gardens import fill
from tests.benchmarks.timing import ratio, report
from tests.conftest import TODAY

LOTS = 5_000


class Dealing:
    """What a deal of the season is made from."""

    def __init__(self, engine):
        with reading(), Session(engine) as session:
            self.plan = make_plan(get_garden(session))
            self.stays = get_dealt_stays(session, self.plan.garden)
            # As a proposal does it: only of trays that change are the cells asked for.
            changed = changed_contents(self.plan) & (self.plan.trays.stored != NOT_DEALT)
            self.cells = get_dealt_cells(session, self.plan.garden, self.plan.trays.stored[changed])
        self.first, self.last = season_days(self.plan)

    def deal(self):
        """Return the deal and the cells of what is new or changed."""
        days = (day.toordinal() for day in (self.first, self.last, TODAY))
        found = deal(self.plan, self.stays, **dict(zip(("first", "last", "today"), days, strict=True)))
        return found, lay_out(self.plan, found, self.cells)


@pytest.fixture(scope="module", params=[2_000, None], ids=["room for all", "over-full"])
def dealings(request, tmp_path_factory):
    """Return a garden of which nothing is dealt, and the same dealt; the demo's own shelves have too little room."""
    engine = make_engine(f"sqlite:///{tmp_path_factory.mktemp('deal') / 'garden.sqlite3'}")
    upgrade(engine)
    fill(engine, LOTS)
    with Session(engine) as session:
        session.execute(delete(Tray))
        if request.param:
            session.execute(update(Shelf).values(positions=request.param))
        session.commit()
    fresh = Dealing(engine)
    with Session(engine) as session:
        accept_deal(session, first=fresh.first, last=fresh.last, today=TODAY)
        session.commit()
    dealt = Dealing(engine)
    engine.dispose()
    return {"nothing dealt": fresh, "all dealt": dealt}


def sort_and_pack(plan):
    """Sort lots by their group and stays by their day, and pack each group; return the number of trays."""
    trays, stays = plan.trays, plan.stays
    np.lexsort((stays.begin, stays.place))
    group, cells = trays.group[trays.part_tray], trays.part_cells
    order = np.lexsort((trays.part_lot, group))
    rows = zip(group[order].tolist(), trays.part_lot[order].tolist(), cells[order].tolist(), strict=True)
    container = dict(zip(trays.group.tolist(), trays.container.tolist(), strict=True))
    n = 0
    for number, parts in groupby(rows, key=itemgetter(0)):
        sizes = [sum(row[2] for row in lot) for _, lot in groupby(parts, key=itemgetter(1))]
        n += len(pack(sizes, plan.garden.containers[container[number]].cells_per_tray))
    return n


@pytest.mark.parametrize(("state", "limit"), [("nothing dealt", 4), ("all dealt", 4)])
def test_dealing_a_season_costs_little_beside_sorting_and_packing(dealings, state, limit):
    dealing = dealings[state]
    found, cells = dealing.deal()
    assert len(dealing.plan.cells) == LOTS
    assert len(found.tray) == sort_and_pack(dealing.plan)
    assert (len(cells.tray) > 0) is (state == "nothing dealt")
    times = ratio(dealing.deal, lambda: sort_and_pack(dealing.plan))
    waiting = sum(position is None for position in found.stay_position)
    report(
        f"dealing {LOTS} lots, {state}, {len(found.tray)} trays, {waiting} stays wait: over sorting and packing",
        times,
        limit,
    )
    assert times <= limit
