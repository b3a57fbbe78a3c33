"""The parts of lots in the programme of kinds, against the lower hulls that an independent library finds."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from app.core.fitting.flows import parts_of
from app.core.fitting.options import find_options
from app.core.fitting.wishes import is_ever_potted, stand_of
from app.core.plan import make_plan
from tests.core.fitting_gardens import MIDDLE, numbered


def lower_hull(need):
    """Return the lower hull of what 0, 1, ... plants need, at each number of them, by scipy."""
    points = np.column_stack([np.arange(len(need)), need])
    if len(need) < 3 or np.linalg.matrix_rank(points - points[0]) < 2:  # two points, or all on a line
        return need.astype(float)
    hull = ConvexHull(points)
    faces = hull.equations[hull.equations[:, 1] < -1e-9]
    return np.max(-(faces[:, [0]] * points[:, 0] + faces[:, [2]]) / faces[:, [1]], axis=0)


@pytest.mark.parametrize("number", range(20))
def test_parts_of_a_lot_lie_along_the_lower_hulls_of_its_cells_and_pots(number):
    options = find_options(make_plan(numbered(number, replace(MIDDLE, plants=40))))
    stand = stand_of(options.plan, options.lot)
    parts, wanted = parts_of(options, stand), options.plan.garden.sowings.plants[options.lot]
    is_potted = is_ever_potted(options)
    assert sorted(set(parts.lot.tolist())) == np.flatnonzero(options.is_free).tolist()
    for lot in np.flatnonzero(options.is_free).tolist():
        mine, plants = parts.lot == lot, np.arange(wanted[lot] + 1)
        ends = np.append(0, np.cumsum(parts.plants[mine]))
        assert ends[-1] == wanted[lot]
        pots = stand.pots_of(lot, plants) if is_potted[lot] else 0 * plants
        for need, each in ((stand.cells_of(lot, plants), parts.cells), (pots, parts.pots)):
            along = np.interp(plants, ends, np.append(0, np.cumsum(parts.plants[mine] * each[mine])))
            assert along == pytest.approx(lower_hull(need))
            assert (np.diff(each[mine]) >= -1e-9).all()
