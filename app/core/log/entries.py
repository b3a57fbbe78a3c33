"""Entries of the log as columns, and which of them hold."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from app.core.calendar import Days
from app.core.words import Cause, LogKind

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]

KINDS: tuple[LogKind, ...] = tuple(LogKind)
SOWN, UP, THINNED, POTTED_ON, LOST, HANDED_OUT, PLANTED_OUT = range(len(KINDS))
# What is ticked off and not counted; here it stands among the entries.
HARDENED, LOOKED, UNCOVERED = range(len(KINDS), len(KINDS) + 3)
NO_TRAY = 0
NOTHING = 0
CAUSES: tuple[Cause, ...] = tuple(Cause)
NO_CAUSE = -1
NO_LOT = -1


def _none() -> Ints:
    return np.zeros(0, dtype=np.int64)


@dataclass(frozen=True, kw_only=True)
class Log:
    """All entries, in any order; without arguments nothing was written down.

    Attributes:
        ids: Row numbers in the database. Shape (n,).
        sowing: Index of the sowing. Shape (n,).
        kind: Index into `KINDS`, or `HARDENED`, `LOOKED` or `UNCOVERED`. Shape (n,).
        day: The day on which it was done or seen. Shape (n,). [day number]
        count: Cells for sown and up, plants for the others; 0 takes back what the entry supersedes. Shape (n,). [1]
        seeds: Seeds sown; 0 where not given. Shape (n,). [1]
        tray: Row number of the tray that it is of; 0 for the whole sowing. Shape (n,).
        supersedes: Row number of the entry that it corrects; 0 for none. Shape (n,).
        made_at: When it was written down, since 1970 (UTC); 0 where that is not told. Shape (n,). [s]
        cause: Index into `CAUSES` of what was lost; -1 where none is given. Shape (n,).
        seed_lot: Index of the seed lot that was sown, where that is said; -1 for that of the sowing. Shape (n,).
    """

    ids: Ints = field(default_factory=_none)
    sowing: Ints = field(default_factory=_none)
    kind: Ints = field(default_factory=_none)
    day: Days = field(default_factory=_none)
    count: Ints = field(default_factory=_none)
    seeds: Ints = field(default_factory=_none)
    tray: Ints = field(default_factory=_none)
    supersedes: Ints = field(default_factory=_none)
    made_at: Floats = field(default_factory=lambda: np.zeros(0))
    cause: Ints = field(default_factory=_none)
    seed_lot: Ints = field(default_factory=_none)

    def __post_init__(self) -> None:
        """Let nothing tell when it was made, why, and of which seed, where nothing is given."""
        n = len(self.ids)
        if len(self.made_at) != n:
            object.__setattr__(self, "made_at", np.zeros(n))
        for name, nothing in (("cause", NO_CAUSE), ("seed_lot", NO_LOT)):
            if len(getattr(self, name)) != n:
                object.__setattr__(self, name, np.full(n, nothing, dtype=np.int64))

    def __len__(self) -> int:
        """Return the number of entries."""
        return len(self.ids)

    @cached_property
    def holds(self) -> Flags:
        """Whether each entry holds: nothing corrects it, and it says that there was anything. Shape (n,)."""
        # A new entry is number 0, as is what supersedes nothing.
        corrected = self.supersedes[self.supersedes != 0]
        holds: Flags = ~np.isin(self.ids, corrected) & (self.count > NOTHING)
        return holds

    def of(self, kind: int) -> Ints:
        """Return the indices of the entries of a kind that hold."""
        return np.flatnonzero(self.holds & (self.kind == kind))

    def moved(self, new_of: Ints) -> "Log":
        """Return the entries of some sowings under other indices.

        Args:
            new_of: The new index of each sowing; -1 for those whose entries are left out. Shape (n_sowings,).
        """
        stays = new_of[self.sowing] >= 0
        columns = {name: column[stays] for name, column in vars(self).items() if name in self.__dataclass_fields__}
        return Log(**columns | {"sowing": new_of[self.sowing[stays]]})
