"""Taking in many rows at once, as one batch that can be undone."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from app.services.batches import one_batch
from app.services.growers import GrowerValues, add_grower, remove_grower
from app.services.names import NameTakenError
from app.services.plan import get_plan
from app.services.seed_lots import NumberAsNameError, SeedLotValues, add_seed_lot
from app.services.shelves import ShelfValues, add_shelf
from app.services.sowings import (
    FarFromSeasonError,
    OutsideWindowError,
    PlacedAbovePlantsError,
    SeedLotOfOtherCropError,
    SowingValues,
    SownOutsideError,
    add_sowing,
)
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.storage import Session

Rule = (
    NameTakenError,
    NumberAsNameError,
    FarFromSeasonError,
    OutsideWindowError,
    PlacedAbovePlantsError,
    SeedLotOfOtherCropError,
    SownOutsideError,
)
_ADD: dict[type, Callable[..., Any]] = {
    GrowerValues: add_grower,
    ShelfValues: add_shelf,
    SeedLotValues: add_seed_lot,
}
Row = GrowerValues | ShelfValues | SeedLotValues | SowingValues


@dataclass(frozen=True, kw_only=True)
class NewGrower:
    """Stands for the row number of a grower who is made along with the rows."""

    name: str


@dataclass(frozen=True, kw_only=True)
class TakenIn:
    """What taking rows in came to.

    Attributes:
        batch_id: The batch; None where no row was taken in.
        added: Indices of the rows that were taken in.
        refused: The rule that each other row breaks, by its index.
        growers: Names of growers who were made for them.
    """

    batch_id: int | None
    added: tuple[int, ...]
    refused: dict[int, Exception]
    growers: tuple[str, ...]


def take_in(session: "Session", what: str, rows: Sequence[Any], *, digest: str = "") -> TakenIn:
    """Add rows as one batch: those that keep the rules; of the others it is told which rule each breaks.

    Args:
        session: Its transaction takes it all; whoever only wants to know what would happen rolls it back.
        what: What is done, in words such as `growers pasted`.
        rows: What is to be added, all of one kind; in place of the row number of a grower may stand a `NewGrower`.
        digest: By what the same rows are known again, if all are taken in.
    """
    hold_writes(session)
    refused: dict[int, Exception] = {}
    added: list[int] = []
    with one_batch(session, what) as batch:
        growers = _make_growers(session, rows)
        is_sowing = bool(rows) and isinstance(rows[0], SowingValues)
        garden = get_plan(session).garden if is_sowing else None
        for index, row in enumerate(rows):
            try:
                if garden is None:
                    _ADD[type(row)](session, row)
                else:
                    add_sowing(session, _with_grower(row, growers), garden)
            except Rule as error:
                refused[index] = error
            else:
                added.append(index)
        used = {rows[index].grower_id.name for index in added if isinstance(_grower_of(rows[index]), NewGrower)}
        for name in growers.keys() - used:
            remove_grower(session, growers.pop(name))
        batch.rows = len(added)
        batch.digest = "" if refused else digest
    return TakenIn(batch_id=batch.id if added else None, added=tuple(added), refused=refused, growers=tuple(growers))


def _make_growers(session: "Session", rows: Iterable[Any]) -> dict[str, int]:
    made: dict[str, int] = {}
    for row in rows:
        grower = _grower_of(row)
        if isinstance(grower, NewGrower) and grower.name not in made:
            values = GrowerValues(name=grower.name, plot=None, contact=None, days=None)
            made[grower.name] = add_grower(session, values).id
    return made


def _grower_of(row: Any) -> object:  # noqa: ANN401 - values of any kind
    return getattr(row, "grower_id", None)


def _with_grower(row: SowingValues, made: dict[str, int]) -> SowingValues:
    grower: object = row.grower_id
    return replace(row, grower_id=made[grower.name]) if isinstance(grower, NewGrower) else row
