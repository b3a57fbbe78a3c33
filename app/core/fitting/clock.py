"""How long a levelling may look, whether somebody wants it to stop, and what it has said so far."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from time import monotonic

from app.core.fitting.answer import Goal, IsStopped, Phase, Progress, Reached, Report

# So often somebody who watches is told. [s]
REPORT_EVERY_S = 0.5


@dataclass
class Clock:
    """The time of one levelling.

    Attributes:
        seconds: When to stop looking, from now. [s]
        report: Is told how far it is.
        is_stopped: Says whether somebody wants it to stop.
        reached: The goals for which there is an answer and a bound so far.
    """

    seconds: float
    report: Report
    is_stopped: IsStopped
    reached: dict[Goal, Reached] = field(default_factory=dict)
    _phase: Phase = Phase.DATES
    _told: float = 0.0
    _begin: float = field(default_factory=monotonic)

    @property
    def left(self) -> float:
        """Seconds that are left; none once somebody wants it to stop."""
        return 0.0 if self.is_stopped() else max(0.0, self._begin + self.seconds - monotonic())

    def with_at_least(self, seconds: float) -> "Clock":
        """Return one with so many seconds left, or as many as this has; none once somebody wants it to stop."""
        return replace(self, seconds=max(self.seconds, monotonic() - self._begin + seconds))

    def enter(self, phase: Phase) -> None:
        """Begin with a part of the work."""
        self._phase = phase
        self._tell()

    def set(self, reached: Iterable[Reached]) -> None:
        """Take note of how far goals are reached."""
        self.reached |= {one.goal: one for one in reached}
        self._tell()

    def _tell(self) -> None:
        self._told = monotonic()
        self.report(
            Progress(phase=self._phase, reached=tuple(self.reached[goal] for goal in Goal if goal in self.reached))
        )

    def watch(self, _objective: float, _bound: float) -> bool:
        """Tell how far it is, if that is due, and say whether to stop."""
        if monotonic() - self._told > REPORT_EVERY_S:
            self._tell()
        return self.is_stopped()
