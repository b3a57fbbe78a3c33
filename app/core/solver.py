"""The solver of integer programmes, kept quiet and on one core."""

import highspy


class QuietSolver(highspy.Highs):
    """The solver without the line that it otherwise prints while it is being made."""

    def enableCallbacks(self) -> None:  # noqa: N802 - the solver's own name
        """Called by the constructor, before anybody else can turn the printing off."""
        self.silent()
        super().enableCallbacks()  # type: ignore[no-untyped-call]  # the library has no types here


def whole_optimum(programme: highspy.HighsLp) -> list[int]:
    """Return the values of all columns of an integer programme at its optimum.

    Args:
        programme: One that has a solution and whose columns are all whole numbers.
    """
    return whole_best(programme, highspy.kHighsInf)[0]


def whole_best(programme: highspy.HighsLp, seconds: float) -> tuple[list[int], bool]:
    """Return the best values of all columns that are found in a time, and whether they are proven to be the best.

    Args:
        programme: One that has a solution near at hand, and whose columns are all whole numbers.
        seconds: When to stop looking. [s]
    """
    solver = QuietSolver()  # type: ignore[no-untyped-call]  # nor here
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("time_limit", seconds)
    solver.passModel(programme)
    solver.run()
    values = [round(value) for value in solver.getSolution().col_value]
    return values, solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
