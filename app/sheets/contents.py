"""What stands in trays: crops and varieties, and whose cells they are."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from app.core.folded import fold
from app.core.plan import Plan
from app.sheets.names import name_words


@dataclass(frozen=True, kw_only=True)
class Share:
    """Cells of one grower in a tray. [1]

    Attributes:
        grower: The grower's name.
        cells: Their cells. [1]
        sowings: Indices of the sowings these are of.
    """

    grower: str
    cells: int
    sowings: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class CropInTray:
    """A crop and variety in a tray, and whose cells they are, by name."""

    crop: str
    variety: str
    shares: tuple[Share, ...]


def crops_in(plan: Plan, parts: Iterable[tuple[int, int]]) -> tuple[CropInTray, ...]:
    """Return the crops in a tray, or in several, by name, with each grower's cells.

    Args:
        plan: The garden's plan.
        parts: Index of each sowing, and its cells. [1]
    """
    sowings, growers, cards = plan.garden.sowings, plan.garden.growers, plan.garden.cards
    cells: Counter[tuple[str, str, str]] = Counter()
    lots: dict[tuple[str, str, str], set[int]] = {}
    for lot, count in parts:
        crop, grower = name_words(cards[sowings.crop[lot]].name), growers[sowings.grower[lot]].name
        key = (crop, sowings.varieties[lot] or "", grower)
        cells[key] += count
        lots.setdefault(key, set()).add(lot)
    return tuple(
        CropInTray(
            crop=crop,
            variety=variety,
            shares=tuple(Share(grower=key[2], cells=cells[key], sowings=tuple(sorted(lots[key]))) for key in shares),
        )
        for (crop, variety), shares in groupby(
            sorted(cells, key=lambda key: (fold(key[0]), key)), key=lambda key: key[:2]
        )
    )
