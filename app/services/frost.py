"""The frost record: what a station's days say of freezes, and what another risk would do to the plan."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from app.core.dates.frost import Frost, usable_frost
from app.core.plan import make_plan
from app.core.words import FrostSource
from app.services.garden import get_garden
from app.services.plan import get_plan
from app.storage.history import note_history
from app.storage.queries.record import NoRecordError, delete_record, get_freezes
from app.storage.queries.version import hold_writes

if TYPE_CHECKING:
    from app.core.cards import Garden
    from app.core.dates.record import Freezes
    from app.core.plan import Plan
    from app.core.words import FrostLaw
    from app.storage import Session

# 28, 32 and 36 degrees Fahrenheit, converted exactly; the American services print freeze dates at them.
THRESHOLDS_C = tuple((fahrenheit - 32) * 5 / 9 for fahrenheit in (28, 32, 36))
# A threshold typed with few decimals is the same one.
SAME_THRESHOLD_C = 0.05


class RecordInUseError(Exception):
    """The garden's frost dates come from the record that was to be removed."""


@dataclass(frozen=True, kw_only=True)
class RiskValues:
    """The chances of a freeze that the garden accepts, and the law by which a station's record dates them.

    Attributes:
        risk: Of one after planting out. [fraction]
        autumn_risk: Of one before the harvest is in. [fraction]
        frost_law: Law of a station's record; without one it is kept for later.
    """

    risk: float
    autumn_risk: float
    frost_law: "FrostLaw"


@dataclass(frozen=True, kw_only=True)
class StationFreezes:
    """The freezes in the station's record.

    Attributes:
        own: At the garden's own threshold.
        usual: At the three usual thresholds and the garden's own, the coldest first.
    """

    own: "Freezes"
    usual: tuple["Freezes", ...]


def find_station_freezes(session: "Session") -> StationFreezes | None:
    """Return the freezes in the station's record, whether or not the garden goes by it; None without a record."""
    garden = get_garden(session)
    if garden.record_mark is None:
        return None
    others = [one for one in THRESHOLDS_C if abs(one - garden.threshold_c) > SAME_THRESHOLD_C]
    southern = garden.latitude < 0
    usual = {
        one: get_freezes(session, garden.record_mark, one, southern=southern)
        for one in sorted([*others, garden.threshold_c])
    }
    return StationFreezes(own=usual[garden.threshold_c], usual=tuple(usual.values()))


def plan_at(session: "Session", values: RiskValues) -> "Plan":
    """Return the plan that the garden would have with other risks; nothing is written.

    Raises:
        NoGardenError: There is no garden yet.
        NoFrostDateError: Freezes come too rarely for a plan at these risks.
    """
    garden = get_plan(session).garden
    frost = _frost_at(garden, values)
    settings = replace(garden.settings, risk=values.risk, autumn_risk=values.autumn_risk)
    return make_plan(replace(garden, frost=frost, settings=settings))


def change_risks(session: "Session", values: RiskValues) -> None:
    """Change the risks that the garden accepts.

    Raises:
        NoGardenError: There is no garden yet.
        NoFrostDateError: Freezes come too rarely for a plan at these risks.
    """
    hold_writes(session)
    garden = get_garden(session)
    _frost_at(get_plan(session).garden, values)
    garden.risk, garden.autumn_risk = values.risk, values.autumn_risk
    garden.frost_law = values.frost_law
    session.flush()


def remove_record(session: "Session") -> None:
    """Remove the station's record.

    Raises:
        NoGardenError: There is no garden yet.
        NoRecordError: There is no record.
        RecordInUseError: The garden's frost dates come from it.
    """
    hold_writes(session)
    garden = get_garden(session)
    if garden.record_mark is None:
        raise NoRecordError("There is no station’s record")
    if garden.frost_source is FrostSource.STATION:
        raise RecordInUseError("The frost dates come from the record")
    delete_record(session)
    note_history(session, "frost record", "removed")
    session.flush()


def _frost_at(garden: "Garden", values: RiskValues) -> Frost:
    """Return the garden's frost; that of a station by the law, if these risks have dates in it."""
    if garden.station is None:
        return garden.frost
    return usable_frost(
        garden.station,
        values.frost_law,
        season=garden.frost.season,
        risk=values.risk,
        autumn_risk=values.autumn_risk,
    )
