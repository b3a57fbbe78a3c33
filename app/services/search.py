"""Finding things by name or number."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from app.core.folded import fold, holds_all
from app.language import N_, _, language
from app.storage import Session
from app.storage.published import names_in
from app.storage.queries.search import (
    Name,
    list_crop_names,
    list_grower_names,
    list_seed_lot_names,
    list_shelf_names,
    list_sowing_names,
)
from app.storage.queries.trays import find_tray

MOST_HITS = 20  # of a kind; more are counted
NUMBER = r"(?:tray *|{tray} *|# *)?0*([1-9][0-9]{{0,8}})"
NOBODY = 0  # no row has this id


class Kind(StrEnum):
    """What is searched, in the order in which it is shown."""

    GROWERS = N_("growers")
    SOWINGS = N_("sowings")
    CROPS = N_("crops")
    SEED_LOTS = N_("seed lots")
    SHELVES = N_("shelves")


@dataclass(frozen=True)
class Group:
    """What was found of a kind.

    Attributes:
        kind: The kind.
        hits: The first ones.
        total: How many there are. [1]
    """

    kind: Kind
    hits: list[Name]
    total: int


@dataclass(frozen=True)
class Found:
    """What a search has found.

    Attributes:
        tray: Number of the tray that was asked for by number and is there; None for none.
        asked: The number that was asked for, there or not; None where it was no number.
        groups: Everything else, by kind; kinds of which nothing was found are left out.
    """

    tray: int | None
    asked: int | None
    groups: list[Group]


def search(session: Session, text: str, *, grower_id: int | None, is_coordinator: bool) -> Found:
    """Return what can be found under some words, all of which stand in what is found.

    Args:
        session: Where to look.
        text: As typed; capitals and accents do not matter.
        grower_id: The grower that the reader is; of growers and sowings others than coordinators find their own alone.
        is_coordinator: Whether the reader may see everybody's.
    """
    folded = fold(text)
    words = folded.split()
    if not words:
        return Found(None, None, [])
    number = re.fullmatch(NUMBER.format(tray=re.escape(fold(_("tray")))), folded)
    asked = int(number[1]) if number else None
    if asked is not None and find_tray(session, asked) is not None:
        return Found(asked, asked, [])
    own = None if is_coordinator else grower_id or NOBODY
    names = {
        Kind.GROWERS: list_grower_names(session, own),
        Kind.SOWINGS: list_sowing_names(session, own),
        Kind.CROPS: list_crop_names(session),
        Kind.SEED_LOTS: list_seed_lot_names(session),
        Kind.SHELVES: list_shelf_names(session),
    }
    groups = [_group(kind, _as_said(kind, rows), words) for kind, rows in names.items()]
    return Found(None, asked, [group for group in groups if group.total])


def find_growers(session: Session, text: str) -> list[int]:
    """Return the ids of the growers in whose name or plot all of some words stand."""
    words = fold(text).split()
    return [row.id for row in list_grower_names(session) if holds_all(" ".join((row.name, *row.more)), words)]


def _as_said(kind: Kind, rows: Iterable[Name]) -> Iterable[Name]:
    """Return rows with the names of crops in the language that is spoken; a crop is found by its English name too."""
    said = names_in(language())
    if kind is Kind.CROPS:
        return [
            row._replace(name=said[row.name], more=(*row.more, row.name)) if row.name in said else row for row in rows
        ]
    if kind in {Kind.SOWINGS, Kind.SEED_LOTS}:
        return [row._replace(more=tuple(said.get(part, part) for part in row.more)) for row in rows]
    return rows


def _group(kind: Kind, rows: Iterable[Name], words: list[str]) -> Group:
    """Return what was found of a kind: those first whose name begins with the first word."""
    found = [row for row in rows if holds_all(" ".join((row.name, *row.more)), words)]
    found.sort(key=lambda row: not fold(row.name).startswith(words[0]))  # keeps the order of the list otherwise
    return Group(kind, found[:MOST_HITS], len(found))
