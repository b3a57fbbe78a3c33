"""Large gardens for benchmarks: the demo garden's cards and shelves, with as many sowings as wanted."""

import random

from sqlalchemy import insert, select

from app.services.folder import load_demo
from app.storage import Session
from app.storage.models import Grower, Sowing


def fill(engine, n_sowings, *, per_grower=16):
    """Load the demo garden and add growers and sowings like its own; the draw is always the same."""
    draw = random.Random(n_sowings)
    with Session(engine) as session:
        load_demo(session, replace=True)
        columns = [column for column in Sowing.__table__.columns if column.name not in ("id", "name", "grower_id")]
        patterns = [dict(row) for row in session.execute(select(*columns)).mappings()]
        n_growers = max(0, n_sowings // per_grower - 61)
        if n_growers:
            session.execute(insert(Grower), [{"name": f"Grower {number:05d}"} for number in range(n_growers)])
        growers = list(session.scalars(select(Grower.id)))
        n_more = n_sowings - session.query(Sowing).count()
        rows = [
            draw.choice(patterns)
            | {
                "name": f"X{number:06d}",
                "grower_id": draw.choice(growers),
                "plants": draw.randint(1, 40),
                "placed": None,
            }
            for number in range(n_more)
        ]
        if rows:
            session.execute(insert(Sowing), rows)
        session.commit()
