"""One module of views for each noun; every blueprint stands in BLUEPRINTS."""

from flask import Blueprint

BLUEPRINTS: tuple[Blueprint, ...] = ()
