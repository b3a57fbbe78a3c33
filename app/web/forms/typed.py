"""What people type, read into numbers and days; a message says what was read and what would be right.

Every reader takes text without blanks around it and raises ValueError with words for the person who typed it.
Only the digits 0 to 9 count as digits. Months and weekdays are read in the language that is spoken, and in English.
"""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from app.core.calendar import date_in_season
from app.core.words import Units
from app.language import _
from app.sheets.words import day_short, decimal_sign, month_name, month_short, weekday_name

FIRST_YEAR, LAST_YEAR = 1900, 2200
CENTURY = 2000
SHOWN_LETTERS = 24
LEAP_YEAR = 2000

_SPACED = re.compile("[+-]?[0-9]{1,3}(?:[ \u00a0\u2009\u202f][0-9]{3}){1,3}(?:[.,][0-9]{1,12})?")
_NUMBER = re.compile(r"([+-]?)([0-9]{0,12})(?:([.,])([0-9]{1,20}))?")
_GROUPED = re.compile(
    r"[+-]?[0-9]{1,3}(?:,[0-9]{3}){1,3}(?:\.[0-9]{1,12})?|[+-]?[0-9]{1,3}(?:\.[0-9]{3}){1,3}(?:,[0-9]{1,12})?"
)
_FRACTION = re.compile(r"(?:([0-9]{1,4}) +)?([0-9]{1,3}) ?[/\u2044] ?([0-9]{1,3})")
_SINGLE_FRACTIONS = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
SHORT = 3

_YEAR = "([0-9]{4}|[0-9]{2})"
_ISO = re.compile("([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})")
_MONTH_DAY = re.compile("([0-9]{2})-([0-9]{2})")
_SLASHED = re.compile(f"([0-9]{{1,2}}) ?/ ?([0-9]{{1,2}})(?: ?/ ?{_YEAR})?")
_DOTTED = re.compile(rf"([0-9]{{1,2}})\. ?([0-9]{{1,2}})(?:\. ?{_YEAR}|\.)?")
# `le lundi 1er avril 2027`, `lunes, 5 de abril de 2027`; accents are taken off before
_THE = "(?:(?:le|el) )?"
_NAME = "([a-z]{3,10})"
_WEEKDAY = rf"{_THE}(?:{_NAME}\.?,? +)?{_THE}"
_COUNTED = "(?:st|nd|rd|th|er|\\.?º)?"
_OF = "(?:del? )?"
_DAY_NAMED = re.compile(rf"{_WEEKDAY}([0-9]{{1,2}})(?:{_COUNTED}|\.) ?{_OF}{_NAME}\.?(?:,? ?{_OF}{_YEAR})?")
_MONTH_NAMED = re.compile(rf"{_WEEKDAY}{_NAME}\.? ?([0-9]{{1,2}}){_COUNTED}(?:,? {_YEAR})?")


@dataclass(frozen=True, kw_only=True)
class Habits:
    """How a garden writes dates and quantities.

    Attributes:
        units: US gardens write the month before the day.
        season: Growing year, which gives a day without a year its year.
        southern: The growing year runs from July to June.
        months_first: Whether 4/5 is the fifth of April, where somebody has said so; else the units tell.
    """

    units: Units
    season: int
    southern: bool = False
    months_first: bool | None = None

    @property
    def month_first(self) -> bool:
        """Whether 4/5 is the fifth of April."""
        return self.units is Units.US if self.months_first is None else self.months_first


@dataclass(frozen=True, kw_only=True)
class _TypedDay:
    """The parts of a typed day, before anything is checked against the calendar."""

    day: int
    month: int
    year: int | None = None
    weekday: str | None = None


def shown(text: str) -> str:
    """Return typed text as a message repeats it: short, and without characters that do not print."""
    plain = "".join(letter for letter in text if letter.isprintable())
    return plain if len(plain) <= SHOWN_LETTERS else plain[:SHOWN_LETTERS] + "…"


def read_whole(text: str) -> int:
    """Return a whole number typed as `12`, `1 000`, `1,000` or `12,0`.

    Three digits after a comma or point are thousands: nobody writes a count to the thousandth.
    """
    value = _grouped(text)
    if value is None:
        value = next(iter(_readings(text)), None)
    if value is None or value != value.to_integral_value():
        raise ValueError(_("“%(text)s” is no whole number", text=shown(text)))
    return int(value)


