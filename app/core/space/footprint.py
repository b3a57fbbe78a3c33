"""How many standard trays fit on a shelf."""

# Room short by half a millimetre is enough: no tape reads finer. The rest of it keeps floating error out.
TOLERANCE_CM = 0.05 + 1e-9


def trays_on(width_cm: float, depth_cm: float, tray_cm: tuple[float, float]) -> int:
    """Return how many trays fit on one level.

    All lengthwise, all crosswise, or the best split of the level by one straight cut into a
    block of each.

    Args:
        width_cm: Width of the level. [cm, above 0]
        depth_cm: Depth of the level. [cm, above 0]
        tray_cm: Length and width of a tray. [cm, above 0]

    Returns:
        Trays on the level. [1]

    Source:
        Chosen here. A shelf of 122 x 61 cm holds four trays of 54.5 x 28 cm: common practice.
    """
    length, width = tray_cm
    return max(
        _best_split(width_cm, depth_cm, (length, width)),
        _best_split(depth_cm, width_cm, (length, width)),
    )


def _best_split(along_cm: float, across_cm: float, tray_cm: tuple[float, float]) -> int:
    """Return the most trays with a cut across `along_cm`, one block on each side of it."""
    length, width = tray_cm
    best = 0
    for columns in range(_fits(along_cm, length) + 1):
        first = columns * _fits(across_cm, width)
        rest = _fits(along_cm - columns * length, width) * _fits(across_cm, length)
        best = max(best, first + rest)
    return best


def _fits(room_cm: float, size_cm: float) -> int:
    return max(0, int((room_cm + TOLERANCE_CM) // size_cm))


def positions_of(width_cm: float, depth_cm: float, tray_cm: tuple[float, float], levels: int) -> int:
    """Return the positions of a shelf: the trays that fit on a level, times its levels. Arguments as `trays_on`."""
    return trays_on(width_cm, depth_cm, tray_cm) * levels
