"""A published frost table pasted as text, read into chances and dates; what was not understood is said line by line."""

import re
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from app.core.limits import CHANCE_PERCENT
from app.core.words import Side
from app.language import N_, _
from app.web.forms.typed import MONTHS, SHORT, Habits, fold_letters, months_spoken, read_month_day, shown

MOST_FAULTS = 20
PERCENT_OF_SHARE = 100
COLUMNS = 3

_BREAK = re.compile(r"[\t;|]|(?<!^0),")  # 0,1 is a share
_NUMBERED = r"\b[0-9]{1,2} ?/ ?[0-9]{1,2}\b|\b[0-9]{1,2}\.[0-9]{1,2}\.|\b[0-9]{2}-[0-9]{2}\b"
_COUNTED = r"(?:st|nd|rd|th|er|\.?º)?"
_LETTER = r"[^\W\d_]"
_PERCENT = re.compile(r"\b[0-9]{1,3}(?= ?%)")
_NUMBER = re.compile(r"\b[0-9]{1,3}\b")
_CHANCE = re.compile(r"([0-9]{1,3}|0?[.,][0-9]{1,2})(?:[.,]0+)? ?%?")
_LEADING = re.compile(rf"({_CHANCE.pattern})(?=[ :]|$)[ :]*")
_EMPTY = frozenset({"", "-", "–", "—"})
# By which a line names its side; in English always too.
_WORDS_OF = {Side.SPRING: N_("spring, last"), Side.AUTUMN: N_("autumn, fall, first")}


class PastedLine(NamedTuple):
    """A chance in percent with its dates, MM-DD; None where none was given."""

    chance: int
    spring: str | None
    autumn: str | None


class PastedFault(NamedTuple):
    """A line that was not understood, and what would be right."""

    line: int
    found: str
    right: str


@dataclass(frozen=True, kw_only=True)
class PastedTable:
    """What a pasted text was understood to say.

    Attributes:
        lines: The chances with their dates, the highest chance first.
        faults: What was not understood.
        skipped: Lines without a figure, such as a heading.
    """

    lines: tuple[PastedLine, ...]
    faults: tuple[PastedFault, ...]
    skipped: tuple[str, ...]

    def points(self) -> dict[Side, dict[int, str]]:
        """Return chance to date on each side, as they are kept."""
        return {
            Side.SPRING: {line.chance: line.spring for line in self.lines if line.spring},
            Side.AUTUMN: {line.chance: line.autumn for line in self.lines if line.autumn},
        }

    @property
    def mark(self) -> str:
        """The same in one word, by which a form knows that it is what was shown."""
        return " ".join(f"{line.chance}:{line.spring or ''}:{line.autumn or ''}" for line in self.lines)


class _Reader:
    """Reads a text line by line; a line of chances waits for its lines of dates."""

    def __init__(self, habits: Habits) -> None:
        self.habits = habits
        self.points: dict[Side, dict[int, str]] = {side: {} for side in Side}
        self.faults: list[PastedFault] = []
        self.skipped: list[str] = []
        self.chances: tuple[int, ...] = ()
        self.waiting = [Side.SPRING, Side.AUTUMN]
        self.said: Side | None = None

    def read(self, number: int, text: str) -> None:
        """Read one line."""
        cells = [cell.strip() for cell in _BREAK.split(text)]
        named = _side_in(text)
        if not any(letter.isdigit() for letter in text):
            self.said = named or self.said
            self.skipped.append(shown(text.replace("\t", " ")))
            return
        chances = _chances_in(text)
        if chances is not None:
            if all(chance in CHANCE_PERCENT for chance in chances):
                self.chances, self.said = chances, named or self.said
            else:
                self._fault(number, text, _("chances from 1 to 99 percent"))
        elif self.chances and _leading_chance(cells[0]) is None and _date().search(text):
            self._read_dates(number, text, named)
        else:
            self._read_row(number, cells, text)

    def _read_dates(self, number: int, text: str, named: Side | None) -> None:
        """Read a line with a date for each chance of the line above."""
        found = _date().findall(text)
        if len(found) != len(self.chances):
            right = _(
                "a date for each of the %(chances)s chances above; this line has %(dates)s",
                chances=len(self.chances),
                dates=len(found),
            )
            self._fault(number, text, right)
            return
        side = named or self.said or (self.waiting[0] if self.waiting else None)
        self.said = None
        if side is None or self.points[side]:
            self._fault(number, text, _("one line of dates for spring and one for autumn"))
            return
        self.waiting = [one for one in self.waiting if one is not side]
        for chance, date in zip(self.chances, found, strict=True):
            self._put(number, side, chance, date)

    def _read_row(self, number: int, cells: list[str], text: str) -> None:
        """Read a line that has one chance and its dates."""
        right = _("the chance in percent, the spring date, the autumn date, as “10 24 May 23 Sep”")
        if len(cells) == 1:
            match = _LEADING.match(cells[0])
            dates = _date().findall(cells[0][match.end() :]) if match else []
            rest = _date().sub("", cells[0][match.end() :]) if match else text
            if match is None or len(dates) != len(Side) or re.search("[0-9]", rest):
                self._fault(number, text, right)
                return
            cells = [match[1], *dates]
        chance = _leading_chance(cells[0])
        filled = [cell for cell in cells[1:] if cell not in _EMPTY]
        if chance is None or not filled or len(cells) > COLUMNS:
            self._fault(number, text, right)
            return
        if chance not in CHANCE_PERCENT:
            self._fault(number, cells[0], _("a chance from 1 to 99 percent"))
            return
        for side, cell in zip(Side, cells[1:], strict=False):
            if cell not in _EMPTY:
                self._put(number, side, chance, cell)

    def _put(self, number: int, side: Side, chance: int, text: str) -> None:
        if chance in self.points[side]:
            right = {
                Side.SPRING: _("each chance once; it has its spring date already"),
                Side.AUTUMN: _("each chance once; it has its autumn date already"),
            }[side]
            self._fault(number, f"{chance} %", right)
            return
        try:
            self.points[side][chance] = read_month_day(_plain(text), self.habits)
        except ValueError as error:
            self._fault(number, text, str(error))

    def _fault(self, number: int, found: str, right: str) -> None:
        said = f"{right[:1].upper()}{right[1:].rstrip('.')}."
        self.faults.append(PastedFault(number, shown(found.replace("\t", " ")), said))


