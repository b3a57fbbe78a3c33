"""Light of lamps in a day, and the sun's day and energy at a latitude."""

from math import acos, cos, inf, pi, radians, sin, tan

from app.core.errors import require_within

SECONDS_IN_HOUR = 3600
MICROMOLES_IN_MOLE = 1_000_000
HOURS_IN_DAY = 24
MINUTES_IN_DAY = 1440
DAYS_IN_LEAP_YEAR = 366
RIGHT_ANGLE_DEG = 90

# FAO-56, equation 21. [MJ m-2 min-1]
SOLAR_CONSTANT = 0.0820


def daily_light(ppfd: float, hours: float) -> float:
    """Return the daily light integral of lamps that burn evenly.

    Args:
        ppfd: Light at leaf height. [umol m-2 s-1, 0 or more]
        hours: How long it is on in a day. [h, 0 to 24]

    Returns:
        The light of the day. [mol m-2 d-1]

    Source:
        The definition of the daily light integral; subject of Purdue Extension HO-238-W (Torres & Lopez).
    """
    return ppfd * hours * SECONDS_IN_HOUR / MICROMOLES_IN_MOLE


def hours_for_light(target: float, ppfd: float) -> float:
    """Return the hours of lamps that a daily light integral takes; more than 24 where a day is too short.

    Args:
        target: The light wanted in a day. [mol m-2 d-1, 0 or more]
        ppfd: Light at leaf height. [umol m-2 s-1, 0 or more]

    Returns:
        Hours, infinite for a target without any light. [h]

    Source:
        As `daily_light`, turned round.
    """
    if target == 0:
        return 0.0
    return target * MICROMOLES_IN_MOLE / (ppfd * SECONDS_IN_HOUR) if ppfd > 0 else inf


def sun_distance_factor(day_of_year: int) -> float:
    """Return the inverse relative distance from the Earth to the sun.

    Args:
        day_of_year: 1 on 1 January. [d, 1 to 366]

    Returns:
        Close to 1, largest in January. [1]

    Source:
        Allen et al., FAO Irrigation and Drainage Paper 56, 1998, equation 23.
    """
    require_within("day_of_year", day_of_year, 1, DAYS_IN_LEAP_YEAR)
    return 1 + 0.033 * cos(2 * pi / 365 * day_of_year)


def sun_declination(day_of_year: int) -> float:
    """Return how far north of the equator the sun stands; argument as `sun_distance_factor`.

    Returns:
        South negative. [rad]

    Source:
        FAO-56, equation 24.
    """
    require_within("day_of_year", day_of_year, 1, DAYS_IN_LEAP_YEAR)
    return 0.409 * sin(2 * pi / 365 * day_of_year - 1.39)


def sunset_angle(latitude_deg: float, day_of_year: int) -> float:
    """Return the angle by which the sun turns from noon to sunset.

    Args:
        latitude_deg: Latitude, south negative. [deg, -90 to 90]
        day_of_year: 1 on 1 January. [d, 1 to 366]

    Returns:
        0 where the sun does not rise to pi where it does not set. [rad]

    Raises:
        OutOfRangeError: An argument lies outside its range.

    Source:
        FAO-56, equation 25; held within -1 and 1 for the polar night and the polar day.
    """
    require_within("latitude_deg", latitude_deg, -RIGHT_ANGLE_DEG, RIGHT_ANGLE_DEG)
    cosine = -tan(radians(latitude_deg)) * tan(sun_declination(day_of_year))
    return acos(min(1.0, max(-1.0, cosine)))


def day_length(latitude_deg: float, day_of_year: int) -> float:
    """Return the time between sunrise and sunset; arguments and errors as `sunset_angle`.

    Returns:
        Hours, without refraction and the width of the sun, which lengthen a day by some minutes. [h, 0 to 24]

    Source:
        FAO-56, equation 34.
    """
    return HOURS_IN_DAY / pi * sunset_angle(latitude_deg, day_of_year)


def sun_energy(latitude_deg: float, day_of_year: int) -> float:
    """Return the extraterrestrial radiation: the sun's energy above the air; arguments and errors as `sunset_angle`.

    Returns:
        Energy on a level square metre in a day. [MJ m-2 d-1]

    Source:
        FAO-56, equation 21, with equations 22 to 25.
    """
    latitude, declination = radians(latitude_deg), sun_declination(day_of_year)
    angle = sunset_angle(latitude_deg, day_of_year)
    height = angle * sin(latitude) * sin(declination) + cos(latitude) * cos(declination) * sin(angle)
    # At the pole on the edge of its night the sum can fall below 0 by the last digits of the computer's numbers.
    return max(0.0, MINUTES_IN_DAY / pi * SOLAR_CONSTANT * sun_distance_factor(day_of_year) * height)
