"""Dates, weeks, chances and counts as they are said to people, on pages, on paper and in CSV alike.

The names are English whatever the machine's language, so that a sheet printed on one machine reads
like the page on another.
"""

from collections.abc import Iterable
from datetime import date, timedelta
from fractions import Fraction

from app.core.calendar import week_start

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
SHORT = 3
NO_BREAK_SPACE = "\u00a0"
GROUP = 3
HALF_A_PERCENT = 0.005

# Up to how many days a time is said in which unit, with its days.
_AWAY = ((14, 1, "day"), (91, 7, "week"), (730, 30, "month"), (10**9, 365, "year"))

# Denominators that people say, smallest first.
_SAID = (2, 3, 4, 5, 6, 8, 10, 20, 25, 50, 100, 200, 500, 1000)
# 0.33 and 0.67 mean thirds; nothing else is rounded.
_THIRD_TOLERANCE = 0.0034
_EXACT_TOLERANCE = 1e-9


def day_words(day: date) -> str:
    """Return a day for tables and lists, as `Sat 10 Apr`."""
    return f"{WEEKDAYS[day.weekday()][:SHORT]} {day_short(day)}"


def day_short(day: date) -> str:
    """Return a day without its weekday, as `10 Apr`."""
    return f"{day.day} {MONTHS[day.month - 1][:SHORT]}"


def day_year(day: date) -> str:
    """Return a day with its year, as `Sat 10 Apr 2027`."""
    return f"{day_words(day)} {day.year}"


def day_long(day: date) -> str:
    """Return a day in full, as `Saturday 10 April 2027`."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def away_words(day: date, today: date) -> str:
    """Return how far a day lies from today, as `3 days ago`, `tomorrow` or `in 5 weeks`.

    Days are counted up to two weeks, then whole weeks up to three months, then months of 30 days up to two years.
    """
    days = (day - today).days
    if abs(days) <= 1:
        return {0: "today", 1: "tomorrow", -1: "yesterday"}[days]
    size, name = next((size, name) for most, size, name in _AWAY if abs(days) < most)
    said = count_words(abs(days) // size, name)
    return f"in {said}" if days > 0 else f"{said} ago"


def day_away(day: date, today: date) -> str:
    """Return a day with how far it lies from today, as `Sat 8 May, in 2 days`."""
    return f"{day_words(day)}, {away_words(day, today)}"


def month_day_words(month_day: str) -> str:
    """Return a day of any year, kept as `05-20`, as `20 May`."""
    month, day = month_day.split("-")
    return f"{int(day)} {MONTHS[int(month) - 1][:SHORT]}"


def week_words(day: date) -> str:
    """Return the days of the ISO week that holds a day, as `5 – 11 Apr`; years only where they differ."""
    first = week_start(day)
    last = first + timedelta(days=6)
    if first.year != last.year:
        return f"{day_short(first)} {first.year} – {day_short(last)} {last.year}"
    if first.month != last.month:
        return f"{day_short(first)} – {day_short(last)}"
    return f"{first.day} – {day_short(last)}"


def iso_week(day: date) -> str:
    """Return the number of the ISO week that holds a day, as `W14`; said after the week's days."""
    return f"W{day.isocalendar().week:02d}"


def week_full(day: date) -> str:
    """Return a week with its number, as `5 – 11 Apr (W14)`."""
    return f"{week_words(day)} ({iso_week(day)})"


def weeks_words(first: date, last: date) -> str:
    """Return the weeks from that of one day to that of another, as `26 Apr – 13 Jun (W17 – W23)`."""
    begin, end = week_start(first), week_start(last) + timedelta(days=6)
    if week_start(last) == begin:
        return week_full(first)
    years = (f" {begin.year}", f" {end.year}") if begin.year != end.year else ("", "")
    days = f"{day_short(begin)}{years[0]} – {day_short(end)}{years[1]}"
    return f"{days} ({iso_week(begin)} – {iso_week(end)})"


def risk_words(risk: float, one: str = "spring", many: str = "springs") -> str:
    """Return a chance as a number of years, as `1 spring in 10`.

    Args:
        risk: A share of years. [0 to 1]
        one: What is counted, when it is one.
        many: What is counted, when it is none or several.

    Raises:
        ValueError: The risk is no share.
    """
    if not 0 <= risk <= 1:
        raise ValueError(f"risk is {risk}; it must be from 0 to 1")
    if risk in (0, 1):
        return f"no {one}" if risk == 0 else f"every {one}"
    share = _said_fraction(risk)
    return f"{share.numerator} {one if share.numerator == 1 else many} in {share.denominator}"


def number_words(number: float) -> str:
    """Return a count or figure with its thousands set apart by a no-break space, as `4 310`."""
    text = f"{number}"
    if len(text) <= GROUP:
        return text
    whole, point, rest = text.partition(".")
    sign, digits = ("-", whole[1:]) if whole.startswith("-") else ("", whole)
    head = len(digits) % GROUP or GROUP
    groups = [digits[:head], *(digits[at : at + GROUP] for at in range(head, len(digits), GROUP))]
    return sign + NO_BREAK_SPACE.join(groups) + point + rest


def count_words(count: int, one: str, many: str | None = None) -> str:
    """Return a count with its noun, as `1 tray` or `12 trays`.

    Args:
        count: How many.
        one: The noun for one.
        many: The noun for none or several; by default `one` with an s.
    """
    return f"{number_words(count)} {one if count == 1 else many or one + 's'}"


def percent_words(fraction: float) -> str:
    """Return a share in percent to one decimal at most, as `75 %`."""
    return f"{round(fraction * 100, 1):g}{NO_BREAK_SPACE}%"


def chance_words(chance: float) -> str:
    """Return a chance in whole percent; what is nearly sure or nearly hopeless is not said to be so altogether."""
    if 0 < chance < HALF_A_PERCENT:
        return f"under 1{NO_BREAK_SPACE}%"
    if 1 - HALF_A_PERCENT < chance < 1:
        return f"over 99{NO_BREAK_SPACE}%"
    return percent_words(round(chance, 2))


def list_words(items: list[str]) -> str:
    """Return items joined as in a sentence, as `heat, lamp and window`."""
    if len(items) < 2:  # noqa: PLR2004 - a sentence joins two or more
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def range_words(numbers: Iterable[int]) -> str:
    """Return ascending numbers as `1 – 4, 9`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]} – {run[-1]}" for run in runs)


def _said_fraction(risk: float) -> Fraction:
    for denominator in _SAID:
        numerator = round(risk * denominator)
        tolerance = _THIRD_TOLERANCE if denominator == 3 else _EXACT_TOLERANCE  # noqa: PLR2004 - thirds
        if 0 < numerator < denominator and abs(numerator / denominator - risk) <= tolerance:
            return Fraction(numerator, denominator)
    return _nearest_fraction(risk)


def _nearest_fraction(risk: float) -> Fraction:
    """Return the nearest whole percent, or one in so many where the chance is rarer than that."""
    if risk < 0.01:  # noqa: PLR2004 - below one percent
        return Fraction(1, round(1 / risk))
    if risk > 0.99:  # noqa: PLR2004 - above 99 percent
        years = round(1 / (1 - risk))
        return Fraction(years - 1, years)
    return Fraction(round(risk * 100), 100)
