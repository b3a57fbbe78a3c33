"""Trays, covers, mix, seeds, power and pans of a garden the slow way: day by day, in plain Python.

Written from docs/method.md, sections 7, 8 and 11. It shares nothing with the program but the dates, counts of cells
and packings worked out by hand for the plan.
"""

from collections import Counter, defaultdict
from datetime import timedelta
from math import ceil, floor
from types import SimpleNamespace

from app.core.words import Place
from tests.core.by_hand import dates_of, fewest_trays, places_of, row_of

DAY = timedelta(days=1)


def week_of(day):
    return day - timedelta(days=day.weekday())


def days_between(begin, end):
    return [begin + timedelta(days=n) for n in range((end - begin).days)]


def groups_of(drawn, cells, pots):
    """Return every group of trays: its container, whether it is sown, its lots, and from when to when it is in use."""
    garden, sown, potted = drawn.garden, defaultdict(list), defaultdict(list)
    for index in range(len(garden.sowings)):
        dates, row = dates_of(drawn, index), row_of(garden, index)
        card = garden.cards[row["crop"]]
        if card.start_container is None or not cells[index]:
            continue
        first, light = places_of(garden, row)
        lot = SimpleNamespace(**dates, crop=row["crop"], cells=cells[index], pots=pots[index])
        wait = (lot.emerges - lot.sow_on).days
        speed = 0 if wait <= 5 else 1 if wait <= 10 else 2
        left = week_of(lot.pot_on or lot.harden)
        sown[card.start_container, lot.sow_on, first, light, speed, bool(lot.pot_on), left].append(lot)
        if lot.pot_on:
            potted[card.pot_on_container, light, week_of(lot.pot_on), week_of(lot.harden)].append(lot)
    return [sown_group(garden, key, lots) for key, lots in sown.items()] + [
        potted_group(garden, key, lots) for key, lots in potted.items()
    ]


def sown_group(garden, key, lots):
    box, sow_on, first, light, _, is_potted_on, _ = key
    moved, up = max(lot.pot_on or lot.harden for lot in lots), max(lot.emerges for lot in lots)
    return SimpleNamespace(
        box=box,
        is_sown=True,
        crops={lot.crop for lot in lots},
        light=light,
        lit=(sow_on if first is light else up, moved),
        begin=sow_on,
        up=up,
        end=moved if is_potted_on else max(moved, *(lot.plant_out for lot in lots)),
        cells=sum(lot.cells for lot in lots),
        trays=fewest_trays([lot.cells for lot in lots], garden.containers[box].cells_per_tray),
    )


def potted_group(garden, key, lots):
    box, light, _, _ = key
    begin = min(lot.pot_on for lot in lots)
    return SimpleNamespace(
        box=box,
        is_sown=False,
        crops={lot.crop for lot in lots},
        light=light,
        lit=(begin, max(lot.harden for lot in lots)),
        begin=begin,
        end=max([lot.harden for lot in lots] + [lot.plant_out for lot in lots]),
        cells=sum(lot.pots for lot in lots),
        trays=fewest_trays([lot.pots for lot in lots], garden.containers[box].cells_per_tray),
    )


def most(by_day):
    """Return the most of a day, and the Monday of the first such day; 0 and None where there is never any."""
    count = max(by_day.values(), default=0)
    return (count, week_of(min(day for day, found in by_day.items() if found == count))) if count else (0, None)


def containers_of(groups):
    """Return, by container: trays and cells at once, and both in the season."""
    found = {}
    for box in {group.box for group in groups}:
        trays, cells = Counter(), Counter()
        own = [group for group in groups if group.box == box]
        for group in own:
            for day in days_between(group.begin, group.end):
                trays[day] += group.trays
                cells[day] += group.cells
        found[box] = (most(trays), most(cells), sum(g.trays for g in own), sum(g.cells for g in own))
    return found


def covers_of(groups):
    """Return the trays before emergence on each day."""
    covered = Counter()
    for group in groups:
        for day in days_between(group.begin, group.up) if group.is_sown else ():
            covered[day] += group.trays
    return covered


def lit_weeks_of(groups, place):
    """Return the Mondays of the weeks in which trays of each crop stand in a place of light."""
    found = defaultdict(set)
    for group in groups:
        if group.light is place:
            for day in days_between(*group.lit):
                for crop in group.crops:
                    found[crop].add(week_of(day))
    return dict(found)


def mix_of(drawn, cells, pots):
    """Return the litres of mix of each week by its Monday."""
    litres = Counter()
    for index in range(len(drawn.garden.sowings)):
        card, dates = drawn.garden.cards[drawn.garden.sowings.crop[index]], dates_of(drawn, index)
        if cells[index]:
            box = drawn.garden.containers[card.start_container]
            litres[week_of(dates["sow_on"])] += cells[index] * box.cell_volume_ml * 1.1 / 1000
        if pots[index]:
            box = drawn.garden.containers[card.pot_on_container]
            litres[week_of(dates["pot_on"])] += pots[index] * box.cell_volume_ml * 1.1 / 1000
    return litres


def seeds_outside(garden, index):
    """Return the seeds of a sowing made outside."""
    sowings = garden.sowings
    card = garden.cards[sowings.crop[index]]
    germination = float(sowings.germination[index]) or card.legal_germination or 0.70
    plants = int(sowings.plants[index] if sowings.placed[index] < 0 else sowings.placed[index])
    spots = ceil(plants / card.plants_per_cell)
    return max(ceil(plants / germination - 1e-9), spots * card.seeds_per_cell)


def days_in_use(garden, standing):
    """Return the days on which a tray stands on each shelf, filled by name, from the trays of each place and day."""
    used = {shelf.id: set() for shelf in garden.shelves}
    for (place, day), trays in standing.items():
        left = trays
        for shelf in sorted((s for s in garden.shelves if s.place is place), key=lambda s: s.name):
            if left > 0 and shelf.positions > 0:
                used[shelf.id].add(day)
            left -= shelf.positions
    return used


def kwh_of(shelf, days):
    """Return the energy of each week by its Monday; None where a shelf draws nothing or its figures are not given."""
    hours = 24 if shelf.place is Place.HEAT and shelf.hours_per_day is None else shelf.hours_per_day
    if shelf.place not in (Place.HEAT, Place.LAMP) or shelf.watts is None or hours is None:
        return None
    found = Counter()
    for day in days:
        found[week_of(day)] += shelf.watts * hours / 1000
    return found


def fills_of(shelf, days):
    """Return the fills of a shelf's pans in each week by its Monday: full when trays come, again when it is dry."""
    found, lasts = Counter(), shelf.pan_depth_mm / 3
    for day in sorted(days):
        if day - DAY not in days:
            first, filled = day, 0
        while floor(filled * lasts + 1e-9) <= (day - first).days:
            found[week_of(day)] += 1
            filled += 1
    return found
