"""Hypothesis strategies for whole gardens, as rows of the database's tables."""

import random
from datetime import date, timedelta

import numpy as np
from hypothesis import strategies as st

from app.core import limits
from app.core.dates.record import DailyRecord
from app.core.space.grid import grid_of
from app.core.words import (
    Cause,
    CellState,
    CountedFrom,
    FrostLaw,
    FrostSource,
    Hardiness,
    HeatMethod,
    Light,
    LogKind,
    Origin,
    Place,
    Side,
    Tick,
    Transplanting,
    Units,
    Weekday,
)
from app.language import LANGUAGES
from app.storage.queries.record import mark_of

SEASON = 2027
HIDDEN = ["Cs", "Cc", "Co", "Cn"]
TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
PRINTED = st.characters(exclude_categories=[*HIDDEN, "Zl", "Zp"], exclude_characters=TURNING)
NAMES = st.text(PRINTED, min_size=1, max_size=80).map(lambda text: text.strip(" \u00a0")).filter(str.strip)
TRICKY = st.sampled_from(["=1+1", "+49 151", "-", "@here", "'t Veld", "''=x", '"', "a,b", "Ünal 😀", "0042", "1e5"])
KEYS = st.one_of(NAMES, TRICKY)
FREE = st.text(
    st.characters(exclude_categories=HIDDEN, include_characters="\n\r\t", exclude_characters=TURNING),
    min_size=1,
    max_size=80,
) | st.sampled_from(["=1+1", "\t=x", "\r\n", "two\nlines", 'say "so", twice', "'"])


def whole(bounds):
    return st.integers(int(bounds.low), int(bounds.high))


def number(bounds):
    return st.floats(bounds.low, bounds.high) | st.integers(int(bounds.low) + 1, int(bounds.high)).map(float)


def maybe(values):
    return st.none() | values


def unique_names(count):
    return st.lists(KEYS, min_size=count, max_size=count, unique=True)


def month_days(first, last):
    return st.dates(date(2001, *first), date(2001, *last)).map(lambda day: day.strftime("%m-%d"))


@st.composite
def frost_points(draw, source, latitude):
    points = []
    early, late = ((3, 1), (6, 30)), ((9, 1), (12, 20))
    spring, autumn = (late, early) if latitude < 0 else (early, late)
    if source is FrostSource.STATION and draw(st.booleans()):
        return points  # nothing was entered before the record came
    source = draw(st.sampled_from([FrostSource.DATES, FrostSource.TABLE])) if source is FrostSource.STATION else source
    for side, (first, last) in ((Side.SPRING, spring), (Side.AUTUMN, autumn)):
        if source is FrostSource.DATES:
            points.append({"side": side, "chance_percent": 50, "month_day": draw(month_days(first, last))})
            continue
        others = draw(st.sets(st.integers(1, 99).filter(lambda percent: percent != 50), min_size=1, max_size=6))
        percents = sorted({50, *others}, reverse=side is Side.SPRING)
        days = draw(st.sets(month_days(first, last), min_size=len(percents), max_size=len(percents)))
        points += [
            {"side": side, "chance_percent": percent, "month_day": day}
            for percent, day in zip(percents, sorted(days), strict=True)
        ]
    return points


class Many(list):
    """Rows by the hundred, which no report of a failure is to list."""

    def __repr__(self):
        return f"<{len(self)} rows>"


@st.composite
def record_rows(draw, threshold_c, latitude):
    """Return days around midsummer of eleven years, each with a freeze before and after it; some lack a figure."""
    first = date(2001, 1, 5) if latitude < 0 else date(2001, 7, 5)
    chance = random.Random(draw(st.integers(0, 2**32)))
    rows = Many()
    for year in range(2001, 2012):
        begin = first.replace(year=year).toordinal()
        last, autumn = chance.randint(0, 15), chance.randint(30, 40)
        for number in range(42):
            freezes = number in {last, autumn}
            tmin = (
                threshold_c - 1 if freezes else round(threshold_c + 3 + 20 * chance.random(), chance.choice([0, 1, 15]))
            )
            rows.append(
                {
                    "date": date.fromordinal(begin + number),
                    "tmin_c": None if number == 20 else tmin,
                    "tmax_c": tmin + 10 if number == 20 or chance.random() < 0.9 else None,
                }
            )
    return rows


