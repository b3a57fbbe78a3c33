"""A mixed integer programme that is put together piece by piece and solved for one goal after the other."""

from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic

import highspy
import numpy as np
from numpy.typing import NDArray

from app.core.solver import QuietSolver

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
INFINITE = highspy.kHighsInf
# With no time at all it would not even say what it was given. [s]
LEAST_SECONDS = 0.05
# So far values and what they are said to come to may lie apart by rounding. [the goal's unit]
DIFFERS = 1e-3


@dataclass(frozen=True)
class Solved:
    """What a run of the solver came to.

    Attributes:
        values: Values of all columns; None where none were found.
        objective: What they come to.
        bound: What no values can beat.
        is_proven: Whether the values are proven to be the best.
        is_impossible: Whether it is proven that there are none.
    """

    values: Floats | None
    objective: float
    bound: float
    is_proven: bool
    is_impossible: bool = False


# Is told objective and bound of a run now and again; says whether to stop.
Watch = Callable[[float, float], bool]


class Programme:
    """Columns and rows; rows may be added between runs."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self.n_columns = 0
        self.n_rows = 0
        self._lower: list[Floats] = []
        self._upper: list[Floats] = []
        self._is_whole: list[NDArray[np.bool_]] = []
        self._rows: list[Ints] = []
        self._columns: list[Ints] = []
        self._values: list[Floats] = []
        self._row_lower: list[Floats] = []
        self._row_upper: list[Floats] = []

    def add_columns(self, n: int, *, upper: "Floats | float" = INFINITE, whole: bool = False) -> Ints:
        """Add columns from 0 to `upper`, and return their indices."""
        first = self.n_columns
        self.n_columns += n
        self._lower.append(np.zeros(n))
        self._upper.append(np.broadcast_to(np.asarray(upper, dtype=np.float64), (n,)).copy())
        self._is_whole.append(np.full(n, whole))
        return np.arange(first, first + n)

    def add_rows(
        self,
        entries: "list[tuple[Ints, Ints, Floats | Ints | float]]",
        *,
        n: int,
        lower: "Floats | Ints | float" = -INFINITE,
        upper: "Floats | Ints | float" = INFINITE,
    ) -> Ints:
        """Add `n` rows, whose entries are given as (row from 0 to n - 1, column, value), and return their indices."""
        first = self.n_rows
        self.n_rows += n
        for row, column, value in entries:
            self._rows.append(np.asarray(row, dtype=np.int64) + first)
            self._columns.append(np.asarray(column, dtype=np.int64))
            self._values.append(np.broadcast_to(np.asarray(value, dtype=np.float64), np.shape(row)))
        for bounds, given in ((self._row_lower, lower), (self._row_upper, upper)):
            bounds.append(np.broadcast_to(np.asarray(given, dtype=np.float64), (n,)))
        return np.arange(first, first + n)

    def at_prices(self, prices: Floats) -> Floats:
        """Return what one unit of each column takes from rows at their prices. Shape (n_columns,)."""
        # Most rows have no price, and many prices are asked for.
        priced = prices != 0
        there = [number for number, rows in enumerate(self._rows) if len(rows) and priced[rows].any()]
        column = np.concatenate([np.zeros(0, dtype=np.int64), *(self._columns[number] for number in there)])
        worth = np.concatenate([np.zeros(0), *(self._values[number] * prices[self._rows[number]] for number in there)])
        found: Floats = np.bincount(column, worth, minlength=self.n_columns).astype(np.float64)
        return found

    def most_at_prices(self, rows: Ints, prices: Floats) -> float:
        """Return what all that some rows have is worth at their prices."""
        return float(prices[rows] @ np.concatenate(self._row_upper)[rows])

    def open(self, *, whole: bool) -> "Open":
        """Hand it to the solver, with its whole columns or, to get a bound soon, with any numbers in their place."""
        model = self._model()
        if not whole:
            model.integrality_ = []
        return Open(model)

    def _model(self) -> highspy.HighsLp:
        row, column, value = (
            np.concatenate([np.zeros(0), *part]) for part in (self._rows, self._columns, self._values)
        )
        order = np.lexsort((column, row))
        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = self.n_columns, self.n_rows
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.start_ = np.searchsorted(row[order], np.arange(self.n_rows + 1)).astype(np.int32)
        model.a_matrix_.index_ = column[order].astype(np.int32)
        model.a_matrix_.value_ = value[order]
        model.row_lower_, model.row_upper_ = np.concatenate(self._row_lower), np.concatenate(self._row_upper)
        model.col_lower_, model.col_upper_ = np.concatenate(self._lower), np.concatenate(self._upper)
        model.col_cost_ = np.zeros(self.n_columns)
        whole = np.concatenate(self._is_whole)
        if whole.any():
            kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
            model.integrality_ = [kinds[int(is_whole)] for is_whole in whole]
        return model


class Open:
    """A programme in the solver."""

    def __init__(self, model: highspy.HighsLp) -> None:
        """Pass the model on."""
        self._solver = QuietSolver()  # type: ignore[no-untyped-call]  # the library has no types here
        # Another number of threads than the packings' is refused in the same process.
        self._solver.setOptionValue("threads", 1)
        self._solver.setOptionValue("mip_rel_gap", 0.0)
        self._solver.passModel(model)
        self._n = model.num_col_
        self._is_whole = len(model.integrality_) > 0
        self._watch: Watch | None = None
        for callback in (self._solver.cbMipInterrupt, self._solver.cbSimplexInterrupt, self._solver.cbIpmInterrupt):
            callback.subscribe(self._look)

    def _look(self, event: highspy.HighsCallbackEvent) -> None:
        data = event.data_out
        # What was said in an earlier run would hold on.
        event.interrupt(self._watch is not None and self._watch(data.mip_primal_bound, data.mip_dual_bound))

    def bound_columns(self, columns: Ints, lower: "Floats | Ints", upper: "Floats | Ints") -> None:
        """Give columns new bounds."""
        n = len(columns)
        self._solver.changeColsBounds(
            n, columns.astype(np.int32), np.asarray(lower, dtype=np.float64), np.asarray(upper, dtype=np.float64)
        )

    def set_values(self, rows: Ints, columns: Ints, values: "NDArray[np.floating]") -> None:
        """Give columns other values in rows."""
        for row, column, value in zip(rows.tolist(), columns.tolist(), values.tolist(), strict=True):
            self._solver.changeCoeff(row, column, value)

    def bound_row(self, row: int, lower: float, upper: float) -> None:
        """Give a row new bounds."""
        self._solver.changeRowBounds(int(row), lower, upper)

    def add_columns(self, starts: Ints, rows: Ints, values: Floats) -> None:
        """Add columns from 0 on, each with the entries from its start to that of the next."""
        n = len(starts)
        none = np.zeros(n)
        self._solver.addCols(
            n,
            none,
            none,
            np.full(n, INFINITE),
            len(rows),
            starts.astype(np.int32),
            rows.astype(np.int32),
            values.astype(np.float64),
        )
        self._n += n

    def add_row(self, columns: Ints, values: Floats, lower: float, upper: float) -> None:
        """Add a row."""
        self._solver.addRow(lower, upper, len(columns), columns.astype(np.int32), values.astype(np.float64))

    def begin_inside(self) -> None:
        """Have the next run begin inside, not at the last corner: faster where very many columns came since."""
        self._solver.clearSolver()
        self._solver.setOptionValue("solver", "ipx")

    def by_interior_points(self, *, first: bool) -> None:
        """Have runs begin inside, which is faster for the first of a large programme; else at the last corner."""
        self._solver.setOptionValue("solver", "ipx" if first and not self._is_whole else "choose")

    def solve(
        self,
        cost: Floats,
        *,
        largest: bool,
        seconds: float,
        watch: Watch,
        absolute_gap: float = 1e-6,
        start: Floats | None = None,
    ) -> Solved:
        """Return the best values for a goal that are found in a time.

        Args:
            cost: What one unit of each column comes to. Shape (n_columns,).
            largest: Whether the most is wanted, rather than the least.
            seconds: When to stop. [s]
            watch: Is asked whether to stop.
            absolute_gap: From which distance to the bound on values are good enough. [the cost's unit]
            start: Values to begin with.
        """
        solver = self._solver
        solver.changeColsCost(self._n, np.arange(self._n, dtype=np.int32), np.asarray(cost, dtype=np.float64))
        sense = highspy.ObjSense.kMaximize if largest else highspy.ObjSense.kMinimize
        solver.changeObjectiveSense(sense)
        solver.setOptionValue("mip_abs_gap", absolute_gap)
        # With whole columns the solver counts the time of a run, without them that of all its runs.
        before = 0.0 if self._is_whole else solver.getRunTime()
        solver.setOptionValue("time_limit", before + max(LEAST_SECONDS, seconds))
        if start is not None and self._is_whole:
            solution = highspy.HighsSolution()
            solution.col_value = start
            solver.setSolution(solution)
        end = monotonic() + seconds
        self._watch = lambda objective, bound: watch(objective, bound) or monotonic() > end
        solver.run()
        solved = self._read(largest=largest)
        if solved.values is not None and abs(float(solved.values @ cost) - solved.objective) > DIFFERS:
            # Seen now and then with values to begin with: the best is told, and those values are handed out.
            solver.clearSolver()
            solver.run()
            solved = self._read(largest=largest)
        self._watch = None
        return solved

    def _read(self, *, largest: bool) -> Solved:
        solver = self._solver
        info = solver.getInfo()
        status = solver.getModelStatus()
        proven = status in (highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kModelEmpty)
        has_values = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
        if self._is_whole:
            bound = info.mip_dual_bound
        else:
            worst = INFINITE if largest else -INFINITE
            bound = info.objective_function_value if proven else worst
        values = np.array(solver.getSolution().col_value) if has_values else None
        return Solved(
            values,
            info.objective_function_value,
            bound,
            is_proven=proven,
            is_impossible=status == highspy.HighsModelStatus.kInfeasible,
        )

    @property
    def prices(self) -> Floats:
        """What one unit more of each row costs, at an optimum without whole columns. Shape (n_rows,)."""
        return np.array(self._solver.getSolution().row_dual)

    @property
    def reduced_costs(self) -> Floats:
        """What one unit of each column costs beyond what the rows are worth. Shape (n_columns,)."""
        return np.array(self._solver.getSolution().col_dual)