def read_decimal(text: str, low: float, high: float) -> Decimal:
    """Return a number typed as `2,5`, `2.5`, `1 000` or `-3`.

    Text that can be read in two ways, such as `1,250`, is read in the way that lies within the bounds.

    Args:
        text: What was typed.
        low: The smallest number that makes sense here; only tells readings apart.
        high: The largest.
    """
    readings = _readings(text)
    within = {value for value in readings if low <= value <= high}
    if len(within) > 1:
        one, other = (f"{value.normalize():f}".replace(".", decimal_sign()) for value in sorted(within))
        raise ValueError(
            _("“%(text)s” can be read in two ways: type %(one)s or %(other)s", text=shown(text), one=one, other=other)
        )
    if not readings:
        raise ValueError(_("“%(text)s” is no number", text=shown(text)))
    return next(iter(within or readings))


def read_parts(text: str) -> Fraction | None:
    """Return a number typed with a fraction, as `1/4`, `1 1/2` or `1½`; None where there is no fraction."""
    for sign, words in _SINGLE_FRACTIONS.items():
        text = text.replace(sign, words)
    match = _FRACTION.fullmatch(text.strip())
    if match is None or int(match[3]) == 0:
        return None
    return int(match[1] or 0) + Fraction(int(match[2]), int(match[3]))


def read_day(text: str, habits: Habits) -> date:
    """Return a day typed as `15/4`, `15.4.`, `15 Apr`, `Sat 15 Apr 2027` or `2027-04-15`.

    A day without a year lies in the growing year. US gardens write 4/15; with points or the name of
    the month the order is plain.
    """
    typed = _parts_of_day(text, habits)
    if typed is None:
        raise ValueError(_("“%(text)s” is no day. %(how)s", text=shown(text), how=_how_to_type(habits)))
    _require_month(typed, text, habits)
    year = typed.year
    if year is None:
        year = date_in_season(typed.month, 1, habits.season, southern=habits.southern).year
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise ValueError(
            _(
                "“%(text)s” lies in the year %(year)s; the year must be from %(first)s to %(last)s.",
                text=shown(text),
                year=year,
                first=FIRST_YEAR,
                last=LAST_YEAR,
            )
        )
    try:
        day = date(year, typed.month, typed.day)
    except ValueError:
        raise ValueError(
            _(
                "There is no day %(day)s in %(month)s %(year)s.",
                day=typed.day,
                month=month_name(typed.month),
                year=year,
            )
        ) from None
    if typed.weekday is not None and typed.weekday != weekday_name(day.weekday()):
        raise ValueError(
            _(
                "%(day)s %(year)s is a %(weekday)s, not a %(typed)s.",
                day=day_short(day),
                year=year,
                weekday=weekday_name(day.weekday()),
                typed=typed.weekday,
            )
        )
    return day


def months_first_in(texts: Iterable[str]) -> tuple[bool | None, str | None]:
    """Return whether slashed days of one table have the month first, and the first one that leaves it open.

    A single 15/4 tells it for all. Where none tells, or they contradict each other, the first answer is None.
    """
    told, open_one = set(), None
    for text in texts:
        match = _SLASHED.fullmatch(text.strip())
        if match is None:
            continue
        first, second = int(match[1]), int(match[2])
        if (first > len(MONTHS)) != (second > len(MONTHS)):
            told.add(second > len(MONTHS))
        elif first != second and open_one is None:
            open_one = text.strip()
    if told:
        return (told.pop() if len(told) == 1 else None), None
    return None, open_one


def read_month_day(text: str, habits: Habits) -> str:
    """Return a day of any year, typed as `20 May`, `20/5`, `20.5.` or `05-20`, as `05-20`."""
    typed = _parts_of_day(text, habits)
    iso = _MONTH_DAY.fullmatch(text)
    if iso is not None:
        typed = _TypedDay(month=int(iso[1]), day=int(iso[2]))
    if typed is None or typed.year is not None or typed.weekday is not None:
        raise ValueError(_("“%(text)s” is no day of the year. %(how)s", text=shown(text), how=_how_to_type(habits)))
    _require_month(typed, text, habits)
    try:
        day = date(LEAP_YEAR, typed.month, typed.day)
    except ValueError:
        raise ValueError(
            _("There is no day %(day)s in %(month)s.", day=typed.day, month=month_name(typed.month))
        ) from None
    return f"{day.month:02d}-{day.day:02d}"


def _readings(text: str) -> tuple[Decimal, ...]:
    """Return every number that the text may mean: none, one, or with and without a decimal part."""
    plain = text.replace("−", "-")
    if _SPACED.fullmatch(plain):
        plain = "".join(plain.split())
    grouped = _grouped(plain)
    match = _NUMBER.fullmatch(plain)
    if match is None or not (match[2] or match[4]):
        return () if grouped is None else (grouped,)
    value = Decimal(f"{match[1]}{match[2] or 0}.{match[4] or 0}")
    return (value,) if grouped is None else (value, grouped)