def with_record(garden, rows):
    """Return a garden's row with the mark of its record."""
    columns = {name: np.array([row[name] for row in rows], dtype=np.float64) for name in ("tmin_c", "tmax_c")}
    day = np.array([row["date"].toordinal() for row in rows], dtype=np.int64)
    return garden | {"record_mark": mark_of(DailyRecord(day=day, **columns)) if rows else None}


@st.composite
def garden_rows(draw):
    return {
        "id": 1,
        "name": draw(NAMES),
        "season": SEASON,
        "units": draw(st.sampled_from(Units)),
        "language": draw(st.sampled_from(sorted(LANGUAGES))),
        "sowing_day": draw(st.sampled_from(Weekday)),
        "hand_out_day": draw(st.sampled_from(Weekday)),
        "wishes_close": draw(maybe(month_days((1, 1), (12, 31)))),
        "tray_length_cm": draw(number(limits.TRAY_CM)),
        "tray_width_cm": draw(number(limits.TRAY_CM)),
        "latitude": draw(number(limits.LATITUDE_DEG)),
        "longitude": draw(number(limits.LONGITUDE_DEG)),
        "elevation_m": draw(number(limits.ELEVATION_M)),
        "frost_source": draw(st.sampled_from(FrostSource)),
        "frost_law": draw(st.sampled_from(FrostLaw)),
        "threshold_c": draw(number(limits.FREEZE_C)),
        "risk": draw(st.floats(*limits.RISK)),
        "autumn_risk": draw(st.floats(*limits.RISK)),
        "confidence": draw(st.floats(*limits.CONFIDENCE)),
        "survival": draw(st.floats(*limits.SURVIVAL)),
        "spare": draw(st.floats(*limits.SPARE)),
    }


@st.composite
def container_rows(draw, row_id, name):
    rows, columns = draw(st.none() | st.tuples(st.integers(1, 20), st.integers(1, 20))) or (None, None)
    return {
        "id": row_id,
        "name": name,
        "cells_per_tray": rows * columns if rows else draw(whole(limits.CELLS_PER_TRAY)),
        "cell_volume_ml": draw(number(limits.CELL_VOLUME_ML)),
        "rows": rows,
        "columns": columns,
    }


@st.composite
def crop_rows(draw, row_id, name, n_containers):
    containers = st.integers(1, n_containers)
    indoors = draw(st.booleans())
    transplanting = draw(maybe(st.sampled_from(Transplanting)))
    potted = indoors and transplanting is not Transplanting.RESENTS and draw(st.booleans())
    weeks = sorted(draw(st.tuples(number(limits.INDOOR_WEEKS), number(limits.INDOOR_WEEKS))))
    return {
        "id": row_id,
        "name": name,
        "botanical": draw(maybe(FREE)),
        "hardiness": draw(st.sampled_from(Hardiness)),
        "plant_out_weeks": draw(number(limits.PLANT_OUT_WEEKS)) if indoors else None,
        "direct_sow_weeks": draw(maybe(number(limits.PLANT_OUT_WEEKS))) if indoors else 1.0,
        "indoor_weeks_min": weeks[0] if indoors else None,
        "indoor_weeks_max": weeks[1] if indoors else None,
        "start_container_id": draw(containers) if indoors else None,
        "pot_on_container_id": draw(containers) if potted else None,
        "pot_on_after_days": draw(whole(limits.POT_ON_DAYS)) if potted else None,
        "transplanting": transplanting,
        "days_to_maturity": draw(whole(limits.MATURITY_DAYS)),
        "counted_from": draw(st.sampled_from(CountedFrom)),
        "harvest_days": draw(maybe(whole(limits.HARVEST_DAYS))),
        "hardening_days": draw(maybe(whole(limits.HARDENING_DAYS))),
        "days_to_emerge": draw(whole(limits.EMERGE_DAYS) if indoors else maybe(whole(limits.EMERGE_DAYS))),
        "germ_temp_c": draw(maybe(number(limits.TEMPERATURE_C))),
        "heat": draw(st.booleans()),
        "light": draw(st.sampled_from(Light) if indoors else maybe(st.sampled_from(Light))),
        "light_to_germinate": draw(maybe(st.booleans())),
        "seeds_per_cell": draw(whole(limits.SEEDS_PER_CELL)),
        "plants_per_cell": draw(maybe(whole(limits.PLANTS_PER_CELL))),
        "sow_depth_mm": draw(maybe(number(limits.SOW_DEPTH_MM))),
        "seeds_per_gram": draw(maybe(number(limits.SEEDS_PER_GRAM))),
        "seed_storage_years": draw(maybe(number(limits.STORAGE_YEARS))),
        "dli_target": draw(maybe(number(limits.DLI_MOL))),
        "heat_sum_cd": draw(maybe(number(limits.HEAT_SUM_CD))),
        "heat_base_c": draw(maybe(number(limits.TEMPERATURE_C))),
        "heat_method": draw(maybe(st.sampled_from(HeatMethod))),
        "emergence_row": draw(maybe(st.sampled_from(["tomato", "carrot"]))),
        "germination_kind": draw(maybe(st.sampled_from(["Tomato", "Basil, sweet"]))),
        "source": draw(maybe(FREE)),
    }


