"""The first steps of a garden: what is done, what is next, and why."""

from dataclasses import dataclass

from app.core.words import FrostSource
from app.extensions import db
from app.language import _, pgettext
from app.sheets.words import count_words
from app.storage.queries.first_steps import Begun, find_begun

Ways = tuple[tuple[str, dict[str, str], str], ...]
DONE, NEXT, LATER, OPTIONAL = "done", "next", "later", "can-wait"


@dataclass(frozen=True, kw_only=True)
class Step:
    """One of the first steps.

    Attributes:
        key: Its name in the page.
        title: What is done in it.
        why: What for.
        state: `done`, `next`, `later`, or `can-wait`.
        told: What there is of it already.
        ways: Endpoint, its values and words of each way to do it.
    """

    key: str
    title: str
    why: str
    state: str
    told: str
    ways: Ways

    @property
    def state_said(self) -> str:
        """Return the state in the language that is being spoken."""
        return {
            DONE: pgettext("a first step", "done"),
            NEXT: pgettext("a first step", "next"),
            LATER: pgettext("a first step", "later"),
            OPTIONAL: pgettext("a first step", "can wait"),
        }[self.state]


@dataclass(frozen=True, kw_only=True)
class StepsPage:
    """The first steps as their page shows them.

    Attributes:
        begun: What there is.
        steps: The steps in their order.
        left: Steps that are needed and not done.
        is_first: Whether they stand in place of the week, because nothing can be done in one yet.
    """

    begun: Begun
    steps: tuple[Step, ...]
    left: int
    is_first: bool


def find_steps() -> StepsPage:
    """Return the first steps of the garden as it is."""
    begun = find_begun(db.session)
    has_garden = begun.name is not None
    # Done, and whether it is needed: a garden without it has no plan.
    known: tuple[tuple[bool, bool], ...] = (
        (has_garden, True),
        (begun.shelves > 0, True),
        (begun.growers > 0, True),
        (begun.sowings > 0, True),
        (begun.frost_source not in {None, FrostSource.DATES}, False),
        (begun.seed_lots > 0, False),
    )
    following = next((at for at, (done, needed) in enumerate(known) if needed and not done), None)
    steps = tuple(
        Step(
            key=key,
            title=title,
            why=why,
            state=DONE if done else NEXT if at == following else LATER if needed else OPTIONAL,
            told=told if done else "",
            ways=ways if has_garden or at == 0 else (),
        )
        for at, ((done, needed), (key, title, why, told, ways)) in enumerate(zip(known, _texts(begun), strict=True))
    )
    left = sum(needed and not done for done, needed in known)
    return StepsPage(
        begun=begun,
        steps=steps,
        left=left,
        is_first=not (has_garden and begun.is_hidden) and not begun.sowings and not begun.drafts,
    )


def _texts(
    begun: Begun,
) -> tuple[tuple[str, str, str, str, Ways], ...]:
    """Return key, title, reason, what is there, and the ways of each step."""
    place: Ways = (
        (("setup.index", {}, _("Look it through")),) if begun.name else (("setup.new", {}, _("Set up the garden")),)
    )
    return (
        (
            "place",
            _("Place and frost dates"),
            _(
                "Every date is counted from your last and first frost. Three answers are enough. Crop cards and "
                "containers come along with usual figures."
            ),
            _(
                "%(name)s, season %(season)s, with %(crops)s and %(containers)s",
                name=begun.name,
                season=begun.season,
                crops=count_words(begun.crops, "crop card", "crop cards"),
                containers=count_words(begun.containers, "container", "containers"),
            ),
            (
                *place,
                *(
                    (("crops.index", {}, _("Crop cards")), ("containers.index", {}, _("Containers")))
                    if begun.name
                    else ()
                ),
            ),
        ),
        (
            "shelves",
            _("Shelves"),
            _(
                "Room is what runs out first. With width, depth and levels of each shelf, the ledger knows how many "
                "trays it holds."
            ),
            count_words(begun.shelves, "shelf", "shelves"),
            (("shelves.new", {}, _("Add a shelf")), ("bring_in.index", {"table": "shelves"}, _("From a spreadsheet"))),
        ),
        (
            "growers",
            _("Growers"),
            _("Who the plants are for. A name is enough; the garden itself may be one of them."),
            count_words(begun.growers, "grower", "growers"),
            (("growers.new", {}, _("Add a grower")), ("bring_in.index", {"table": "growers"}, _("From a spreadsheet"))),
        ),
        (
            "sowings",
            _("The first sowings"),
            _("Who wants how many plants of what. Days, trays, seeds and room follow from it."),
            count_words(begun.sowings, "sowing", "sowings"),
            (("sowings.new", {}, _("Add a sowing")), ("bring_in.index", {"table": "sowings"}, _("From a spreadsheet"))),
        ),
        (
            "frost",
            _("Better frost dates"),
            _(
                "Average dates are an even chance of frost. A published table, or a station’s daily record, tells how "
                "sure a date is."
            ),
            _("a published table") if begun.frost_source is FrostSource.TABLE else _("the station’s record"),
            (("frost.paste", {}, _("Paste a table")), ("frost.upload", {}, _("Hand in a record"))),
        ),
        (
            "seed",
            _("Seed lots"),
            _(
                "How much of your seed comes up decides how many cells a sowing takes. Without them the legal minimum "
                "of each crop counts."
            ),
            count_words(begun.seed_lots, "seed lot", "seed lots"),
            (
                ("seed_lots.new", {}, _("Add a seed lot")),
                ("bring_in.index", {"table": "seed-lots"}, _("From a spreadsheet")),
            ),
        ),
    )
