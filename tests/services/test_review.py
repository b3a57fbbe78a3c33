"""The demo garden's season, played through by chance, looked back on: against pandas, an independent tool.

pandas reads the rows of the database by itself. What it does not know is the plan: the days that were foreseen
are those of the plan before anything was written down.
"""

import io
import random
from datetime import date, timedelta

import pandas as pd
import pytest
from sqlalchemy import select

from app.core.words import Cause, LogKind
from app.services.demo import DEMO_DAY, set_up_demo
from app.services.folder import load_demo
from app.services.plan import get_plan
from app.services.review import get_review
from app.sheets.review_tables import TABLES
from app.sheets.tables import csv_text
from app.storage.models import Crop, Grower, LogEntry, Sowing
from app.storage.queries.days import set_today
from tests.kept_gardens import kept

TODAY = date(2027, 10, 1)
STEPS = {"sown": "sow_on", "came up": "emerges", "handed out": "plant_out"}
KINDS = {"sown": LogKind.SOWN, "came up": LogKind.UP, "handed out": LogKind.HANDED_OUT}


def play(session, seed):
    """Write down an invented season: days off the plan, losses, corrections, and sowings that nobody has sown."""
    chance, plan = random.Random(seed), get_plan(session)
    number = 0

    def write(sowing_id, kind, day, count, **more):
        nonlocal number
        number += 1
        entry = LogEntry(name=f"E-{number}", sowing_id=sowing_id, kind=kind, date=day, count=count, **more)
        session.add(entry)
        if chance.random() < 0.05:  # it was wrong: half of it, and a day before
            session.flush()
            number += 1
            right = {"date": day - timedelta(days=1), "count": count // 2, "supersedes_id": entry.id} | more
            session.add(LogEntry(name=f"E-{number}", sowing_id=sowing_id, kind=kind, **right))

    times = plan.timeline
    for at, sowing_id in enumerate(plan.garden.sowings.ids.tolist()):
        if plan.first_place[at] < 0 or chance.random() < 0.1:
            continue
        cells = int(plan.cells[at])
        sown, up, out = (date.fromordinal(int(days[at])) for days in (times.sow_on, times.emerges, times.plant_out))
        write(sowing_id, LogKind.SOWN, sown + timedelta(days=chance.choice([0, 0, 1, 7])), cells)
        write(sowing_id, LogKind.UP, up + timedelta(days=chance.randint(-2, 9)), chance.randint(cells // 3, cells))
        if chance.random() < 0.5:
            day = up + timedelta(days=chance.randint(9, 30))
            write(sowing_id, LogKind.LOST, day, chance.randint(1, 3), cause=chance.choice([None, *Cause]))
        given = chance.randint(0, int(plan.plants[at]))
        if given:
            write(sowing_id, LogKind.HANDED_OUT, out + timedelta(days=chance.choice([0, 0, 7, 14])), given)
            write(sowing_id, LogKind.PLANTED_OUT, out + timedelta(days=15), given // 2)
    session.commit()
    return plan


@pytest.fixture(params=["played", "demo"])
def season(request, session):
    """Return the plan without a log, the tables of the review as pandas reads their files, and the rows behind it.

    Besides the season that is played here, that which the demo garden has behind it on its own day.
    """
    kept(session, load_demo)
    if request.param == "played":
        plan = play(session, 1)
        set_today(session, TODAY)
    else:
        plan = get_plan(session)
        session.rollback()
        kept(session, set_up_demo)
        session.commit()
        set_today(session, DEMO_DAY)
    review = get_review(session)
    tables = {name: pd.read_csv(io.StringIO(csv_text(make(review)))) for name, (_, make) in TABLES.items()}
    return plan, tables, rows_of(session), request.param == "played"


def rows_of(session):
    """Return the entries that hold, and the sowings, as frames."""
    entries = pd.DataFrame(
        session.execute(
            select(LogEntry.id, LogEntry.sowing_id, LogEntry.kind, LogEntry.date, LogEntry.count, LogEntry.cause,
                   LogEntry.tray_id, LogEntry.supersedes_id)
        ).all(),
        columns=["id", "sowing", "kind", "date", "count", "cause", "tray", "supersedes"],
    )  # fmt: skip
    entries = entries[~entries["id"].isin(entries["supersedes"].dropna()) & (entries["count"] > 0)].copy()
    entries["date"] = pd.to_datetime(entries["date"])
    query = (
        select(Sowing.id, Sowing.name, Grower.name, Crop.name, Sowing.plants, Crop.start_container_id)
        .join(Grower, Grower.id == Sowing.grower_id)
        .join(Crop, Crop.id == Sowing.crop_id)
    )
    sowings = pd.DataFrame(session.execute(query).all(), columns=["id", "name", "grower", "crop", "plants", "box"])
    sowings = sowings.set_index("id").sort_index()
    return entries, sowings[sowings["box"].notna()], sowings.index


def first_days(entries, kinds):
    return entries[entries["kind"].isin(kinds)].groupby("sowing")["date"].min()


def test_days_late_by_crop_and_step_are_those_of_pandas(season):
    plan, tables, (entries, sowings, everything), is_over = season
    found = tables["dates"].set_index(["crop", "step"])
    found = found[found.index.get_level_values("step") != "potted on"]
    ids, checked = everything, 0
    for step, column in STEPS.items():
        kinds = {KINDS[step]} | ({LogKind.PLANTED_OUT} if step == "handed out" else set())
        foreseen = pd.Series(getattr(plan.timeline, column), index=ids)  # loaded anew, the same have other ids
        real = first_days(entries, kinds)
        if real.empty:
            continue
        real = real.map(lambda day: day.toordinal())
        late = (real - foreseen.reindex(real.index)).groupby(sowings["crop"].reindex(real.index))
        expected = late.agg(["count", "mean", "median", "min", "max"])
        for crop, row in expected.iterrows():
            got = found.loc[(crop, step)]
            assert got["sowings"] == row["count"]
            assert got["mean_days_late"] == pytest.approx(row["mean"], abs=1e-4)
            assert got["median_days_late"] == row["median"]
            assert (got["earliest_days_late"], got["latest_days_late"]) == (row["min"], row["max"])
            checked += 1
    assert checked > (100 if is_over else 30)
    assert len(found) == checked


def test_losses_by_cause_week_and_sowing_are_those_of_pandas(season):
    _, tables, (entries, sowings, _), is_over = season
    lost = entries[entries["kind"] == LogKind.LOST].copy()
    lost["cause"] = lost["cause"].map(lambda cause: "unknown" if pd.isna(cause) else cause.value)
    lost["week"] = lost["date"].dt.strftime("%G-W%V")
    lost["sowing"] = sowings["name"].reindex(lost["sowing"]).to_numpy()
    for key in ("cause", "week", "sowing"):
        expected = lost.groupby(key)["count"].sum()
        found = tables["losses"].groupby(key)["lost"].sum()
        assert found.to_dict() == expected.to_dict()
    assert len(lost) > (50 if is_over else 2)


@pytest.mark.parametrize("season", ["played"], indirect=True)
def test_shares_of_growers_are_those_of_pandas(season):
    _, tables, (entries, sowings, _), _ = season
    per_kind = entries.pivot_table(index="sowing", columns="kind", values="count", aggfunc="sum", fill_value=0)
    got = per_kind[[LogKind.HANDED_OUT, LogKind.PLANTED_OUT]].max(axis=1).reindex(sowings.index, fill_value=0)
    frame = sowings.assign(got=got, counts=got.clip(upper=sowings["plants"]))
    expected = frame.groupby("grower")[["plants", "got", "counts"]].sum()
    found = tables["growers"].set_index("grower")
    assert sorted(found.index) == sorted(expected.index)
    expected = expected.reindex(found.index)
    assert found["wanted"].tolist() == expected["plants"].tolist()
    assert found["handed_out"].tolist() == expected["got"].tolist()
    assert found["share"].tolist() == pytest.approx((expected["counts"] / expected["plants"]).tolist(), abs=1e-4)


@pytest.mark.parametrize("season", ["played"], indirect=True)
def test_cells_that_came_up_are_those_of_pandas(season):
    """All is over long ago, so every sowing with seedlings counts, and so do those that were given up."""
    _, tables, (entries, sowings, _), _ = season
    seen = entries[entries["kind"] == LogKind.UP].fillna({"tray": 0})
    by_tray = seen.groupby(["sowing", "tray"])["count"].max()
    up = by_tray.groupby("sowing").sum()
    sown = entries[entries["kind"] == LogKind.SOWN].groupby("sowing")["count"].sum()
    lost = entries[entries["kind"] == LogKind.LOST]
    given_up = lost.groupby("sowing")["count"].sum().reindex(sown.index, fill_value=0) >= sown
    up = up.reindex(sown.index).where(lambda count: count.notna() | ~given_up, 0)
    # What was lost to a known cause before anything was up is taken off.
    first_up = lost["sowing"].map(first_days(entries, {LogKind.UP}))
    before = first_up.isna() | (lost["date"] < first_up)
    is_of_the_bench = lost["cause"].notna() & (lost["cause"] != Cause.UNKNOWN)
    spoiled = lost[before & is_of_the_bench].groupby("sowing")["count"].sum()
    both = pd.DataFrame({"sown": sown.sub(spoiled, fill_value=0), "up": up}).dropna()
    both["up"] = both[["sown", "up"]].min(axis=1)
    expected = both.groupby(sowings["crop"].reindex(both.index))[["sown", "up"]].sum()
    found = tables["seed"][tables["seed"]["seed_lot"].isna()].set_index("crop")
    assert found["cells"].to_dict() == expected["sown"].to_dict()
    assert found["cells_up"].to_dict() == expected["up"].to_dict()
