"""Rules that hold between the figures of a crop card, and the sources that stand beside them."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from app.core.errors import CoreError
from app.core.words import Transplanting
from app.language import _

INDOOR_COLUMNS = ("indoor_weeks_min", "indoor_weeks_max", "plant_out_weeks", "light", "days_to_emerge")


class CardFault(NamedTuple):
    """A figure of a crop card that does not go with the others, and what would be right."""

    column: str
    message: str


class CardError(CoreError):
    """The figures of a crop card do not go together."""

    def __init__(self, faults: tuple[CardFault, ...]) -> None:
        """Keep every fault."""
        super().__init__("; ".join(f"{fault.column}: {fault.message}" for fault in faults))
        self.faults = faults


def card_faults(card: Mapping[str, Any]) -> tuple[CardFault, ...]:
    """Return what does not go together on a crop card, in the order of the card.

    Args:
        card: The figures by their column in `crops.csv`; None where not given. Of the containers it only
            matters whether they are given.

    Source:
        Common practice for crops that resent transplanting: they stay in the container they start in.
    """
    return (*_start_faults(card), *_pot_on_faults(card))


def _start_faults(card: Mapping[str, Any]) -> list[CardFault]:
    if card["start_container"] is None:
        faults = [
            CardFault(column, _("leave it empty for a crop without a start container: it is sown outside"))
            for column in ("indoor_weeks_min", "indoor_weeks_max", "pot_on_container")
            if card[column] is not None
        ]
        if card["direct_sow_weeks"] is None:
            faults.append(CardFault("direct_sow_weeks", _("needed for a crop without a start container")))
        return faults
    faults = [
        CardFault(column, _("needed for a crop that starts in a container"))
        for column in INDOOR_COLUMNS
        if card[column] is None
    ]
    least, most = card["indoor_weeks_min"], card["indoor_weeks_max"]
    if least is not None and most is not None and least > most:
        faults.append(
            CardFault(
                "indoor_weeks_max", _("must be no less than the fewest weeks indoors, %(weeks)s", weeks=f"{least:g}")
            )
        )
    return faults


def _pot_on_faults(card: Mapping[str, Any]) -> list[CardFault]:
    into, after = card["pot_on_container"], card["pot_on_after_days"]
    if into is not None and card["transplanting"] == Transplanting.RESENTS:
        return [
            CardFault("pot_on_container", _("a crop that resents transplanting stays in the container it starts in"))
        ]
    if into is not None and after is None:
        return [CardFault("pot_on_after_days", _("needed where the crop is potted on"))]
    if into is None and after is not None:
        return [CardFault("pot_on_container", _("needed where days to potting on are given"))]
    return []


def read_sources(text: str | None) -> dict[str, str]:
    """Return the source of each figure of a card, by column.

    Args:
        text: Parts divided by `;`, each `figure: source` or `figure+figure: source`. A part without a
            colon belongs to the whole card and is kept under the empty name.
    """
    sources: dict[str, str] = {}
    for part in (text or "").split(";"):
        figures, colon, source = part.partition(":")
        if not colon:
            figures, source = "", part
        for figure in figures.split("+") if source.strip() else ():
            key = figure.strip()
            sources[key] = f"{sources[key]}; {source.strip()}" if key in sources else source.strip()
    return sources
