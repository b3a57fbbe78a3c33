"""Dates, weeks, chances and counts as they are said to people, on pages, on paper and in CSV alike.

The language is the one that is being spoken, whatever the machine's: a sheet printed on one machine reads like the page
on another.
"""

from collections.abc import Iterable
from datetime import date, timedelta
from fractions import Fraction
from functools import cache

from babel import Locale
from babel.numbers import get_decimal_symbol

from app.core.calendar import week_start
from app.language import _, language, locale, ngettext, nouns, pgettext

NO_BREAK_SPACE = "\u00a0"
GROUP = 3
HALF_A_PERCENT = 0.005

# Up to how many days a time is said in days, weeks, months and years, with the days of each.
_AWAY = ((14, 1), (91, 7), (730, 30), (10**9, 365))

SPRINGS, AUTUMNS = nouns("spring", "springs"), nouns("autumn", "autumns")

# Denominators that people say, smallest first.
_SAID = (2, 3, 4, 5, 6, 8, 10, 20, 25, 50, 100, 200, 500, 1000)
# 0.33 and 0.67 mean thirds; nothing else is rounded.
_THIRD_TOLERANCE = 0.0034
_EXACT_TOLERANCE = 1e-9


def month_name(month: int) -> str:
    """Return the name of a month, 1 for January."""
    return _months("wide", language())[month]


def month_short(month: int) -> str:
    """Return the short name of a month, 1 for `Jan`."""
    return _months("abbreviated", language())[month]


def weekday_name(weekday: int) -> str:
    """Return the name of a day of the week, 0 for Monday."""
    return _weekdays("wide", language())[weekday]


def weekday_short(weekday: int) -> str:
    """Return the short name of a day of the week, 0 for `Mon`."""
    return _weekdays("abbreviated", language())[weekday]


def day_words(day: date) -> str:
    """Return a day for tables and lists, as `Sat 10 Apr`."""
    return f"{weekday_short(day.weekday())} {day_short(day)}"


def day_short(day: date) -> str:
    """Return a day without its weekday, as `10 Apr`."""
    return f"{day_of_month(day.day)} {month_short(day.month)}"


def day_of_month(day: int) -> str:
    """Return the number of a day in its month; some languages say the first day otherwise."""
    return pgettext("first day of a month", "1") if day == 1 else str(day)


def day_year(day: date) -> str:
    """Return a day with its year, as `Sat 10 Apr 2027`."""
    return f"{day_words(day)} {day.year}"


def day_long(day: date) -> str:
    """Return a day in full, as `Saturday 10 April 2027`."""
    return pgettext(
        "a day in full",
        "%(weekday)s %(day)s %(month)s %(year)s",
        weekday=weekday_name(day.weekday()),
        day=day_of_month(day.day),
        month=month_name(day.month),
        year=day.year,
    )


def away_words(day: date, today: date) -> str:
    """Return how far a day lies from today, as `3 days ago`, `tomorrow` or `in 5 weeks`.

    Days are counted up to two weeks, then whole weeks up to three months, then months of 30 days up to two years.
    """
    days = (day - today).days
    if abs(days) <= 1:
        return {0: _("today"), 1: _("tomorrow"), -1: _("yesterday")}[days]
    at, size = next((at, size) for at, (most, size) in enumerate(_AWAY) if abs(days) < most)
    count = abs(days) // size
    said = (
        count_words(count, "day", "days"),
        count_words(count, "week", "weeks"),
        count_words(count, "month", "months"),
        count_words(count, "year", "years"),
    )[at]
    return _("in %(time)s", time=said) if days > 0 else _("%(time)s ago", time=said)


def day_away(day: date, today: date) -> str:
    """Return a day with how far it lies from today, as `Sat 8 May, in 2 days`."""
    return f"{day_words(day)}, {away_words(day, today)}"


def month_day_words(month_day: str) -> str:
    """Return a day of any year, kept as `05-20`, as `20 May`."""
    month, day = month_day.split("-")
    return f"{day_of_month(int(day))} {month_short(int(month))}"


