"""All wishes so far against the shelves, and who wants what."""

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np

from app.core.calendar import iso_week, monday_of
from app.core.plan import Plan, make_plan
from app.core.wish import PlacePeak, peaks_of, without_room
from app.core.words import PLACES
from app.language import _, ngettext
from app.sheets.bars import UseBar, use_bar
from app.sheets.names import as_said, name_words
from app.sheets.tray_words import PLACE_WORDS
from app.sheets.words import count_words, day_long, number_words, week_full

NOTHING = "–"


class PlaceLine(NamedTuple):
    """The fullest week of a place with all wishes, and without the new ones.

    Attributes:
        place: Which.
        week: Its fullest week; a dash where nothing stands there.
        address: That week's name in addresses; empty for none.
        bar: Trays needed in it against the positions.
        before: The same of its fullest week without the new wishes, in words; empty where nothing is new.
    """

    place: str
    week: str
    address: str
    bar: UseBar
    before: str


class GrowerLine(NamedTuple):
    """What a grower wishes for.

    Attributes:
        grower_id: Their row number.
        name: Who.
        sowings: How many wishes. [1]
        plants: Plants in all. [1]
        crops: Plants by crop, in words.
        new: How many of the wishes are new. [1]
    """

    grower_id: int
    name: str
    sowings: int
    plants: int
    crops: str
    new: int


@dataclass(frozen=True, kw_only=True)
class WishesPage:
    """All wishes so far.

    Attributes:
        facts: The line of facts under the heading.
        places: Each place.
        growers: Growers of this page of the list, those with most plants first.
        n_new: Wishes that are new. [1]
    """

    facts: tuple[tuple[str, str], ...]
    places: tuple[PlaceLine, ...]
    growers: tuple[GrowerLine, ...]
    n_new: int


def make_wishes_page(
    plan: Plan, new_ids: Collection[int], *, closing: date | None, today: date, rows: slice
) -> WishesPage:
    """Return all wishes so far.

    Args:
        plan: The garden's plan.
        new_ids: Row numbers of sowings that are new.
        closing: The last day for wishes; None where none is set.
        today: The day that is taken for today.
        rows: Which growers are shown.
    """
    sowings = plan.garden.sowings
    is_new = np.isin(sowings.ids, list(new_ids))
    counted = np.bincount(sowings.grower, minlength=len(plan.garden.growers))
    wished = int((counted > 0).sum())
    n_growers, n_new = len(plan.garden.growers), int(is_new.sum())
    return WishesPage(
        facts=(
            (
                _("Have wished"),
                _(
                    "%(wished)s of %(growers)s",
                    wished=number_words(wished),
                    growers=count_words(n_growers, "grower", "growers"),
                ),
            ),
            (_("Wishes"), number_words(len(sowings))),
            (_("Plants"), number_words(int(sowings.plants.sum()))),
            (_("Wishes close"), closing_words(closing, today)),
        ),
        places=tuple(_places(plan, make_plan(without_room(plan.garden, is_new)) if n_new else None)),
        growers=tuple(_growers(plan, is_new.tolist(), rows)),
        n_new=n_new,
    )


def closing_words(closing: date | None, today: date) -> str:
    """Return when wishes close, and how many days are left until the end of that day."""
    if closing is None:
        return _("no day set")
    left = (closing - today).days
    if left < 0:
        return _("closed since %(day)s", day=day_long(closing))
    soon = _("in %(time)s", time=count_words(left, "day", "days")) if left else _("today")
    return f"{day_long(closing)}, {soon}"


def _places(plan: Plan, before: Plan | None) -> Iterator[PlaceLine]:
    peaks = peaks_of(plan.ledger)
    most = max((max(peak.needed, peak.positions) for peak in peaks), default=0)
    earlier = {peak.place: peak for peak in peaks_of(before.ledger)} if before else {}
    for peak in peaks:
        monday = None if peak.week is None else monday_of(peak.week)
        yield PlaceLine(
            place=_(PLACE_WORDS[PLACES[peak.place]]),
            week=NOTHING if monday is None else week_full(monday),
            address="" if monday is None else iso_week(monday),
            bar=use_bar(peak.needed, peak.positions, most),
            before=_before_words(earlier.get(peak.place)) if before else "",
        )


def _before_words(peak: PlacePeak | None) -> str:
    if peak is None or peak.week is None:
        return _("nothing")
    over = max(0, peak.needed - peak.positions)
    said = [
        _("%(needed)s of %(positions)s", needed=number_words(peak.needed), positions=number_words(peak.positions)),
        ngettext("%(num)s over", "%(num)s over", over, num=number_words(over)) if over else "",
        week_full(monday_of(peak.week)),
    ]
    return ", ".join(filter(None, said))


def _growers(plan: Plan, is_new: Sequence[bool], rows: slice) -> Iterator[GrowerLine]:
    garden, sowings = plan.garden, plan.garden.sowings
    crops: dict[int, Counter[int]] = {index: Counter() for index in range(len(garden.growers))}
    counts, new = Counter[int](), Counter[int]()
    columns = zip(sowings.grower.tolist(), sowings.crop.tolist(), sowings.plants.tolist(), is_new, strict=True)
    for grower, crop, plants, one_new in columns:
        crops[grower][crop] += plants
        counts[grower] += 1
        new[grower] += one_new
    order = sorted(crops, key=lambda index: (-crops[index].total(), index))
    for grower in order[rows]:
        yield GrowerLine(
            grower_id=garden.growers[grower].id,
            name=garden.growers[grower].name,
            sowings=counts[grower],
            plants=crops[grower].total(),
            crops=", ".join(
                f"{name} {number_words(plants)}"
                for name, plants in as_said(
                    [(name_words(garden.cards[crop].name), plants) for crop, plants in sorted(crops[grower].items())],
                    lambda crop: crop[0],
                )
            ),
            new=new[grower],
        )