def _grouped(text: str) -> Decimal | None:
    """Return a number with its thousands set apart by commas or points, None where they are not."""
    if _GROUPED.fullmatch(text) is None or text.lstrip("+-").startswith("0"):
        return None
    # The decimal mark is the last one, unless there is only one kind, which then sets thousands apart.
    kinds = sorted({mark for mark in text if mark in ",."}, key=text.rfind)
    group = kinds[0]
    return Decimal(text.replace(group, "").replace(",", "."))


def _parts_of_day(text: str, habits: Habits) -> _TypedDay | None:
    text = fold_letters(text)
    if match := _ISO.fullmatch(text):
        return _TypedDay(year=int(match[1]), month=int(match[2]), day=int(match[3]))
    if match := _SLASHED.fullmatch(text):
        first, second = int(match[1]), int(match[2])
        day, month = (second, first) if habits.month_first else (first, second)
        return _TypedDay(day=day, month=month, year=_full_year(match[3]))
    if match := _DOTTED.fullmatch(text):
        return _TypedDay(day=int(match[1]), month=int(match[2]), year=_full_year(match[3]))
    if match := _DAY_NAMED.fullmatch(text):
        return _named(match[1], match[2], match[3], match[4])
    if match := _MONTH_NAMED.fullmatch(text):
        return _named(match[1], match[3], match[2], match[4])
    return None


def _named(weekday: str | None, day: str, month: str, year: str | None) -> _TypedDay | None:
    month_number = find_name(month, MONTHS, months_spoken())
    weekday_number = None if weekday is None else find_name(weekday, WEEKDAYS, weekdays_spoken())
    if month_number is None or (weekday is not None and weekday_number is None):
        return None
    return _TypedDay(
        day=int(day),
        month=month_number + 1,
        year=_full_year(year),
        weekday=None if weekday_number is None else weekday_name(weekday_number),
    )


def fold_letters(text: str) -> str:
    """Return the text in small letters without accents."""
    plain = unicodedata.normalize("NFD", text.lower())
    return "".join(letter for letter in plain if not unicodedata.combining(letter))


def months_spoken() -> tuple[str, ...]:
    """Return the months in the language that is being spoken, January first."""
    return tuple(month_name(number) for number in range(1, len(MONTHS) + 1))


def weekdays_spoken() -> tuple[str, ...]:
    """Return the weekdays in the language that is being spoken, Monday first."""
    return tuple(weekday_name(number) for number in range(len(WEEKDAYS)))


def find_name(text: str, *languages: tuple[str, ...]) -> int | None:
    """Return the index of the only name that begins with the text, at least three letters of it.

    Args:
        text: What was typed, as `fold_letters` gives it.
        languages: The names in the same order, in each language in which they may be typed.
    """
    if len(text) < SHORT:
        return None
    found = {at for names in languages for at, name in enumerate(names) if fold_letters(name).startswith(text)}
    return found.pop() if len(found) == 1 else None


def _full_year(text: str | None) -> int | None:
    if text is None:
        return None
    return int(text) if len(text) > 2 else CENTURY + int(text)  # noqa: PLR2004 - 27 is 2027


def _require_month(typed: _TypedDay, text: str, habits: Habits) -> None:
    if 1 <= typed.month <= len(MONTHS):
        return
    read = _(
        "“%(text)s” is read as month %(month)s, day %(day)s, and there is no such month.",
        text=shown(text),
        month=typed.month,
        day=typed.day,
    )
    if _exists(month=typed.day, day=typed.month):  # it was typed the other way round
        turned = f"{typed.month} {month_short(typed.day)}"
        slashed = f"{typed.day}/{typed.month}" if habits.month_first else f"{typed.month}/{typed.day}"
        hint = _("For %(day)s type %(slashed)s or %(day)s.", day=turned, slashed=slashed)
        raise ValueError(f"{read} {hint}")
    raise ValueError(f"{read} {_how_to_type(habits)}")


def _exists(month: int, day: int) -> bool:
    try:
        date(LEAP_YEAR, month, day)
    except ValueError:
        return False
    return True


def _how_to_type(habits: Habits) -> str:
    return _("Type it as 4/15 or Apr 15.") if habits.month_first else _("Type it as 15/4, 15.4. or 15 Apr.")
