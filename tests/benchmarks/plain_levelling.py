"""Two ways of making a plan fit that a levelling is held against.

One gives the solver a 0/1 column for each lot in each of its options, as one would write it down first. The other is
first come, first served.
"""

from dataclasses import dataclass
from time import perf_counter

import highspy
import numpy as np
from scipy.sparse import coo_array

from app.core.fitting.filling import Filling
from app.core.fitting.fixed import find_fixed
from app.core.fitting.greedy import fill_in_order
from app.core.fitting.options import find_options
from app.core.fitting.patterns import member_dates, stays_of
from app.core.fitting.wishes import stand_of
from app.core.plan import make_plan
from app.core.solver import QuietSolver
from app.core.words import HARDENING, PLACES, Place

GOALS = ("share", "plants", "days", "trays")
NOTHING = -1


@dataclass(frozen=True)
class Outcome:
    """What a way of making it fit comes to.

    Attributes:
        plants: Plants placed. [1]
        weighted: The same, each counting 4 - priority. [1]
        share: Smallest share of wanted plants that any grower gets. [fraction]
        days: Plant-days away from the best day. [d]
        seconds: How long it took. [s]
    """

    plants: int
    weighted: int
    share: float
    days: int
    seconds: float


class Question:
    """A garden's lots and what each may get; nothing in it is sown."""

    def __init__(self, garden):
        self.options = find_options(make_plan(garden))
        assert self.options.is_free.all()
        sowings = garden.sowings
        self.stand = stand_of(self.options.plan, self.options.lot)
        self.wanted, self.weight, self.grower = (
            column[self.options.lot] for column in (sowings.plants, 4 - sowings.priority, sowings.grower)
        )

    def outcome(self, option, plants, seconds):
        asked = np.bincount(self.grower, self.wanted)
        got = np.bincount(self.grower, plants, minlength=len(asked))
        off = np.where(option == NOTHING, 0, self.options.off[option])
        share = float((got[asked > 0] / asked[asked > 0]).min())
        weighted = int((plants * self.weight).sum())
        return Outcome(int(plants.sum()), weighted, share, int((plants * off).sum()), seconds)


def first_come_first_served(garden):
    """Give each sowing in turn the best day on which all of it still fits."""
    begin = perf_counter()
    question = Question(garden)
    filling = Filling(question.options, question.stand, find_fixed(question.options))
    fill_in_order(filling, np.flatnonzero(question.options.is_free))
    return question.outcome(filling.option, filling.plants, perf_counter() - begin)


def one_column_a_lot(garden, seconds):
    """Give HiGHS the plain model, and the four goals one after the other, each its part of the time that is left."""
    begin = perf_counter()
    question = Question(garden)
    model = _Plain(question)
    values = model.solve(begin + seconds)
    option = np.full(len(question.wanted), NOTHING)
    chosen = values[: len(model.lot)] > 0.5
    option[model.lot[chosen]] = model.option[chosen]
    plants = np.where(option == NOTHING, 0, question.wanted)
    return question.outcome(option, plants, perf_counter() - begin)