def read_pasted(text: str, habits: Habits) -> PastedTable:
    """Return what a pasted table says.

    Args:
        text: Lines of a chance and its dates, or a line of chances with lines of dates below it.
        habits: How the garden writes dates.
    """
    reader = _Reader(habits)
    for number, line in enumerate(text.splitlines(), 1):
        if line.strip():
            reader.read(number, line.strip())
    spring, autumn = reader.points[Side.SPRING], reader.points[Side.AUTUMN]
    chances = sorted({*spring, *autumn}, reverse=True)
    return PastedTable(
        lines=tuple(PastedLine(chance, spring.get(chance), autumn.get(chance)) for chance in chances),
        faults=tuple(reader.faults[:MOST_FAULTS]),
        skipped=tuple(reader.skipped),
    )


def _side_in(text: str) -> Side | None:
    """Return the side that a line names, if it names one of the two."""
    line = fold_letters(text)
    named = [
        side
        for side, words in _WORDS_OF.items()
        if any(fold_letters(word) in line for word in f"{words}, {_(words)}".split(", "))
    ]
    return named[0] if len(named) == 1 else None


def _chances_in(text: str) -> tuple[int, ...] | None:
    """Return the chances of a line that has nothing but chances and words, None where it is another line."""
    if _date().search(text):
        return None
    found = _PERCENT.findall(text) or _NUMBER.findall(text)
    return tuple(map(int, found)) if len(found) > 1 else None


def _leading_chance(cell: str) -> int | None:
    match = _CHANCE.fullmatch(cell.strip())
    return None if match is None else _as_percent(match[1])


def _as_percent(text: str) -> int:
    """Return a chance in percent; a share such as 0.1 is 10 percent."""
    plain = text.replace(",", ".")
    return round(float(plain) * PERCENT_OF_SHARE) if "." in plain else int(plain)


def _plain(text: str) -> str:
    """Return a date as people type it: 24-May is 24 May."""
    return re.sub(rf"(?<=[0-9])-(?={_LETTER})|(?<={_LETTER})-(?=[0-9])", " ", text.strip()).strip()


def _date() -> re.Pattern[str]:
    """Return what finds dates in a line, with months in English and in the language that is being spoken."""
    return _date_with(frozenset({*MONTHS, *months_spoken()}))


@cache
def _date_with(months: frozenset[str]) -> re.Pattern[str]:
    begins = sorted({name[:SHORT] for month in months for name in (month, fold_letters(month))})
    month = rf"(?:{'|'.join(begins)}){_LETTER}{{0,7}}\.?"
    named = rf"\b[0-9]{{1,2}}{_COUNTED}[ .-]{{0,2}}(?:de )?{month}|\b{month}[ -]?[0-9]{{1,2}}{_COUNTED}\b"
    return re.compile(f"{_NUMBERED}|{named}", re.IGNORECASE)
