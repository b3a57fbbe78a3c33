"""What came up of each seed lot and each crop."""

from dataclasses import dataclass

from app.core.cards import GERMINATION
from app.core.log.learning import Germination, Observed, learn
from app.core.plan import Plan
from app.core.plants.germination import lots_sown, observed_sowings, stated_of


@dataclass(frozen=True, kw_only=True)
class CameUp:
    """What came up of a seed lot, or of all sowings of a crop.

    Attributes:
        number: Index of the lot, or of the crop card.
        stated: What was reckoned with before anything was seen: on the packet, the legal minimum, or usual. [fraction]
        sowings: Sowings of the season that are counted. [1]
        tried: Their cells. [1]
        up: Cells with a seedling. [1]
        known: What is known now, of a lot with its tests and seasons before; None where nothing was seen.
    """

    number: int
    stated: float
    sowings: int
    tried: int
    up: int
    known: Germination | None


def came_up_of_lots(plan: Plan) -> tuple[CameUp, ...]:
    """Return what came up of each seed lot, in their order."""
    garden, lots = plan.garden, lots_sown(plan.garden)
    per_lot: dict[int, list[Observed]] = {}
    for sowing, observed in observed_sowings(garden, plan.logged).items():
        per_lot.setdefault(int(lots[sowing]), []).append(observed)
    return tuple(
        _came_up(at, stated_of(garden, at), per_lot.get(at, []), now) for at, now in enumerate(plan.seen_of_lots)
    )


def came_up_of_crops(plan: Plan) -> tuple[CameUp, ...]:
    """Return what came up of each crop of which anything is counted, whatever the lot.

    Source:
        All sowings of a crop are taken for one lot, of which the legal minimum or the usual figure was known before;
        so the interval is of their mean, and single lots differ more (docs/method.md).
    """
    garden = plan.garden
    per_crop: dict[int, list[Observed]] = {}
    for sowing, observed in observed_sowings(garden, plan.logged).items():
        per_crop.setdefault(int(garden.sowings.crop[sowing]), []).append(observed)
    found = []
    for crop, seen in sorted(per_crop.items()):
        stated = garden.cards[crop].legal_germination or GERMINATION
        found.append(_came_up(crop, stated, seen, learn(stated, seen)))
    return tuple(found)


def _came_up(number: int, stated: float, seen: list[Observed], known: Germination | None) -> CameUp:
    return CameUp(
        number=number,
        stated=stated,
        sowings=len(seen),
        tried=sum(one.tried for one in seen),
        up=sum(one.up for one in seen),
        known=known,
    )