@st.composite
def shelf_rows(draw, row_id, name):
    return {
        "id": row_id,
        "name": name,
        "place": draw(st.sampled_from(Place)),
        "width_cm": draw(number(limits.SHELF_CM)),
        "depth_cm": draw(number(limits.SHELF_CM)),
        "levels": draw(whole(limits.LEVELS)),
        "positions": draw(maybe(whole(limits.POSITIONS))),
        "bench_temp_c": draw(maybe(number(limits.TEMPERATURE_C))),
        "ppfd": draw(maybe(number(limits.PPFD))),
        "hours_per_day": draw(maybe(number(limits.HOURS_PER_DAY))),
        "watts": draw(maybe(number(limits.WATTS))),
        "pan_depth_mm": draw(maybe(number(limits.PAN_DEPTH_MM))),
        "fan": draw(maybe(st.booleans())),
    }


@st.composite
def grower_rows(draw, row_id, name):
    days = draw(st.sets(st.sampled_from(Weekday)))
    return {
        "id": row_id,
        "name": name,
        "plot": draw(maybe(FREE)),
        "contact": draw(maybe(FREE)),
        "days": " ".join(day for day in Weekday if day in days) or None,
    }


@st.composite
def seed_lot_rows(draw, row_id, name, n_crops):
    return {
        "id": row_id,
        "name": name,
        "crop_id": draw(st.integers(1, n_crops)),
        "variety": draw(maybe(FREE)),
        "germination": draw(maybe(number(limits.GERMINATION))),
        "origin": draw(maybe(st.sampled_from(Origin))),
        "year": draw(maybe(whole(limits.SEED_YEAR))),
    }


@st.composite
def sowing_rows(draw, row_id, name, lots, n_growers, n_crops, most_plants):
    crop = draw(st.integers(1, n_crops))
    days = maybe(st.dates(date(SEASON - 1, 1, 1), date(SEASON + 1, 12, 31)))
    plants = draw(st.integers(1, most_plants))
    return {
        "id": row_id,
        "name": name,
        "grower_id": draw(st.integers(1, n_growers)),
        "crop_id": crop,
        "seed_lot_id": draw(st.sampled_from([None, *(lot["id"] for lot in lots if lot["crop_id"] == crop)])),
        "plants": plants,
        "variety": draw(maybe(FREE)),
        "days_to_maturity": draw(maybe(whole(limits.MATURITY_DAYS))),
        "priority": draw(maybe(whole(limits.PRIORITY))),
        "plant_out": draw(days),
        "risk": draw(maybe(st.floats(*limits.RISK))),
        "sow_on": draw(days),
        "light": draw(maybe(st.sampled_from(Light))),
        "placed": draw(maybe(st.integers(0, plants))),
    }


def tray_rows(chance, containers):
    """Return up to four trays, whose ids are not in the order of their numbers."""
    numbers = chance.sample(range(1, 100_000), chance.randint(0, 4))
    return [
        {
            "id": row_id,
            "number": number,
            "container_id": chance.choice(containers)["id"],
            "sow_on": date(SEASON - 2, 11, 1) + timedelta(chance.randint(0, 900)),
            "potted_on": chance.random() < 0.3,
            "pinned": chance.random() < 0.3,
        }
        for row_id, number in enumerate(numbers, 1)
    ]


