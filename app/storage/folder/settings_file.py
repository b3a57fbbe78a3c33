"""The settings file of a garden folder, `garden.toml`, in and out."""

import json
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from app.core import limits
from app.core.calendar import read_month_day
from app.core.dates.frost import frost_dates, frost_table
from app.core.errors import CoreError
from app.core.limits import Bounds
from app.core.words import FrostLaw, FrostSource, Side, Units, Weekday
from app.language import ENGLISH, LANGUAGES
from app.storage.folder.cells import Name, number_to_cell, text_to_cell
from app.storage.folder.faults import Fault, Faults, nearest
from app.storage.folder.layout import SETTINGS_FILE
from app.storage.folder.sheets import read_text

REQUIRED = object()
MEDIAN_PERCENT = 50
_CHANCE = re.compile(r"p([1-9][0-9]?)")
_SECTION = re.compile(r"\s*\[\s*([A-Za-z_]+)\s*\]")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=")
_SYNTAX_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
# Dates that every half year takes, so that each side can be judged by itself.
_SAMPLE = {Side.SPRING: {90: "05-01", 10: "06-01"}, Side.AUTUMN: {10: "09-01", 90: "10-01"}}


@dataclass(frozen=True, kw_only=True)
class Setting:
    """A setting of the file.

    Attributes:
        section: Its section.
        key: Its name there.
        attribute: The column of the garden's row.
        parse: Gives the value to store, or raises ValueError.
        right: What would be right.
        write: Gives the value as the file has it.
        default: What is taken where the file does not name it; REQUIRED where it must.
    """

    section: str
    key: str
    attribute: str
    parse: Callable[[Any], Any]
    right: str
    write: Callable[[Any], str]
    default: object = REQUIRED


@dataclass(frozen=True, kw_only=True)
class GardenSettings:
    """What the settings file says.

    Attributes:
        garden: Columns of the garden's row, to their values.
        frost_points: Side, chance [percent] and MM-DD of each entered frost date.
        source_row: The line on which the file says where frost dates come from.
    """

    garden: dict[str, Any]
    frost_points: tuple[tuple[Side, int, str], ...]
    source_row: int | None = None


