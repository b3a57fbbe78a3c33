"""Everything that a plan is made from, read as columns."""

from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from itertools import groupby
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Date, Row, Select, case, func, inspect, select, true, type_coerce
from sqlalchemy.orm import InstrumentedAttribute, Session
from sqlalchemy.sql.elements import ColumnElement

from app.core import cards
from app.core.calendar import as_day
from app.core.cards import ContainerCard, CropCard, Garden, GrowerCard, SeedLotCard, Settings, ShelfCard, Sowings
from app.core.dates.frost import Frost, entered_frost, frost_of_record
from app.core.dates.record import DailyRecord, Freezes
from app.core.log.learning import Observed
from app.core.space.footprint import positions_of
from app.core.words import PLACES, FrostSource, Place, Side
from app.storage import models
from app.storage.published import emergence_rows, legal_germination
from app.storage.queries.days import day_number, find_today
from app.storage.queries.dealt import get_dealt, positions_in
from app.storage.queries.log import get_log
from app.storage.queries.record import get_freezes, get_record


class NoGardenError(Exception):
    """The database holds no garden yet."""


def _day(column: InstrumentedAttribute[date | None]) -> ColumnElement[int]:
    return func.coalesce(day_number(type_coerce(column, Date)), 0)


def _sowings_statement() -> Select[*tuple[Any, ...]]:
    sowing, lot = models.Sowing, models.SeedLot
    light = case({place.value: index for index, place in enumerate(PLACES)}, value=sowing.light, else_=-1)
    return (
        select(
            sowing.id,
            sowing.name,
            sowing.variety,
            sowing.grower_id,
            sowing.crop_id,
            sowing.plants,
            func.coalesce(sowing.placed, -1),
            func.coalesce(sowing.days_to_maturity, 0),
            func.coalesce(lot.germination, 0.0),
            func.coalesce(sowing.priority, 2),
            _day(sowing.plant_out),
            _day(sowing.sow_on),
            func.coalesce(sowing.risk, 0.0),
            light,
            func.coalesce(sowing.seed_lot_id, 0),
            sowing.brings_seed,
        )
        .outerjoin(lot, sowing.seed_lot_id == lot.id)
        .order_by(sowing.id)
    )


SOWINGS = _sowings_statement()
# The one garden, once for each of its frost dates.
GARDEN = (
    select(models.Garden, models.FrostPoint.side, models.FrostPoint.chance_percent, models.FrostPoint.month_day)
    .outerjoin(models.FrostPoint, true())
    .order_by(models.FrostPoint.id)
)
GROWERS = select(models.Grower.id, models.Grower.name, models.Grower.plot).order_by(models.Grower.name)
CONTAINERS = select(
    models.Container.id,
    models.Container.name,
    models.Container.cells_per_tray,
    models.Container.cell_volume_ml,
    models.Container.rows,
    models.Container.columns,
).order_by(models.Container.id)
SEED_LOTS = (
    select(
        models.SeedLot.id,
        models.SeedLot.name,
        models.SeedLot.crop_id,
        models.SeedLot.germination,
        models.SeedTest.tried,
        models.SeedTest.up,
        models.SeedTest.seeds_per_cell,
    )
    .outerjoin(models.SeedTest, models.SeedTest.seed_lot_id == models.SeedLot.id)
    .order_by(models.SeedLot.id, models.SeedTest.id)
)
CROPS = select(*inspect(models.Crop).columns).order_by(models.Crop.name)
SHELVES = select(models.Shelf).order_by(models.Shelf.id)


def get_garden(session: Session) -> Garden:
    """Return the garden that a plan is made from, in nine queries whatever its size.

    One more reads a station's record, the first time that this process needs it.

    Raises:
        NoGardenError: The database holds no garden yet.
        TooFewYearsError: Frost comes from a record with too few years.
    """
    rows = session.execute(GARDEN).all()
    if not rows:
        raise NoGardenError
    row = session.info[models.Garden] = rows[0][0]  # held, so that the session need not be asked for it again
    containers = tuple(ContainerCard(**box) for box in session.execute(CONTAINERS).mappings())
    boxes = tuple(box.id for box in containers)
    crops = tuple(_card(crop, boxes) for crop in session.execute(CROPS))
    growers = tuple(GrowerCard._make(row) for row in session.execute(GROWERS))
    tray_cm = (row.tray_length_cm, row.tray_width_cm)
    station = _station(session, row)
    crop_ids = [crop.id for crop in crops]
    lots = _seed_lots(session, {crop: index for index, crop in enumerate(crop_ids)})
    sowings = _sowings(session, [grower.id for grower in growers], crop_ids, [lot.id for lot in lots])
    return Garden(
        settings=Settings(
            name=row.name,
            season=row.season,
            southern=row.latitude < 0,
            latitude_deg=row.latitude,
            sowing_weekday=row.sowing_day.number,
            hand_out_weekday=row.hand_out_day.number,
            tray_cm=tray_cm,
            risk=row.risk,
            autumn_risk=row.autumn_risk,
            confidence=row.confidence,
            survival=row.survival,
            spare=row.spare,
        ),
        frost=_frost(row, [point for _, *point in rows], station),
        growers=growers,
        cards=crops,
        containers=containers,
        shelves=tuple(_shelf(shelf, tray_cm) for shelf in session.scalars(SHELVES)),
        sowings=sowings,
        station=station,
        record=_record_for_heat(session, row, crops),
        dealt=get_dealt(session, _ints([box.id for box in containers]), sowings.ids),
        log=get_log(session, sowings.ids, _ints([lot.id for lot in lots])),
        lots=lots,
        today=as_day(find_today(session)),
    )


