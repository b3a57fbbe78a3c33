"""What every page knows: the settings, the day, and the garden."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from flask import Flask, current_app, g

from app import clock
from app.core.words import Units
from app.extensions import db
from app.language import N_, _
from app.services.garden import get_facts
from app.settings import Settings
from app.web.access import Who, current_person, is_bench, is_coordinator, may

# Endpoint and words of each page of the main menu, by what people come for: the day's work, the plan, what it goes by,
# what is handed round, and the garden as a whole. People see those that are open to them.
MENU = (
    (
        ("week.index", N_("This week")),
        ("log.several", N_("Log")),
        ("trays.index", N_("Trays")),
        ("rounds.index", N_("Care rounds")),
    ),
    (
        ("ledger.index", N_("Shelf ledger")),
        ("levelling.index", N_("Make it fit")),
        ("sowings.index", N_("Sowings")),
        ("wishes.index", N_("Wishes")),
        ("growers.index", N_("Growers")),
        ("spares.index", N_("Spare plants")),
    ),
    (("crops.index", N_("Crop cards")), ("season.index", N_("Season fit")), ("supplies.index", N_("Supplies"))),
    (("sheets.index", N_("Weekly sheet")), ("send_words.index", N_("Words to send")), ("feeds.index", N_("Calendar"))),
    (("review.index", N_("Looking back")), ("setup.index", N_("Set-up"))),
)
NO_MENU: tuple[tuple[str, str, bool], ...] = ()


@dataclass(frozen=True, kw_only=True)
class GardenFacts:
    """What every page says or needs of the garden; templates know it as `garden`.

    Attributes:
        name: Name of the garden.
        season: Growing year.
        southern: The growing year runs from July to June.
        units: Units in which figures are shown and read.
        language: Language of what many read, such as the sheet on the door.
        today: The day that is taken for today.
        today_fixed: Today is not the real day, and every page says so.
    """

    name: str
    season: int
    southern: bool
    units: Units
    language: str
    today: date
    today_fixed: bool


def current_settings() -> Settings:
    """Return the settings of the application that answers."""
    settings: Settings = current_app.config["SETTINGS"]
    return settings


def current_day() -> date:
    """Return the day that is taken for today."""
    return clock.today(current_settings())


def is_timed() -> bool:
    """Return whether times of the day go with the day that is taken for today: it is the real one."""
    return current_settings().today is None


def current_garden() -> GardenFacts | None:
    """Return the garden's facts, read once in each request; None before a garden is set up."""
    if "garden" not in g:
        g.garden = _load_garden()
    garden: GardenFacts | None = g.garden
    return garden


def init_app(app: Flask) -> None:
    """Offer the garden, the menu and the day to every template."""

    @app.context_processor
    def offer() -> dict[str, Any]:
        return {
            "garden": current_garden(),
            "menu": current_menu(),
            "person": current_person(),
            "is_coordinator": is_coordinator(),
            "is_bench": is_bench(),
        }


def current_menu() -> tuple[tuple[str, str, bool], ...]:
    """Return the entries of the menu that whoever sends the request may open, and whether each begins a group."""
    views = current_app.view_functions
    groups = ([entry for entry in group if may(getattr(views[entry[0]], "open_to", Who.EVERYONE))] for group in MENU)
    menu = tuple((endpoint, _(words), not at) for group in groups for at, (endpoint, words) in enumerate(group))
    return tuple((endpoint, words, begins and bool(at)) for at, (endpoint, words, begins) in enumerate(menu))


def _load_garden() -> GardenFacts | None:
    facts = get_facts(db.session)
    if facts is None:
        return None
    settings = current_settings()
    return GardenFacts(
        name=facts.name,
        season=facts.season,
        southern=facts.southern,
        units=facts.units,
        language=facts.language,
        today=clock.today(settings),
        today_fixed=settings.today is not None,
    )
