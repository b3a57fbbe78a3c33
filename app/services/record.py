"""A station's daily record: taking one in, and what it holds."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from app.core.calendar import as_date
from app.core.dates.record import FEWEST_YEARS, FEWEST_YEARS_UNWARNED, DailyRecord, Freezes, Half
from app.language import _
from app.services.garden import get_garden
from app.storage import Session
from app.storage.folder import MOST_BYTES, Fault, Faults, read_station, read_station_path, too_large
from app.storage.folder.rules import check_record
from app.storage.folder.station_layout import RECORD_FILE
from app.storage.history import note_history
from app.storage.progress import Progress, Tell, silent
from app.storage.queries import record as queries
from app.storage.queries.record import NoRecordError
from app.storage.queries.version import hold_writes

__all__ = [
    "MOST_BYTES",
    "RECORD_FILE",
    "HalfSummary",
    "NoRecordError",
    "RecordSummary",
    "record_summary",
    "replace_record",
]


@dataclass(frozen=True, kw_only=True)
class HalfSummary:
    """One half of the growing years of a record.

    Attributes:
        usable: Years with few enough missing days. [1]
        incomplete: Growing years that are left out.
        without_freeze: Usable growing years that do not freeze.
    """

    usable: int
    incomplete: tuple[int, ...]
    without_freeze: tuple[int, ...]

    @property
    def is_refused(self) -> bool:
        """Whether the years are too few for frost dates."""
        return self.usable < FEWEST_YEARS

    @property
    def is_short(self) -> bool:
        """Whether the years are enough for frost dates, but few enough for a warning."""
        return not self.is_refused and self.usable < FEWEST_YEARS_UNWARNED


@dataclass(frozen=True, kw_only=True)
class RecordSummary:
    """What a record holds, at the garden's threshold.

    Attributes:
        first_on: Its first day.
        last_on: Its last day.
        days: Days with a lowest temperature. [1]
        days_tmax: Days with a highest temperature. [1]
        threshold_c: A day freezes when its minimum is at or below this. [C]
        spring: The spring halves.
        autumn: The autumn halves.
        notes: What was done to the rows of the file when it was read, each in a sentence.
    """

    first_on: date
    last_on: date
    days: int
    days_tmax: int
    threshold_c: float
    spring: HalfSummary
    autumn: HalfSummary
    notes: tuple[str, ...] = ()

    @property
    def missing(self) -> int:
        """Days between the first and the last without a lowest temperature. [1]"""
        return (self.last_on - self.first_on).days + 1 - self.days


def replace_record(
    session: Session, source: Path | bytes, *, file: str = RECORD_FILE, tell: Tell = silent
) -> RecordSummary:
    """Put a station's record in place of the one that the garden has; nothing else is touched.

    Args:
        session: Its transaction takes it all.
        source: The file, or its bytes.
        file: The name of the file that the bytes came in, for the faults.
        tell: Is called with the days stored so far and the days in all.

    Raises:
        NoGardenError: There is no garden yet.
        FaultyFolderError: The file has faults, or is of a station with which the garden cannot do.
    """
    hold_writes(session)
    garden = get_garden(session)
    faults = Faults()
    name = source.name if isinstance(source, Path) else file
    if isinstance(source, Path):
        read = read_station_path(source, faults)
    elif len(source) > MOST_BYTES:
        faults.add(too_large(file, len(source)))
        read = None
    else:
        read = read_station(source, file, faults)
    if read is not None and not len(read.record.day):
        faults.add(Fault(file=name, row=2, right=_("there are no temperatures below the header")))
    elif read is not None:
        columns = ("latitude", "season", "risk", "autumn_risk", "frost_law", "threshold_c", "frost_source")
        try:
            check_record(read.record, {column: getattr(garden, column) for column in columns})
        except ValueError as error:
            faults.add(Fault(file=name, right=str(error)))
    faults.raise_if_any()
    assert read is not None  # noqa: S101 - a file that cannot be read has a fault
    told = Progress(tell, len(read.record.day))
    queries.replace_record(session, read.record, told.add)
    first, last = as_date(int(read.record.day[0])), as_date(int(read.record.day[-1]))
    note_history(session, "frost record", "loaded", changes=[("first_day", None, first), ("last_day", None, last)])
    return _summary(session, notes=read.notes)


def record_summary(session: Session) -> RecordSummary | None:
    """Return what the garden's record holds, None where it has none.

    Raises:
        NoGardenError: There is no garden yet.
    """
    return None if get_garden(session).record_mark is None else _summary(session)


def _summary(session: Session, *, notes: tuple[str, ...] = ()) -> RecordSummary:
    garden = get_garden(session)
    record = queries.get_record(session)
    freezes = queries.get_freezes(session, garden.record_mark, garden.threshold_c, southern=garden.latitude < 0)
    return summarise(record, freezes, notes=notes)


def summarise(record: DailyRecord, freezes: Freezes, *, notes: tuple[str, ...] = ()) -> RecordSummary:
    """Return what a record and the freezes in it come to."""
    return RecordSummary(
        first_on=date.fromordinal(int(record.day[0])),
        last_on=date.fromordinal(int(record.day[-1])),
        days=int((record.tmin_c == record.tmin_c).sum()),
        days_tmax=int((record.tmax_c == record.tmax_c).sum()),
        threshold_c=freezes.threshold_c,
        spring=_half(freezes.spring),
        autumn=_half(freezes.autumn),
        notes=notes,
    )


def _half(half: Half) -> HalfSummary:
    return HalfSummary(
        usable=half.n_usable,
        incomplete=tuple(half.years[~half.is_usable].tolist()),
        without_freeze=tuple(half.years[half.is_usable & ~half.freezes].tolist()),
    )