def _seed_lots(session: Session, crop_index: dict[int, int]) -> tuple[SeedLotCard, ...]:
    rows: list[tuple[Any, ...]] = [tuple(row) for row in session.execute(SEED_LOTS)]
    return tuple(
        SeedLotCard(
            id=lot,
            name=name,
            crop=crop_index[crop],
            stated=stated,
            tests=tuple(Observed(tried, up, per_cell) for *_, tried, up, per_cell in tests if tried),
        )
        for (lot, name, crop, stated), tests in groupby(rows, key=lambda row: (row[0], row[1], row[2], row[3]))
    )


def _record_for_heat(session: Session, row: models.Garden, crops: tuple[CropCard, ...]) -> DailyRecord | None:
    is_wanted = row.record_mark is not None and any(card.heat_sum_cd is not None for card in crops)
    return get_record(session) if is_wanted else None


def _station(session: Session, row: models.Garden) -> Freezes | None:
    if row.record_mark is None or row.frost_source is not FrostSource.STATION:
        return None
    return get_freezes(session, row.record_mark, row.threshold_c, southern=row.latitude < 0)


def _frost(row: models.Garden, points: list[list[Any]], station: Freezes | None) -> Frost:
    dates: dict[Side, dict[int, str]] = {Side.SPRING: {}, Side.AUTUMN: {}}
    for side, chance, month_day in points:
        if side is not None:
            dates[side][chance] = month_day
    if station is not None:
        return frost_of_record(station, row.frost_law, season=row.season)
    return entered_frost(row.frost_source, dates, season=row.season, southern=row.latitude < 0)


# Few changes of a garden are changes of its cards.
@lru_cache(maxsize=1024)
def _card(crop: Row[Any], containers: tuple[int, ...]) -> CropCard:
    start, pot_on = crop.start_container_id, crop.pot_on_container_id
    return CropCard(
        id=crop.id,
        name=crop.name,
        hardiness=crop.hardiness,
        plant_out_weeks=crop.plant_out_weeks,
        direct_sow_weeks=crop.direct_sow_weeks,
        indoor_weeks_min=crop.indoor_weeks_min,
        indoor_weeks_max=crop.indoor_weeks_max,
        start_container=None if start is None else containers.index(start),
        pot_on_container=None if pot_on is None else containers.index(pot_on),
        pot_on_after_days=crop.pot_on_after_days,
        days_to_maturity=crop.days_to_maturity,
        counted_from=crop.counted_from,
        harvest_days=cards.HARVEST_DAYS if crop.harvest_days is None else crop.harvest_days,
        hardening_days=cards.HARDENING_DAYS if crop.hardening_days is None else crop.hardening_days,
        days_to_emerge=crop.days_to_emerge or 1,  # none is given only where nothing waits for it
        germ_temp_c=crop.germ_temp_c,
        heat=crop.heat,
        light=crop.light,
        seeds_per_cell=crop.seeds_per_cell,
        plants_per_cell=crop.plants_per_cell or 1,
        emergence=emergence_rows().get(crop.emergence_row or ""),
        legal_germination=legal_germination().get(crop.germination_kind or ""),
        seeds_per_gram=crop.seeds_per_gram,
        dli_target=crop.dli_target,
        heat_sum_cd=crop.heat_sum_cd,
        heat_base_c=crop.heat_base_c,
        heat_method=crop.heat_method,
        sow_depth_mm=crop.sow_depth_mm,
        needs_light=crop.light_to_germinate,
    )


def _shelf(shelf: models.Shelf, tray_cm: tuple[float, float]) -> ShelfCard:
    counted = positions_of(shelf.width_cm, shelf.depth_cm, tray_cm, shelf.levels)
    return ShelfCard(
        id=shelf.id,
        name=shelf.name,
        place=Place(shelf.place),
        positions=counted if shelf.positions is None else shelf.positions,
        bench_temp_c=shelf.bench_temp_c,
        width_cm=shelf.width_cm,
        depth_cm=shelf.depth_cm,
        levels=shelf.levels,
        ppfd=shelf.ppfd,
        hours_per_day=shelf.hours_per_day,
        watts=shelf.watts,
        pan_depth_mm=shelf.pan_depth_mm,
        has_fan=bool(shelf.fan),
    )


def _sowings(session: Session, grower_ids: list[int], crop_ids: list[int], lot_ids: list[int]) -> Sowings:
    # The driver's own rows: every column comes ready for use, and 50,000 rows are read in half the time.
    rows = session.connection().execute(SOWINGS).cursor.fetchall()
    columns = zip(*rows, strict=True) if rows else ((),) * len(SOWINGS.selected_columns)
    ids, names, varieties, grower, crop, plants, placed, days, germination, priority, *rest = columns
    plant_out, sow_on, risk, light, seed_lot, brings_seed = rest
    return Sowings(
        ids=_ints(ids),
        names=tuple(names),
        varieties=tuple(varieties),
        grower=positions_in(_ints(grower_ids), _ints(grower)),
        crop=positions_in(_ints(crop_ids), _ints(crop)),
        plants=_ints(plants),
        placed=_ints(placed),
        days_to_maturity=_ints(days),
        germination=np.array(germination, dtype=np.float64),
        priority=_ints(priority),
        plant_out=_ints(plant_out),
        sow_on=_ints(sow_on),
        risk=np.array(risk, dtype=np.float64),
        light=_ints(light),
        seed_lot=np.where(_ints(seed_lot) == 0, -1, positions_in(_ints(lot_ids), _ints(seed_lot))),
        brings_seed=np.array(brings_seed, dtype=bool),
    )


def _ints(values: Sequence[int]) -> NDArray[np.int64]:
    return np.array(values, dtype=np.int64)
