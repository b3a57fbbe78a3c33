"""The demo garden as it stands on its own day: trays dealt, sown as far as the season has come, and looked after."""

from collections.abc import Iterable
from datetime import date, timedelta
from random import Random

from app.core.calendar import NO_DAY
from app.core.words import Cause, CellState, LogKind, Tick
from app.core.work.expected import chance_up
from app.services.deal import accept_deal, season_days
from app.services.filled import mark_filled
from app.services.folder import load_demo
from app.services.log import NewEntry, add_entries, tick
from app.services.plan import get_plan
from app.services.rounds import BY_HAND_DAYS, finish_round, propose_rounds, share_out_rounds
from app.services.seed_tests import SeedTestValues, add_seed_test
from app.services.spares import Gift, ask_for_plants, give_plants, offer_plants
from app.storage import Session
from app.storage.numbers import forget_numbers
from app.storage.queries.days import find_today, set_today
from app.storage.queries.rounds import list_rounds
from app.storage.queries.seed_lots import list_seed_lot_choices
from app.storage.queries.trays import list_cells_of_sowing, list_trays_filled

# The day on which `make demo` shows it, whatever day it is.
DEMO_DAY = date(2027, 4, 10)
# What became of its seedlings is invented: drawn from this number, the same every time.
_SEED = 2027
_DAYS_LATE = (-1, 0, 0, 0, 1, 1, 2, 3)
_NOBODY_LOOKED = 0.15  # of the sowings that should be up, so many have no entry yet
_LOSSES = (Cause.DAMPING_OFF, Cause.DRIED_OUT, Cause.MICE)
_TESTED = {"L04": (date(2027, 2, 6), 20, 11, 10), "L03": (date(2027, 2, 6), 20, 18, 9)}  # begun, tried, up, days
_THINNED_AFTER = timedelta(days=8)
_ROUNDS_FROM = timedelta(days=9)
_SPARE_DAY = DEMO_DAY - timedelta(days=2)
_OFFERS, _LEAST_SPARE, _MOST_SPARE = 3, 2, 6
_GIVES, _ASKS = "More came up than I have room for", "Few of mine came up"


def set_up_demo(session: Session, *, replace: bool = False) -> dict[str, int]:
    """Load the demo garden, deal its season, and write down what its own day has behind it. All of it is invented.

    Args:
        session: Its transaction takes it all.
        replace: Whether a garden that is there goes.

    Returns:
        The number of rows from each file.

    Raises:
        NotEmptyError: There is a garden, and it is not to be replaced.
    """
    counts = load_demo(session, replace=replace)
    forget_numbers(session)  # the demo is the same every time
    before = find_today(session)
    set_today(session, None)
    days = season_days(get_plan(session))
    if days is None:  # never: the demo garden sows
        return counts
    first, last = days
    accept_deal(session, first=first, last=last, today=first)
    numbers_of: dict[date, list[int]] = {}
    for tray in list_trays_filled(session, first, DEMO_DAY):
        if tray.sow_on < DEMO_DAY:
            numbers_of.setdefault(tray.sow_on, []).append(tray.number)
    for day, numbers in sorted(numbers_of.items()):
        mark_filled(session, numbers, day, today=DEMO_DAY)
    set_today(session, DEMO_DAY)
    _test_seed(session)
    add_entries(session, _seedlings(session), today=DEMO_DAY, account_id=None)
    accept_deal(session, first=first, last=last, today=DEMO_DAY)
    _go_round(session)
    _share_spare_plants(session)
    set_today(session, before)
    return counts


def _test_seed(session: Session) -> None:
    ids = {lot.name: lot.id for lot in list_seed_lot_choices(session)}
    for name, (begun, tried, up, days) in _TESTED.items():
        values = SeedTestValues(seed_lot_id=ids[name], date=begun, tried=tried, up=up, days=days)
        add_seed_test(session, values, today=DEMO_DAY)


