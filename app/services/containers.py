"""Adding, changing and removing containers."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.core.dealing.cells import in_order
from app.core.space.grid import Grid, grid_of
from app.language import _
from app.services.columns import set_columns
from app.services.names import require_free
from app.services.removal import require_unused
from app.storage.models import Container
from app.storage.queries.containers import get_container
from app.storage.queries.trays import refit_trays
from app.storage.queries.uses import list_crops_of_container, list_trays_of_container
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.storage import Session
    from app.storage.queries.uses import Uses


class RowsAndColumnsError(Exception):
    """Rows times columns are not the cells of a tray, or one of them is missing."""


class GridIsSownError(Exception):
    """Cells of its trays are sown: they stay where they are in rows and columns."""

    def __init__(self, trays: "Uses") -> None:
        """Keep the trays."""
        super().__init__(f"{trays.count} trays of it are sown")
        self.trays = trays


@dataclass(frozen=True, kw_only=True)
class ContainerValues:
    """What is written down of a container.

    Attributes:
        name: What people call it.
        cells_per_tray: How many stand in one tray position.
        cell_volume_ml: Mix that one takes. [ml]
        rows: Rows of cells in a tray, where they stand in rows and columns.
        columns: Columns of cells in a tray.
    """

    name: str
    cells_per_tray: int
    cell_volume_ml: float
    rows: int | None
    columns: int | None


def add_container(session: "Session", values: ContainerValues) -> Container:
    """Add a container.

    Raises:
        NameTakenError: Another container has this name.
        RowsAndColumnsError: Rows and columns do not make up the cells.
    """
    hold_writes(session)
    _check(values)
    require_free(session, Container.name, values.name)
    container = Container()
    set_columns(container, values)
    session.add(container)
    session.flush()
    return container


def change_container(session: "Session", container_id: int, values: ContainerValues) -> Container:
    """Change a container; with other rows and columns its trays, which are not sown yet, get other cells too.

    Raises:
        NotFoundError: There is no such container.
        NameTakenError: Another container has this name.
        RowsAndColumnsError: Rows and columns do not make up the cells.
        GridIsSownError: Its trays are to have other cells, but some of them are sown.
    """
    hold_writes(session)
    container = get_container(session, container_id)
    _check(values)
    is_other_grid = _grid(values) != _grid(container)
    if is_other_grid and (trays := list_trays_of_container(session, container_id, only_sown=True)).count:
        raise GridIsSownError(trays)
    require_free(session, Container.name, values.name, container)
    set_columns(container, values)
    session.flush()
    if is_other_grid:
        refit_trays(session, container_id, list(in_order(_grid(values))))
    return container


def remove_container(session: "Session", container_id: int) -> str:
    """Remove a container and return its name.

    Raises:
        NotFoundError: There is no such container.
        InUseError: Crop cards start in it or are potted on into it, or there are trays of it.
    """
    hold_writes(session)
    container = get_container(session, container_id)
    require_unused(list_crops_of_container(session, container_id), list_trays_of_container(session, container_id))
    session.delete(container)
    session.flush()
    return container.name


def _grid(box: "ContainerValues | Container") -> Grid:
    return grid_of(box.cells_per_tray, box.rows, box.columns)


def _check(values: ContainerValues) -> None:
    if values.rows is None and values.columns is None:
        return
    if values.rows is None or values.columns is None:
        raise RowsAndColumnsError(_("Enter both rows and columns, or neither"))
    cells = values.rows * values.columns
    if cells != values.cells_per_tray:
        raise RowsAndColumnsError(
            _(
                "%(rows)s rows of %(columns)s are %(cells)s cells, not %(wanted)s",
                rows=values.rows,
                columns=values.columns,
                cells=cells,
                wanted=values.cells_per_tray,
            )
        )
