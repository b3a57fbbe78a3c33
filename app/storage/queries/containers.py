"""Containers."""

from typing import NamedTuple

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from app.storage.models import Container, Crop
from app.storage.queries.rows import Choice, get_row, list_choices


class ContainerRow(NamedTuple):
    """A container as the list shows it."""

    id: int
    name: str
    cells_per_tray: int
    cell_volume_ml: float
    rows: int | None
    columns: int | None
    crops: int


def get_container(session: Session, container_id: int) -> Container:
    """Return a container, or raise NotFoundError."""
    return get_row(session, Container, container_id, "container")


def list_containers(session: Session) -> list[ContainerRow]:
    """Return every container, the most cells first, with the number of crop cards that use it."""
    query = (
        select(
            Container.id,
            Container.name,
            Container.cells_per_tray,
            Container.cell_volume_ml,
            Container.rows,
            Container.columns,
            func.count(Crop.id),
        )
        .outerjoin(Crop, or_(Crop.start_container_id == Container.id, Crop.pot_on_container_id == Container.id))
        .group_by(Container.id)
        .order_by(Container.cells_per_tray.desc(), Container.name, Container.id)
    )
    return [ContainerRow(*row) for row in session.execute(query)]


def list_container_choices(session: Session) -> list[Choice]:
    """Return every container by name, to choose from."""
    return list_choices(session, Container.name)