def _seedlings(session: Session) -> Iterable[NewEntry]:
    """Return what came up, some of it late, and what was lost of it; tick off that its cover came off."""
    plan, chance = get_plan(session), Random(_SEED)  # noqa: S311 - nothing secret
    entries: list[NewEntry] = []
    losses = list(_LOSSES)
    for index, sowing_id in enumerate(plan.garden.sowings.ids.tolist()):
        if plan.progress.sown_on[index] == NO_DAY:
            continue
        day = date.fromordinal(int(plan.due.emerges[index])) + timedelta(days=chance.choice(_DAYS_LATE))
        if day >= DEMO_DAY or chance.random() < _NOBODY_LOOKED:
            continue
        by_tray: dict[int, list[tuple[int, int]]] = {}
        for cell, tray in list_cells_of_sowing(session, sowing_id):
            if cell.state is CellState.SOWN and chance.random() < chance_up(plan, index):
                by_tray.setdefault(tray.number, []).append((cell.row_number, cell.column_number))
        who = int(plan.garden.growers[int(plan.garden.sowings.grower[index])].id)
        for number, cells in by_tray.items():
            up = NewEntry(
                sowing_id=sowing_id, kind=LogKind.UP, date=day, count=len(cells), tray=number, cells=tuple(cells),
                grower_id=who,
            )  # fmt: skip
            entries.append(up)
            later = day + timedelta(days=4)
            if losses and len(cells) > len(_LOSSES) and later < DEMO_DAY:
                entries.append(
                    NewEntry(
                        sowing_id=sowing_id,
                        kind=LogKind.LOST,
                        date=later,
                        count=2,
                        tray=number,
                        cells=tuple(cells[:2]),
                        cause=losses.pop(),
                        grower_id=who,
                    )
                )
        if by_tray:
            tick(session, sowing_id, Tick.UNCOVER, day, None)
        card = plan.garden.cards[int(plan.garden.sowings.crop[index])]
        thinned_on = day + _THINNED_AFTER
        if by_tray and card.seeds_per_cell > card.plants_per_cell and thinned_on < DEMO_DAY:
            count = sum(map(len, by_tray.values())) * card.plants_per_cell
            entries.append(
                NewEntry(
                    sowing_id=sowing_id, kind=LogKind.THINNED, date=thinned_on, count=count, grower_id=who
                )
            )  # fmt: skip
    return entries


def _share_spare_plants(session: Session) -> None:
    """Let those who have most plants too many give some away, and others of the same crop ask; one gift is made."""
    plan = get_plan(session)
    sowings, spare = plan.garden.sowings, plan.living - plan.plants
    offers: dict[int, int] = {}
    for index in sorted(range(len(sowings)), key=lambda index: (-int(spare[index]), index)):
        crop = int(sowings.crop[index])
        if len(offers) < _OFFERS and spare[index] >= _LEAST_SPARE and crop not in offers:
            plants = min(int(spare[index]), _MOST_SPARE)
            offers[crop] = offer_plants(session, int(sowings.ids[index]), plants, _GIVES, today=_SPARE_DAY).id
            others = [
                at
                for at in range(len(sowings))
                if sowings.crop[at] == crop and sowings.grower[at] != sowings.grower[index]
            ]
            needs = min(others, key=lambda at: (int(plan.living[at]), at), default=None)
            if needs is None:
                continue
            who = plan.garden.growers[int(sowings.grower[needs])].id
            request = ask_for_plants(session, who, plan.garden.cards[crop].id, _LEAST_SPARE, _ASKS, today=_SPARE_DAY)
            if len(offers) == 1:
                gift = Gift(offer_id=offers[crop], request_id=request.id, plants=_LEAST_SPARE)
                give_plants(session, gift, today=_SPARE_DAY, account_id=None)


def _go_round(session: Session) -> None:
    """Share out the rounds from some days before on; those of days that are over are done."""
    begin = DEMO_DAY - _ROUNDS_FROM
    shared = propose_rounds(session, today=begin)
    share_out_rounds(session, today=begin, by_hand_days=BY_HAND_DAYS, without=(), mark=shared.mark)
    for row in list_rounds(session):
        if row.day < DEMO_DAY:
            finish_round(session, row.id, done_on=row.day, done_by_id=row.grower_id, note=None, today=DEMO_DAY)