def cell_rows(chance, trays, containers, sowings):
    """Return every cell of the trays; some belong to a sowing."""
    rows = Many()
    sizes = {box["id"]: grid_of(box["cells_per_tray"], box["rows"], box["columns"]) for box in containers}
    for tray in trays:
        grid, share = sizes[tray["container_id"]], chance.choice([0.1, 0.5, 1])
        for row in range(1, grid.rows + 1):
            for column in range(1, grid.columns + 1):
                sowing = chance.choice(sowings)["id"] if sowings and chance.random() < share else None
                state = CellState.EMPTY if sowing is None else chance.choice(list(CellState))
                key = {"tray_id": tray["id"], "row_number": row, "column_number": column}
                rows.append(key | {"sowing_id": sowing, "state": state})
    return rows


def stay_rows(chance, trays, shelves):
    """Return stretches of each tray, one after the other; where a drawn position is taken, the tray waits."""
    rows, taken = [], set()
    for tray in trays:
        begin = tray["sow_on"]
        for _ in range(chance.randint(0, 4)):
            end = begin + timedelta(chance.randint(1, 40))
            position = (None, None, None)
            if shelves:
                position = (chance.choice(shelves)["id"], chance.choice([1, 50]), chance.choice([1, 10_000]))
            days = {(position, begin + timedelta(day)) for day in range((end - begin).days)}
            if days & taken:
                position = (None, None, None)
            else:
                taken |= days
            rows.append(
                {
                    "id": len(rows) + 1,
                    "tray_id": tray["id"],
                    "place": chance.choice(list(Place)),
                    **dict(zip(("shelf_id", "level", "slot"), position, strict=True)),
                    "begin_on": begin,
                    "end_on": end,
                    "pinned": position[0] is not None and chance.random() < 0.3,
                }
            )
            begin = end + timedelta(chance.choice([0, 0, 3]))
    return rows


def log_rows(chance, sowings, crops, trays, cells, growers):
    """Return entries that go together; some correct others, and some are written down after what came later."""
    rows = []

    def add(sowing, kind, day, count, **more):
        rows.append(
            {
                "id": len(rows) + 1,
                "name": f"E-{len(rows) + 1}",
                "sowing_id": sowing["id"],
                "kind": kind,
                "date": day,
                "count": count,
                "seeds": None,
                "tray_id": None,
                "seed_lot_id": None,
                "cause": None,
                "note": chance.choice([None, "two\nlines, with a comma", "=1+1"]),
                "supersedes_id": None,
                "cells": None,
                "grower_id": chance.choice([None, growers[0]["id"]]),
                "account_id": None,
                "made_at": None,
            }
            | more
        )
        return rows[-1]

    potted = {tray["id"]: tray["potted_on"] for tray in trays}
    for sowing in sowings:
        its = [cell for cell in cells if cell["sowing_id"] == sowing["id"] and not potted[cell["tray_id"]]]
        crop = crops[sowing["crop_id"] - 1]
        day, sown = date(SEASON, 3, 1), chance.randint(1, 40)
        where = {}
        if its and chance.random() < 0.7:
            tray = chance.choice(its)["tray_id"]
            own = [cell for cell in its if cell["tray_id"] == tray][:40]
            sown = len(own)
            where = {"tray_id": tray, "cells": " ".join(f"{c['row_number']}-{c['column_number']}" for c in own)}
        if chance.random() < 0.2:
            continue
        if chance.random() < 0.3:
            wrong = add(sowing, LogKind.SOWN, day, sown * 3)
            add(sowing, LogKind.SOWN, day, 0, supersedes_id=wrong["id"])
        add(sowing, LogKind.SOWN, day, sown, seeds=sown * chance.randint(1, 3), **where)
        up = chance.randint(0, sown)
        if up:
            add(sowing, LogKind.UP, day + timedelta(chance.randint(0, 20)), up, tray_id=where.get("tray_id"))
        there = up * (crop["plants_per_cell"] or 1) if up else sown
        gone = chance.randint(0, there)
        if gone:
            kind = chance.choice([LogKind.LOST, LogKind.HANDED_OUT]) if up else LogKind.LOST
            cause = chance.choice(list(Cause)) if kind is LogKind.LOST else None
            last = add(sowing, kind, day + timedelta(30), gone, cause=cause)
            if chance.random() < 0.5:
                add(sowing, kind, day + timedelta(31), gone, cause=cause, supersedes_id=last["id"])
    return rows


