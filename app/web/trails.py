"""Where a page lies: the pages above it, which are its way back, and the entry of the menu that it belongs to."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from flask import Flask, current_app, request
from jinja2 import pass_context
from jinja2.runtime import Context

from app.language import N_, _
from app.sheets.names import name_words
from app.web.access import way


@dataclass(frozen=True)
class Step:
    """A page that others lie below.

    Attributes:
        words: What it is called there, with {} for the name of what it shows.
        name: Where templates have that name: paths such as `leaving.account.name`, the first that is there counts.
        values: The same for what stands in its address, where the address of the page below has it not.
    """

    words: str
    name: tuple[str, ...] = ()
    values: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


# Under each page those that lie below it. A page that stands nowhere here is one of the menu's, or stands alone.
BELOW: dict[str, tuple[str, ...]] = {
    "log.several": ("log.index", "log.sowing"),
    "log.sowing": ("log.correct",),
    "ledger.index": ("ledger.week",),
    "levelling.index": ("levelling.show", "levelling.choose", "levelling.some", "levelling.throw_away"),
    "growers.index": ("growers.new", "growers.show"),
    "growers.show": ("growers.edit", "growers.delete"),
    "sowings.index": ("sowings.new", "sowings.edit", "sowings.delete", "sowings.day", "wishes.last_season"),
    "trays.index": ("trays.show", "trays.start", "deal.index", "moves.index", "labels.index"),
    "trays.show": ("trays.delete", "trays.exchange", "trays.move", "log.tray"),
    "labels.index": ("labels.again", "printing.index", "printing.address"),
    "printing.index": (
        "printing.new_printer", "printing.edit_printer", "printing.delete_printer",
        "printing.new_stock", "printing.edit_stock", "printing.delete_stock",
    ),
    "spares.index": ("spares.offer", "spares.ask", "spares.give", "spares.withdraw_offer", "spares.withdraw_request"),
    "rounds.index": ("rounds.show", "rounds.give", "rounds.share"),
    "crops.index": ("crops.new", "crops.show", "seed_lots.index", "containers.index"),
    "crops.show": ("crops.edit", "crops.delete"),
    "seed_lots.index": ("seed_lots.new", "seed_lots.show"),
    "seed_lots.show": ("seed_lots.edit", "seed_lots.delete", "seed_lots.new_test", "seed_lots.delete_test"),
    "containers.index": ("containers.new", "containers.edit", "containers.delete"),
    "supplies.index": ("light.index",),
    "sheets.index": ("sheets.weekly", "sheets.sowing", "sheets.hand_out", "notice.index"),
    "setup.index": (
        "setup.edit_garden", "setup.edit_frost", "frost.index", "shelves.index", "people.index", "mail.index",
        "backups.index", "next_season.index", "connect.index", "first_steps.index", "bring_in.index",
    ),
    "frost.index": ("frost.upload", "frost.remove", "frost.paste"),
    "shelves.index": ("shelves.new", "shelves.show"),
    "shelves.show": ("shelves.edit", "shelves.delete"),
    "people.index": ("people.new", "people.edit", "people.slips", "people.visitors", "history.index"),
    "people.edit": ("people.erase_person", "people.clear_pin"),
    "history.index": ("batches.index",),
    "batches.index": ("batches.show",),
    "first_steps.index": ("first_steps.clear",),
    "mail.index": ("mail.server",),
    "backups.index": ("backups.settings",),
    "connect.index": ("connect.wifi",),
    "account.index": ("account.name", "account.email", "account.passphrase", "account.pin", "account.clear_pin"),
    "guide.index": ("guide.show",),
    "bench.index": ("bench.person", "bench.end"),
}  # fmt: skip
ABOVE = {below: above for above, pages in BELOW.items() for below in pages}
STEPS: dict[str, Step] = {
    "log.several": Step(N_("Log")),
    "log.sowing": Step(N_("Log of {}"), ("entry.sowing",), {"sowing_id": ("entry.sowing_id",)}),
    "ledger.index": Step(N_("Shelf ledger")),
    "levelling.index": Step(N_("Make it fit")),
    "growers.index": Step(N_("Growers")),
    "growers.show": Step("{}", ("grower.name",)),
    "sowings.index": Step(N_("Sowings")),
    "trays.index": Step(N_("Trays")),
    "trays.show": Step(N_("Tray {}"), ("tray.number",)),
    "labels.index": Step(N_("Labels")),
    "printing.index": Step(N_("Printers and label stock")),
    "spares.index": Step(N_("Spare plants")),
    "rounds.index": Step(N_("Care rounds")),
    "crops.index": Step(N_("Crop cards")),
    "crops.show": Step("{}", ("crop.name",)),
    "seed_lots.index": Step(N_("Seed lots")),
    "seed_lots.show": Step("{}", ("lot.name",), {"seed_lot_id": ("lot.id",)}),
    "containers.index": Step(N_("Containers")),
    "supplies.index": Step(N_("Supplies")),
    "sheets.index": Step(N_("Sheets to print")),
    "setup.index": Step(N_("Set-up")),
    "frost.index": Step(N_("Frost record")),
    "shelves.index": Step(N_("Shelves")),
    "shelves.show": Step("{}", ("shelf.name",)),
    "people.index": Step(N_("People")),
    "people.edit": Step("{}", ("leaving.account.name", "account.name")),
    "history.index": Step(N_("History")),
    "batches.index": Step(N_("Changed together")),
    "first_steps.index": Step(N_("First steps")),
    "mail.index": Step(N_("Weekly letters")),
    "backups.index": Step(N_("Backups")),
    "connect.index": Step(N_("Connect phones")),
    "account.index": Step(N_("My account")),
    "guide.index": Step(N_("Help")),
    "bench.index": Step(N_("Bench tablet")),
}


def init_app(app: Flask) -> None:
    """Let templates write the way back, and mark where in the menu a page is."""
    app.add_template_global(trail)
    app.add_template_global(root)


def root() -> str | None:
    """Return the endpoint that stands above all others over the page of this request; it may be its own."""
    endpoint = request.endpoint
    while endpoint in ABOVE:
        endpoint = ABOVE[endpoint]
    return endpoint


@pass_context
def trail(context: Context) -> list[tuple[str, str]]:
    """Return address and words of each page above this one that its reader may open, outermost first."""
    steps: list[tuple[str, str]] = []
    endpoint = ABOVE.get(request.endpoint or "")
    while endpoint is not None:
        step = STEPS[endpoint]
        name = _find(context, step.name)
        if endpoint == "crops.show" and name is not None:
            name = name_words(name)
        values = {
            argument: (request.view_args or {}).get(argument) or _find(context, step.values.get(argument, ()))
            for rule in current_app.url_map.iter_rules(endpoint)
            for argument in rule.arguments
        }
        if (name is not None or "{}" not in step.words) and None not in values.values():
            address = way(endpoint, **values)
            if address:
                steps.append((address, _(step.words).format(name)))
        endpoint = ABOVE.get(endpoint)
    return steps[::-1]


def _find(context: Context, paths: tuple[str, ...]) -> Any:  # noqa: ANN401 - whatever the template has
    """Return what the first of some paths leads to in what a template was given; None where none leads anywhere."""
    for path in paths:
        first, *rest = path.split(".")
        value = context.get(first)
        for part in rest:
            value = getattr(value, part, None)
        if value is not None:
            return value
    return None
