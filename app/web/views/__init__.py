"""One module of views for each noun; every blueprint stands in BLUEPRINTS."""

from flask import Blueprint

from app.web.views import (
    account,
    backups,
    bench,
    connect,
    containers,
    crops,
    deal,
    feeds,
    frost,
    grower_page,
    health,
    history,
    labels,
    ledger,
    levelling_choice,
    light,
    moves,
    notice,
    people,
    printing,
    season,
    seed_lots,
    setup,
    sheets,
    shelves,
    sign_in,
    sowing_day,
    supplies,
    tray_changes,
    week,
)

BLUEPRINTS: tuple[Blueprint, ...] = (
    week.bp,
    sign_in.bp,
    account.bp,
    people.bp,
    bench.bp,
    feeds.bp,
    history.bp,
    health.bp,
    connect.bp,
    ledger.bp,
    levelling_choice.bp,  # that of the levellings, with what becomes of an answer on it
    grower_page.bp,  # that of the growers, with a grower's own page on it
    sowing_day.bp,  # that of the sowings, with what is moved by hand on it
    tray_changes.bp,  # that of the trays, with what is changed by hand on it
    crops.bp,
    season.bp,
    setup.bp,
    frost.bp,
    backups.bp,
    shelves.bp,
    containers.bp,
    seed_lots.bp,
    supplies.bp,
    deal.bp,
    light.bp,
    sheets.bp,
    moves.bp,
    notice.bp,
    labels.bp,
    printing.bp,
)
