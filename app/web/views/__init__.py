"""One module of views for each noun; every blueprint stands in BLUEPRINTS."""

from flask import Blueprint

from app.web.views import containers, crops, growers, seed_lots, setup, shelves, sowings

BLUEPRINTS: tuple[Blueprint, ...] = (
    growers.bp,
    sowings.bp,
    crops.bp,
    setup.bp,
    shelves.bp,
    containers.bp,
    seed_lots.bp,
)