def week_words(day: date) -> str:
    """Return the days of the ISO week that holds a day, as `5 – 11 Apr`; years only where they differ."""
    first = week_start(day)
    last = first + timedelta(days=6)
    if first.year != last.year:
        return f"{day_short(first)} {first.year} – {day_short(last)} {last.year}"
    if first.month != last.month:
        return f"{day_short(first)} – {day_short(last)}"
    return f"{day_of_month(first.day)} – {day_short(last)}"


def iso_week(day: date) -> str:
    """Return the number of the ISO week that holds a day, as `W14`; said after the week's days."""
    return pgettext("the number of a week", "W%(number)02d", number=day.isocalendar().week)


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


def risk_words(risk: float, years: tuple[str, str] = SPRINGS) -> str:
    """Return a chance as a number of years, as `1 spring in 10`.

    Args:
        risk: A share of years. [0 to 1]
        years: What is counted, when it is one and when it is several.

    Raises:
        ValueError: The risk is no share.
    """
    if not 0 <= risk <= 1:
        raise ValueError(f"risk is {risk}; it must be from 0 to 1")
    one, many = years
    if risk in (0, 1):
        one = ngettext(one, many, 1)
        return _("no %(year)s", year=one) if risk == 0 else _("every %(year)s", year=one)
    share = _said_fraction(risk)
    return _(
        "%(count)s %(years)s in %(all)s",
        count=share.numerator,
        years=ngettext(one, many, share.numerator),
        all=share.denominator,
    )


def number_words(number: float) -> str:
    """Return a count or figure with its thousands set apart by a no-break space, as `4 310`."""
    text = f"{number}"
    if len(text) <= GROUP:
        return text if isinstance(number, int) else text.replace(".", decimal_sign())
    whole, point, rest = text.partition(".")
    sign, digits = ("-", whole[1:]) if whole.startswith("-") else ("", whole)
    head = len(digits) % GROUP or GROUP
    groups = [digits[:head], *(digits[at : at + GROUP] for at in range(head, len(digits), GROUP))]
    return sign + NO_BREAK_SPACE.join(groups) + (decimal_sign() + rest if point else "")


def figure_words(figure: float, decimals: int | None = None) -> str:
    """Return a figure without thousands set apart, as `3.5`.

    Args:
        figure: The figure.
        decimals: How many decimals it is said with; None for those it has, six digits at most.
    """
    text = f"{figure:g}" if decimals is None else f"{figure:.{decimals}f}"
    return text.replace(".", decimal_sign())


def decimal_sign() -> str:
    """Return what stands between the whole and the rest of a figure."""
    return _decimal_sign(locale())


def count_words(count: int, one: str, many: str) -> str:
    """Return a count with its noun, as `1 tray` or `12 trays`.

    Args:
        count: How many.
        one: The English noun for one.
        many: The English noun for none or several.
    """
    return f"{number_words(count)} {ngettext(one, many, count)}"


def percent_words(fraction: float) -> str:
    """Return a share in percent to one decimal at most, as `75 %`."""
    return f"{number_words(_short(round(fraction * 100, 1)))}{NO_BREAK_SPACE}%"


def chance_words(chance: float) -> str:
    """Return a chance in whole percent; what is nearly sure or nearly hopeless is not said to be so altogether."""
    if 0 < chance < HALF_A_PERCENT:
        return _("under %(chance)s", chance=percent_words(0.01))
    if 1 - HALF_A_PERCENT < chance < 1:
        return _("over %(chance)s", chance=percent_words(0.99))
    return percent_words(round(chance, 2))


def list_words(items: list[str]) -> str:
    """Return items joined as in a sentence, as `heat, lamp and window`."""
    if len(items) < 2:  # noqa: PLR2004 - a sentence joins two or more
        return "".join(items)
    return _("%(items)s and %(last)s", items=", ".join(items[:-1]), last=items[-1])


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


def _short(number: float) -> float:
    """Return a figure as a whole number where it is one."""
    return int(number) if number == int(number) else number


@cache
def _months(width: str, code: str) -> dict[int, str]:
    return dict(Locale.parse(code).months["format"][width])


@cache
def _weekdays(width: str, code: str) -> dict[int, str]:
    return dict(Locale.parse(code).days["format"][width])


@cache
def _decimal_sign(of: Locale) -> str:
    return get_decimal_symbol(of)
