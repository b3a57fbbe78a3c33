"""What depends on a row, as the page that refuses to remove it lists it."""

from dataclasses import dataclass, replace
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Select, func, select
from sqlalchemy.orm import Session

from app.core.words import CellState
from app.language import _, language
from app.storage.models import Cell, Container, Crop, Grower, LogEntry, SeedLot, Sowing, Stay, Tray
from app.storage.published import names_in
from app.storage.queries.crops import crop_order

FIRST_USES = 20


class Use(NamedTuple):
    """One row that depends on another: its id, of a tray its number, its name, and a few words on it."""

    id: int
    name: str
    words: str


@dataclass(frozen=True)
class Uses:
    """All rows of one noun that depend on a row: how many, and the first of them."""

    noun: str
    count: int
    first: tuple[Use, ...]


def list_sowings_of_grower(session: Session, grower_id: int) -> Uses:
    """Return the sowings of a grower."""
    query = select(Sowing.id, Sowing.name, Crop.name).join(Sowing.crop).where(Sowing.grower_id == grower_id)
    uses = _uses(session, "sowings", query, Sowing.name)
    return replace(uses, first=tuple(use._replace(words=_name(use.words)) for use in uses.first))


def list_sowings_of_crop(session: Session, crop_id: int) -> Uses:
    """Return the sowings of a crop."""
    query = select(Sowing.id, Sowing.name, Grower.name).join(Sowing.grower).where(Sowing.crop_id == crop_id)
    return _uses(session, "sowings", query, Sowing.name)


def list_sowings_of_seed_lot(session: Session, seed_lot_id: int) -> Uses:
    """Return the sowings that take a seed lot, and those of which the log says that it was sown."""
    logged = select(LogEntry.sowing_id).where(LogEntry.seed_lot_id == seed_lot_id)
    takes = (Sowing.seed_lot_id == seed_lot_id) | Sowing.id.in_(logged)
    query = select(Sowing.id, Sowing.name, Grower.name).join(Sowing.grower).where(takes)
    return _uses(session, "sowings", query, Sowing.name)


def list_seed_lots_of_crop(session: Session, crop_id: int) -> Uses:
    """Return the seed lots of a crop."""
    query = select(SeedLot.id, SeedLot.name, func.coalesce(SeedLot.variety, "")).where(SeedLot.crop_id == crop_id)
    return _uses(session, "seed_lots", query, SeedLot.name)


def list_crops_of_container(session: Session, container_id: int) -> Uses:
    """Return the crop cards that start in a container or are potted on into it."""
    query = select(Crop.id, Crop.name, func.coalesce(Crop.botanical, "")).where(
        (Crop.start_container_id == container_id) | (Crop.pot_on_container_id == container_id)
    )
    uses = _uses(session, "crops", query, Crop.name)
    return replace(uses, first=tuple(use._replace(name=_name(use.name)) for use in uses.first))


def list_trays_sown_with(session: Session, sowing_id: int) -> Uses:
    """Return the trays in which cells of a sowing are sown, or pots of it filled."""
    sown = select(Cell.tray_id).where(Cell.sowing_id == sowing_id, Cell.state != CellState.EMPTY)
    return _trays(session, Tray.id.in_(sown))


def list_trays_of_container(session: Session, container_id: int, *, only_sown: bool = False) -> Uses:
    """Return the trays of a container, or those of them in which something is sown."""
    wanted = Tray.container_id == container_id
    if only_sown:
        wanted &= select(Cell.tray_id).where(Cell.tray_id == Tray.id, Cell.state != CellState.EMPTY).exists()
    return _trays(session, wanted)


def list_trays_on_shelf(session: Session, shelf_id: int, today: date) -> Uses:
    """Return the trays that stand on a shelf today or will later."""
    return _trays(session, Tray.id.in_(select(Stay.tray_id).where(Stay.shelf_id == shelf_id, Stay.end_on > today)))


def _trays(session: Session, wanted: ColumnElement[bool]) -> Uses:
    count = session.scalar(select(func.count()).select_from(Tray).where(wanted)) or 0
    query = select(Tray.number, Container.name).join(Container, Tray.container_id == Container.id).where(wanted)
    rows = session.execute(query.order_by(Tray.number).limit(FIRST_USES)) if count else ()
    return Uses(
        "trays", count, tuple(Use(number, _("Tray %(number)s", number=number), _name(box)) for number, box in rows)
    )


def _uses(session: Session, noun: str, query: Select[int, str, str], name: Any) -> Uses:  # noqa: ANN401 - a column
    count = session.scalar(select(func.count()).select_from(query.subquery())) or 0
    model = name.class_
    order = crop_order(session) if model is Crop else name
    rows = session.execute(query.order_by(order, model.id).limit(FIRST_USES)) if count else ()
    return Uses(noun, count, tuple(Use(*row) for row in rows))


def _name(name: str) -> str:
    """Return what a crop or container is called in the language that is spoken."""
    return names_in(language()).get(name, name)