def _name(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError  # noqa: TRY004 - caught as any other wrong value
    return Name(limits.NAME_LETTERS).parse(text_to_cell(value.strip()))


def _number(value: object, bounds: Bounds) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or value not in bounds:
        raise ValueError
    return float(value)


def _year(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value not in limits.SEASON:
        raise ValueError
    return value


def _month_day(value: object) -> str:
    if not isinstance(value, str) or not value.isascii():
        raise ValueError
    read_month_day(value)
    return value


def _language(value: object) -> str:
    if not isinstance(value, str) or value.lower() not in LANGUAGES:
        raise ValueError
    return value.lower()


def _tray(value: object) -> tuple[float, float]:
    if not isinstance(value, list):
        raise ValueError  # noqa: TRY004 - caught as any other wrong value
    length, width = (_number(side, limits.TRAY_CM) for side in value)
    return length, width


def _quote(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _number_setting(section: str, key: str, bounds: Bounds, default: object = REQUIRED) -> Setting:
    return Setting(
        section=section,
        key=key,
        attribute=key,
        parse=lambda value: _number(value, bounds),
        right=f"give a number from {bounds.low:,g} to {bounds.high:,g}",
        write=number_to_cell,
        default=default,
    )


def _word_setting(section: str, key: str, attribute: str, words: type[StrEnum], default: StrEnum) -> Setting:
    return Setting(
        section=section,
        key=key,
        attribute=attribute,
        parse=lambda value: words(value.lower() if isinstance(value, str) else value),
        right="give one of: " + ", ".join(f'"{word}"' for word in words),
        write=_quote,
        default=default,
    )


_SEASON_RIGHT = f"give the growing year as a whole number from {limits.SEASON.low} to {limits.SEASON.high}"
_TRAY_RIGHT = f"give length and width, each from {limits.TRAY_CM.low} to {limits.TRAY_CM.high}, such as [54.5, 28.0]"
_DAY_RIGHT = 'give month and day, such as "02-15"'

SETTINGS: tuple[Setting, ...] = (
    Setting(
        section="garden",
        key="name",
        attribute="name",
        parse=_name,
        right=f"give the garden's name on one line, in quotes, at most {limits.NAME_LETTERS} characters",
        write=_quote,
    ),
    Setting(section="garden", key="season", attribute="season", parse=_year, right=_SEASON_RIGHT, write=str),
    _word_setting("garden", "units", "units", Units, Units.METRIC),
    Setting(
        section="garden",
        key="language",
        attribute="language",
        parse=_language,
        right="give one of: " + ", ".join(f'"{code}"' for code in LANGUAGES),
        write=_quote,
        default=ENGLISH,
    ),
    _word_setting("garden", "sowing_day", "sowing_day", Weekday, Weekday.SATURDAY),
    _word_setting("garden", "hand_out_day", "hand_out_day", Weekday, Weekday.SATURDAY),
    Setting(
        section="garden",
        key="wishes_close",
        attribute="wishes_close",
        parse=_month_day,
        right=_DAY_RIGHT,
        write=_quote,
        default=None,
    ),
    Setting(
        section="garden",
        key="tray_cm",
        attribute="tray_cm",
        parse=_tray,
        right=_TRAY_RIGHT,
        write=lambda sides: f"[{', '.join(map(number_to_cell, sides))}]",
        default=(54.5, 28.0),
    ),
    _number_setting("site", "latitude", limits.LATITUDE_DEG),
    _number_setting("site", "longitude", limits.LONGITUDE_DEG, 0.0),
    _number_setting("site", "elevation_m", limits.ELEVATION_M, 0.0),
    _word_setting("frost", "source", "frost_source", FrostSource, FrostSource.TABLE),
    _word_setting("frost", "law", "frost_law", FrostLaw, FrostLaw.NORMAL),
    _number_setting("frost", "threshold_c", limits.FREEZE_C, 0.0),
    _number_setting("frost", "risk", limits.RISK, 0.10),
    _number_setting("frost", "autumn_risk", limits.RISK, 0.50),
    _number_setting("plan", "confidence", limits.CONFIDENCE, 0.90),
    _number_setting("plan", "survival", limits.SURVIVAL, 0.90),
    _number_setting("plan", "spare", limits.SPARE, 0.10),
)
_SECTIONS = tuple(dict.fromkeys(setting.section for setting in SETTINGS))


def read_settings_file(path: Path, faults: Faults) -> GardenSettings:
    """Return what a settings file says; a setting with a fault is left out.

    Args:
        path: The file.
        faults: Takes the faults.
    """
    text = read_text(path, faults)
    if text is None:
        return GardenSettings(garden={}, frost_points=())
    try:
        sections = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        faults.add(_syntax_fault(str(error), text))
        return GardenSettings(garden={}, frost_points=())
    return _Reader(text, sections, faults).read()


def _syntax_fault(message: str, text: str) -> Fault:
    place = _SYNTAX_PLACE.search(message)
    line = int(place[1]) if place and place[1] else text.count("\n") + 1
    what = _SYNTAX_PLACE.sub("", message)
    found = text.splitlines()[line - 1].strip() if line <= len(text.splitlines()) else None
    right = f'this is not written as a settings file is ({what}); a line is name = value, texts in "quotes"'
    return Fault(file=SETTINGS_FILE, row=line, found=found, right=right)


class _Reader:
    """Takes a parsed settings file apart."""

    def __init__(self, text: str, sections: Mapping[str, Any], faults: Faults) -> None:
        self._lines = _lines_of_keys(text)
        self._sections = sections
        self._faults = faults

    def read(self) -> GardenSettings:
        self._check_names()
        garden: dict[str, Any] = {}
        for setting in SETTINGS:
            self._read_setting(setting, garden)
        if "tray_cm" in garden:
            garden["tray_length_cm"], garden["tray_width_cm"] = garden.pop("tray_cm")
        points = [point for side in Side for point in self._read_side(side, garden)]
        return GardenSettings(
            garden=garden, frost_points=tuple(points), source_row=self._lines.get(("frost", "source"))
        )

    def _fault(self, section: str, key: str | None, right: str, found: object = None) -> None:
        shown = None if found is None else _shown(found)
        column = f"[{section}]" if key is None else f"[{section}] {key}"
        row = self._lines.get((section, key))
        self._faults.add(Fault(file=SETTINGS_FILE, row=row, column=column, found=shown, right=right))

    def _section(self, name: str) -> Mapping[str, Any]:
        section = self._sections.get(name, {})
        return section if isinstance(section, dict) else {}

    def _check_names(self) -> None:
        for name, section in self._sections.items():
            if name not in _SECTIONS or not isinstance(section, dict):
                right = f"the sections are {', '.join(f'[{known}]' for known in _SECTIONS)}.{nearest(name, _SECTIONS)}"
                self._fault(name, None, right, name)
                continue
            keys = [setting.key for setting in SETTINGS if setting.section == name]
            keys += list(Side) if name == "frost" else []
            for key in section:
                if key not in keys:
                    self._fault(name, key, f"there is no setting of that name here.{nearest(key, keys)}", key)

    def _read_setting(self, setting: Setting, garden: dict[str, Any]) -> None:
        section = self._section(setting.section)
        if setting.key not in section:
            if setting.default is REQUIRED:
                self._fault(setting.section, setting.key, f"this setting is missing; {setting.right}")
            else:
                garden[setting.attribute] = setting.default
            return
        value = section[setting.key]
        try:
            garden[setting.attribute] = setting.parse(value)
        except ValueError:
            self._fault(setting.section, setting.key, setting.right, value)

    def _read_side(self, side: Side, garden: Mapping[str, Any]) -> list[tuple[Side, int, str]]:
        """Return the frost dates of a side; none if they have a fault."""
        source = garden.get("frost_source")
        if source is None:
            return []
        value: Any = self._section("frost").get(side)
        if source is FrostSource.DATES:
            right, dates = 'give the date as month and day, such as "05-10"', {MEDIAN_PERCENT: value}
        else:
            right = 'give a table of chances and dates, such as { p90 = "05-20", p50 = "06-01", p10 = "06-13" }'
            dates = _chances(value)
        if value is None:
            if source is FrostSource.STATION:  # dates entered earlier may stand beside a record, but need not
                return []
            self._fault("frost", side, f"this setting is missing; {right}")
            return []
        if not dates or not all(isinstance(date, str) and date.isascii() for date in dates.values()):
            self._fault("frost", side, right, value)
            return []
        try:
            _check_side(side, dates, source, garden)
        except CoreError as error:
            what = str(error).removeprefix(f"{side}: ").partition("; found")[0]
            self._fault("frost", side, f"{what}; {right}", value)
            return []
        return [(side, percent, dates[percent]) for percent in sorted(dates, reverse=side is Side.SPRING)]


def _check_side(side: Side, dates: dict[int, str], source: FrostSource, garden: Mapping[str, Any]) -> None:
    """Raise CoreError if the dates of a side make no frost curve."""
    season, southern = garden.get("season", 2001), garden.get("latitude", 0.0) < 0
    is_kept_pair = source is FrostSource.STATION and list(dates) == [MEDIAN_PERCENT]
    if source is FrostSource.DATES or is_kept_pair:
        frost_dates(dates[MEDIAN_PERCENT], dates[MEDIAN_PERCENT], season=season, southern=southern)
    else:
        both = {**_SAMPLE, side: dates}
        frost_table(both[Side.SPRING], both[Side.AUTUMN], season=season, southern=southern)


def _chances(value: object) -> dict[int, Any]:
    """Return chances in percent to dates of a table such as `{ p90 = "05-20" }`; empty if it is none."""
    if not isinstance(value, dict):
        return {}
    matches = {key: _CHANCE.fullmatch(key) for key in value}
    return {int(match[1]): value[key] for key, match in matches.items() if match} if all(matches.values()) else {}


def _lines_of_keys(text: str) -> dict[tuple[str, str | None], int]:
    """Return the line on which each section and each key of it stands, as far as they stand on lines of their own."""
    lines: dict[tuple[str, str | None], int] = {}
    section = ""
    for number, line in enumerate(text.splitlines(), 1):
        if match := _SECTION.match(line):
            section = match[1]
            lines.setdefault((section, None), number)
        elif match := _KEY.match(line):
            lines.setdefault((section, match[1]), number)
            lines.setdefault((match[1], None), number)
    return lines


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return ", ".join(f"{key} = {_shown(inner)}" for key, inner in value.items())
    if isinstance(value, list):
        return f"[{', '.join(map(_shown, value))}]"
    return str(value)


def settings_text(garden: Mapping[str, Any], frost_points: Mapping[Side, Mapping[int, str]]) -> str:
    """Return the settings file of a garden.

    Args:
        garden: Columns of the garden's row, to their values.
        frost_points: Chance in percent to MM-DD, for each side.
    """
    values = {**garden, "tray_cm": (garden["tray_length_cm"], garden["tray_width_cm"])}
    lines: list[str] = []
    for section in _SECTIONS:
        lines += ["", f"[{section}]"]
        for setting in SETTINGS:
            if setting.section == section and values[setting.attribute] is not None:
                lines.append(f"{setting.key} = {setting.write(values[setting.attribute])}")
        if section == "frost":
            source = garden["frost_source"]
            lines += [f"{side} = {_side_text(side, frost_points[side], source)}" for side in Side if frost_points[side]]
    return "\n".join(lines[1:]) + "\n"


def _side_text(side: Side, dates: Mapping[int, str], source: FrostSource) -> str:
    if source is FrostSource.DATES:
        return _quote(dates[MEDIAN_PERCENT])
    ordered = sorted(dates, reverse=side is Side.SPRING)
    return "{ " + ", ".join(f"p{percent} = {_quote(dates[percent])}" for percent in ordered) + " }"
