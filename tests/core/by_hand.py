"""Dates, trays and ledger of a garden the slow way: sowing by sowing, day by day, in plain Python.

Written from the rules of docs/method.md, sections 5 to 8 and 10. It shares no code with the program: dates
instead of day numbers, dictionaries instead of arrays, and a search over all packings.
"""

from collections import Counter, defaultdict
from datetime import timedelta
from math import floor

from app.core.words import CountedFrom, Hardiness, Light, Place
from tests.core.gardens import DAYS_AT

GRACE = {
    Hardiness.VERY_HARDY: 28,
    Hardiness.HARDY: 14,
    Hardiness.HALF_HARDY: 7,
    Hardiness.TENDER: 0,
    Hardiness.VERY_TENDER: -7,
}
COLUMNS = (
    "sow_from",
    "sow_best",
    "sow_by",
    "sow_on",
    "last_chance",
    "emerges",
    "thin",
    "pot_on",
    "harden",
    "plant_out",
)


def in_days(weeks):
    return timedelta(days=floor(7 * weeks + 0.5))


def row_of(garden, index):
    """Return one sowing as a dictionary."""
    names = ("crop", "plants", "placed", "days_to_maturity", "plant_out", "sow_on", "light")
    row = {name: int(getattr(garden.sowings, name)[index]) for name in names}
    return row | {"risk": float(garden.sowings.risk[index])}


def places_of(garden, row):
    """Return the place to emergence and the place of light."""
    card = garden.cards[row["crop"]]
    light = Place.LAMP if card.light is Light.LAMP else Place.WINDOW
    if row["light"] >= 0:
        light = list(Place)[row["light"]]
    has_heat = any(shelf.place is Place.HEAT for shelf in garden.shelves)
    return (Place.HEAT if card.heat and has_heat else light), light


def emergence_of(garden, row):
    """Return days to emergence on the bench, and how much more that is than at the card's temperature."""
    card = garden.cards[row["crop"]]
    usual = DAYS_AT.get(card.germ_temp_c) if card.emergence else None
    if usual is None:
        return card.days_to_emerge, 0
    first, _ = places_of(garden, row)
    temps = [s.bench_temp_c for s in garden.shelves if s.place is first and s.bench_temp_c is not None]
    there = DAYS_AT.get(min(temps)) if temps else usual
    return (usual, 0) if there is None else (there, there - usual)


def maturity_of(card, row, counted_from):
    days = timedelta(days=row["days_to_maturity"] or card.days_to_maturity)
    indoors = in_days(card.indoor_weeks_min or 0)
    if card.counted_from is not counted_from:
        days += indoors if counted_from is CountedFrom.SEED else -indoors
    return days + timedelta(days=card.harvest_days)


def start_of(drawn, row, weeks):
    """Return the first day outside."""
    card, start = drawn.garden.cards[row["crop"]], drawn.spring[0.5] + in_days(weeks)
    if card.hardiness in (Hardiness.TENDER, Hardiness.VERY_TENDER):
        return max(start, drawn.spring[row["risk"] or drawn.garden.settings.risk])
    return start


def dates_of(drawn, index):
    """Return the dates of a sowing by name, None for those it has not."""
    garden = drawn.garden
    row = row_of(garden, index)
    card = garden.cards[row["crop"]]
    end = drawn.autumn[garden.settings.autumn_risk] + timedelta(days=GRACE[card.hardiness])
    if card.start_container is None:
        last = end - maturity_of(card, row, CountedFrom.SEED)
        first = start_of(drawn, row, card.direct_sow_weeks)
        return dict.fromkeys(COLUMNS) | {"sow_from": first, "sow_best": first, "sow_by": last, "last_chance": last}
    emerge, later = emergence_of(garden, row)
    delay = timedelta(days=later)
    plant_out = start_of(drawn, row, card.plant_out_weeks)
    while plant_out.weekday() != garden.settings.hand_out_weekday:
        plant_out += timedelta(days=1)
    if row["plant_out"]:
        plant_out = plant_out.fromordinal(row["plant_out"])
    window = window_of(card, plant_out, delay, end - maturity_of(card, row, CountedFrom.TRANSPLANT))
    sow_on = day_of_sowing(window, garden.settings.sowing_weekday)
    if row["sow_on"]:
        sow_on = plant_out.fromordinal(row["sow_on"])
    return window | {"sow_on": sow_on, "plant_out": plant_out} | growth_of(card, sow_on, emerge, plant_out)