class _Plain:
    """The plain model.

    A lot is placed whole, in one of its options, or left out. Trays of a group are whole and stand from the first to
    the last date of all that may be in it. Only cells are counted, not which lot goes into which tray, which is to
    the model's advantage.
    """

    def __init__(self, question):
        self.question = question
        options = question.options
        n_options = np.diff(options.first)[options.kind]
        self.lot = np.repeat(np.arange(len(options.lot)), n_options)
        number = np.arange(len(self.lot)) - np.repeat(np.cumsum(n_options) - n_options, n_options)
        self.option = options.first[options.kind][self.lot] + number
        n = len(self.lot)
        self.trays = n + np.arange(options.n_groups)
        self.share = n + options.n_groups
        self.n_columns = self.share + 1
        self.entries, self.low, self.high = [], [], []
        self._rows([(self.lot, np.arange(n), 1)], len(options.lot), high=1)
        self._add_growers()
        self._add_cells()
        self._add_positions()
        plants = question.wanted[self.lot]
        self.costs = np.zeros((len(GOALS), self.n_columns))
        self.costs[0, self.share] = -1
        self.costs[1, :n] = -plants * question.weight[self.lot]
        self.costs[2, :n] = plants * options.off[self.option]
        self.costs[3, self.trays] = 1

    def _rows(self, entries, n, *, low=-np.inf, high=np.inf):
        first = len(self.low)
        for row, column, value in entries:
            self.entries.append((np.asarray(row) + first, column, np.broadcast_to(value, np.shape(row))))
        self.low += np.broadcast_to(low, n).tolist()
        self.high += np.broadcast_to(high, n).tolist()

    def _add_growers(self):
        """Each grower gets the smallest share at least."""
        question = self.question
        growers, grower = np.unique(question.grower, return_inverse=True)
        asked = np.bincount(grower, question.wanted)
        rows = np.arange(len(growers))
        mine = (grower[self.lot], np.arange(len(self.lot)), question.wanted[self.lot])
        self._rows([mine, (rows, np.full(len(rows), self.share), -asked)], len(rows), low=0)

    def _add_cells(self):
        """The cells and pots of a group fit its trays."""
        options, stand, wanted = self.question.options, self.question.stand, self.question.wanted[self.lot]
        entries = [(np.arange(options.n_groups), self.trays, options.capacity)]
        for groups, need in ((options.start_group, stand.cells_of), (options.pot_group, stand.pots_of)):
            group = groups[self.option]
            there = np.flatnonzero(group >= 0)
            entries.append((group[there], there, -need(self.lot[there], wanted[there])))
        self._rows(entries, options.n_groups, low=0)

    def _add_positions(self):
        """On no day stand more trays in a place than it has positions."""
        options = self.question.options
        shelves = options.plan.garden.shelves
        has_hardening = any(shelf.place is Place.HARDENING for shelf in shelves)
        standing = [[] for _ in PLACES]
        for group, first_place, light, dates in self._moves():
            for place, begin, end in stays_of(first_place, light, dates):
                if end > begin and (place != HARDENING or has_hardening):
                    standing[place].append((group, begin, end))
        for place, stays in enumerate(standing):
            room = sum(shelf.positions for shelf in shelves if shelf.place is PLACES[place])
            group, begin, end = np.array(stays).reshape(-1, 3).T
            days = np.unique(begin)
            there = {tuple(group[(begin <= day) & (day < end)].tolist()) for day in days}
            for groups in sorted(there):
                self._rows([(np.zeros(len(groups), dtype=int), self.trays[list(groups)], 1)], 1, high=room)

    def _moves(self):
        """Return group, first place, light place and dates of each group: the first coming, the last of all else."""
        options = self.question.options
        for groups, dates in zip((options.start_group, options.pot_group), member_dates(options), strict=True):
            for group in np.unique(groups[groups >= 0]).tolist():
                inside = np.flatnonzero(groups == group)
                begin, ends = dates[inside, 0].min(), dates[inside, 1:].max(axis=0)
                moves = (int(begin), *map(int, ends))
                yield group, int(options.first_place[inside[0]]), int(options.light[inside[0]]), moves

    def _open(self):
        row, column, value = (np.concatenate(parts) for parts in zip(*self.entries, strict=True))
        matrix = coo_array((value.astype(float), (row, column)), shape=(len(self.low), self.n_columns)).tocsr()
        model = highspy.HighsLp()
        model.num_row_, model.num_col_ = matrix.shape
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.start_, model.a_matrix_.index_, model.a_matrix_.value_ = (
            matrix.indptr,
            matrix.indices,
            matrix.data,
        )
        model.row_lower_, model.row_upper_ = np.array(self.low), np.array(self.high)
        model.col_lower_, model.col_cost_ = np.zeros(self.n_columns), np.zeros(self.n_columns)
        upper = np.ones(self.n_columns)
        upper[self.trays] = np.inf
        model.col_upper_ = upper
        kinds = [highspy.HighsVarType.kInteger] * self.n_columns
        kinds[self.share] = highspy.HighsVarType.kContinuous
        model.integrality_ = kinds
        solver = QuietSolver()
        solver.setOptionValue("threads", 1)
        solver.passModel(model)
        return solver

    def solve(self, end):
        """Return the best values of all columns; to begin with, nothing is placed."""
        solver = self._open()
        columns = np.arange(self.n_columns, dtype=np.int32)
        best = np.zeros(self.n_columns)
        for number, (goal, cost) in enumerate(zip(GOALS, self.costs, strict=True)):
            solver.changeColsCost(self.n_columns, columns, cost)
            start = highspy.HighsSolution()
            start.col_value = best
            solver.setSolution(start)
            seconds = max(0.1, (end - perf_counter()) / (len(GOALS) - number))
            solver.setOptionValue("time_limit", seconds)
            solver.run()
            info = solver.getInfo()
            found = np.array(solver.getSolution().col_value)
            if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
                best = min(best, found, key=lambda values, cost=cost: float(values @ cost))
            reached = float(best @ cost)
            used = np.flatnonzero(cost).astype(np.int32)
            # What a solver calls whole may be off by a little.
            slack = 1e-6 if goal == "share" else 0.5
            solver.addRow(-highspy.kHighsInf, reached + slack, len(used), used, cost[used])
        return best