def shared_rows(chance, garden):
    """Return ticks, tests, rounds, drafts and spare plants of a garden's growers, lots and sowings."""
    growers, sowings, crops = ([row["id"] for row in garden[name]] for name in ("grower", "sowing", "crop"))
    lots = [row["id"] for row in garden["seed_lot"]]
    days = [date(SEASON, 3, 1) + timedelta(day) for day in range(4)]
    note = ["a note, with a comma", None]

    def maybe_of(ids):
        return chance.choice([None, *ids])

    def some(make, at_least_one_of=True):
        return [make(number) for number in range(1, chance.randint(0, 3) + 1)] if at_least_one_of else []

    ticks = [
        {"id": number, "sowing_id": sowing, "task": task, "date": day}
        for number, (sowing, task, day) in enumerate(
            [(sowing, task, day) for sowing in sowings for task in Tick for day in days[:2]], 1
        )
        if chance.random() < 0.9 or number == 1
    ]
    for number, row in enumerate(ticks, 1):
        row["id"] = number
    offers = some(
        lambda n: {"id": 3 * n, "sowing_id": chance.choice(sowings), "plants": n, "date": days[0],
                   "note": chance.choice(note)}, sowings)  # fmt: skip
    requests = some(
        lambda n: {"id": 2 * n, "grower_id": chance.choice(growers), "crop_id": chance.choice(crops), "plants": n,
                   "date": days[1], "note": chance.choice(note)})  # fmt: skip
    return {
        "ticked": ticks,
        "seed_test": some(
            lambda n: {"id": n, "seed_lot_id": chance.choice(lots), "date": days[0], "tried": 20,
                       "seeds_per_cell": chance.choice([1.0, 2.4]), "up": chance.randint(0, 20),
                       "days": chance.choice([None, 9])}, lots),
        "care_round": some(
            lambda n: {"id": n, "date": days[n], "grower_id": maybe_of(growers), "is_offered": chance.random() < 0.5,
                       "is_swapped": chance.random() < 0.5, "done_on": maybe_of(days), "done_by_id": maybe_of(growers),
                       "note": chance.choice(note)}),
        "draft": some(
            lambda n: {"id": n, "grower_id": chance.choice(growers), "crop_id": chance.choice(crops),
                       "seed_lot_id": maybe_of(lots), "plants": n, "variety": chance.choice([None, "Red"]),
                       "days_to_maturity": chance.choice([None, 70]), "priority": chance.choice([None, 1]),
                       "brings_seed": chance.random() < 0.5, "got": chance.choice([None, 0, n])}),
        "spare_offer": offers,
        "spare_request": requests,
        "spare_gift": some(
            lambda n: {"id": n, "offer_id": chance.choice(offers)["id"],
                       "request_id": maybe_of([row["id"] for row in requests]), "grower_id": maybe_of(growers),
                       "plants": n, "date": days[2]}, offers),
    }  # fmt: skip


@st.composite
def gardens(draw, most_plants=int(limits.PLANTS.high)):
    """Return the rows of each table of a garden, in the order in which they can be inserted."""

    def rows_of(strategy, least, *args):
        names = draw(unique_names(draw(st.integers(least, 3))))
        return [draw(strategy(number, name, *args)) for number, name in enumerate(names, 1)]

    garden = draw(garden_rows())
    has_record = garden["frost_source"] is FrostSource.STATION or draw(st.booleans())
    record = draw(record_rows(garden["threshold_c"], garden["latitude"])) if has_record else []
    garden = with_record(garden, record)
    growers, containers = rows_of(grower_rows, 1), rows_of(container_rows, 1)
    crops = rows_of(crop_rows, 1, len(containers))
    shelves = rows_of(shelf_rows, 0)
    lots = rows_of(seed_lot_rows, 0, len(crops))
    sowings = rows_of(sowing_rows, 0, lots, len(growers), len(crops), most_plants)
    chance = random.Random(draw(st.integers(0, 2**32)))
    trays = tray_rows(chance, containers)
    cells = cell_rows(chance, trays, containers, sowings)
    rows = {
        "garden": [garden],
        "daily_temperature": record,
        "frost_point": draw(frost_points(garden["frost_source"], garden["latitude"])),
        "grower": growers,
        "container": containers,
        "crop": crops,
        "shelf": shelves,
        "seed_lot": lots,
        "sowing": sowings,
        "tray": trays,
        "cell": cells,
        "stay": stay_rows(chance, trays, shelves),
        "log_entry": log_rows(chance, sowings, crops, trays, cells, growers),
    }
    return rows | shared_rows(chance, rows)