def window_of(card, plant_out, delay, latest_plant_out):
    last = latest_plant_out - in_days(card.indoor_weeks_min) - delay
    first = plant_out - in_days(card.indoor_weeks_max) - delay
    by = plant_out - in_days(card.indoor_weeks_min) - delay
    best = first + timedelta(days=(by - first).days // 2)
    if last >= first:
        by, best = min(by, last), min(best, last)
    return {"sow_from": first, "sow_best": best, "sow_by": by, "last_chance": last}


def day_of_sowing(window, weekday):
    days = [window["sow_from"] + timedelta(days=n) for n in range((window["sow_by"] - window["sow_from"]).days + 1)]
    allowed = [day for day in days if day.weekday() == weekday]
    return min(allowed, key=lambda day: (abs(day - window["sow_best"]), day), default=window["sow_best"])


def growth_of(card, sow_on, emerge, plant_out):
    up = sow_on + timedelta(days=emerge)
    harden = max(plant_out - timedelta(days=card.hardening_days), up)
    pot_on = None if card.pot_on_container is None else up + timedelta(days=card.pot_on_after_days)
    return {
        "emerges": up,
        "thin": up + timedelta(days=7) if card.seeds_per_cell > card.plants_per_cell else None,
        "pot_on": pot_on if pot_on is not None and pot_on < harden else None,
        "harden": harden,
    }


def fewest_trays(sizes, capacity):
    """Return the smallest number of trays: whole ones of large lots, then every way to put the remainders."""
    return sum(size // capacity for size in sizes) + fewest_bins(
        [s % capacity for s in sizes if s % capacity], capacity
    )


def fewest_bins(sizes, capacity):
    best = len(sizes)

    def place(left, room):
        nonlocal best
        if len(room) >= best:
            return
        if not left:
            best = len(room)
            return
        for n, free in enumerate(room):
            if left[0] <= free:
                place(left[1:], [*room[:n], free - left[0], *room[n + 1 :]])
        place(left[1:], [*room, capacity - left[0]])

    place(sorted(sizes, reverse=True), [])
    return best


def standing_by_day(drawn, cells, pots):
    """Return how many trays stand in each place on each day, from the cells and pots of every sowing."""
    garden, sown, potted = drawn.garden, defaultdict(list), defaultdict(list)
    for index in range(len(garden.sowings)):
        dates, row = dates_of(drawn, index), row_of(garden, index)
        card = garden.cards[row["crop"]]
        if card.start_container is None or not cells[index]:
            continue
        first, light = places_of(garden, row)
        leaves = dates["pot_on"] or dates["harden"]
        days = (dates["emerges"] - dates["sow_on"]).days
        speed = "fast" if days <= 5 else "middling" if days <= 10 else "slow"
        key = (card.start_container, dates["sow_on"], first, light, speed, dates["pot_on"] is not None)
        sown[*key, leaves.isocalendar()[:2]].append((dates, cells[index]))
        if dates["pot_on"]:
            weeks = dates["pot_on"].isocalendar()[:2], dates["harden"].isocalendar()[:2]
            potted[card.pot_on_container, light, *weeks].append((dates, pots[index]))
    standing = Counter()
    for (box, _, first, light, _, moves_to_pots, _), lots in sown.items():
        count_sown(standing, lots, garden.containers[box].cells_per_tray, first, light, moves_to_pots=moves_to_pots)
    for (box, light, _, _), lots in potted.items():
        count_potted(standing, lots, garden.containers[box].cells_per_tray, light)
    if not any(shelf.place is Place.HARDENING for shelf in garden.shelves):
        standing = Counter({key: n for key, n in standing.items() if key[0] is not Place.HARDENING})
    return standing


def count_sown(standing, lots, capacity, first, light, *, moves_to_pots):
    trays = fewest_trays([cells for _, cells in lots], capacity)
    up = max(dates["emerges"] for dates, _ in lots)
    left = max(dates["pot_on"] or dates["harden"] for dates, _ in lots)
    stand(standing, first, min(dates["sow_on"] for dates, _ in lots), up, trays)
    stand(standing, light, up, left, trays)
    if not moves_to_pots:
        stand(standing, Place.HARDENING, left, max(dates["plant_out"] for dates, _ in lots), trays)


def count_potted(standing, lots, capacity, light):
    trays = fewest_trays([pots for _, pots in lots], capacity)
    left = max(dates["harden"] for dates, _ in lots)
    stand(standing, light, min(dates["pot_on"] for dates, _ in lots), left, trays)
    stand(standing, Place.HARDENING, left, max(dates["plant_out"] for dates, _ in lots), trays)


def stand(standing, place, begin, end, trays):
    for n in range((end - begin).days):
        standing[place, begin + timedelta(days=n)] += trays


def ledger_of(standing):
    """Return (Monday of the week, trays on its fullest day in each place) from the first week to the last in use."""
    if not standing:
        return []
    monday, last = min(day for _, day in standing), max(day for _, day in standing)
    monday -= timedelta(days=monday.weekday())
    weeks = []
    while monday <= last:
        days = [monday + timedelta(days=n) for n in range(7)]
        weeks.append((monday, [max(standing[place, day] for day in days) for place in Place]))
        monday += timedelta(days=7)
    return weeks
