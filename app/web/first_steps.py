"""The first steps of a garden: what is done, what is next, and why."""

from dataclasses import dataclass

from app.core.words import FrostSource
from app.extensions import db
from app.sheets.words import count_words
from app.storage.queries.first_steps import Begun, find_begun

Ways = tuple[tuple[str, dict[str, str], str], ...]
DONE, NEXT, LATER, OPTIONAL = "done", "next", "later", "can wait"


@dataclass(frozen=True, kw_only=True)
class Step:
    """One of the first steps.

    Attributes:
        key: Its name in the page.
        title: What is done in it.
        why: What for.
        state: `done`, `next`, `later`, or `can wait`.
        told: What there is of it already.
        ways: Endpoint, its values and words of each way to do it.
    """

    key: str
    title: str
    why: str
    state: str
    told: str
    ways: Ways


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
    place: Ways = (("setup.index", {}, "Look it through"),) if begun.name else (("setup.new", {}, "Set up the garden"),)
    return (
        (
            "place",
            "Place and frost dates",
            (
                "Every date is counted from your last and first frost. Three answers are enough. Crop cards and "
                "containers come along with usual figures."
            ),
            (
                f"{begun.name}, season {begun.season}, with {count_words(begun.crops, 'crop card', 'crop cards')} and "
                f"{count_words(begun.containers, 'container', 'containers')}"
            ),
            (
                *place,
                *((("crops.index", {}, "Crop cards"), ("containers.index", {}, "Containers")) if begun.name else ()),
            ),
        ),
        (
            "shelves",
            "Shelves",
            (
                "Room is what runs out first. With width, depth and levels of each shelf, the ledger knows how many "
                "trays it holds."
            ),
            count_words(begun.shelves, "shelf", "shelves"),
            (("shelves.new", {}, "Add a shelf"), ("bring_in.index", {"table": "shelves"}, "From a spreadsheet")),
        ),
        (
            "growers",
            "Growers",
            "Who the plants are for. A name is enough; the garden itself may be one of them.",
            count_words(begun.growers, "grower", "growers"),
            (("growers.new", {}, "Add a grower"), ("bring_in.index", {"table": "growers"}, "From a spreadsheet")),
        ),
        (
            "sowings",
            "The first sowings",
            "Who wants how many plants of what. Days, trays, seeds and room follow from it.",
            count_words(begun.sowings, "sowing", "sowings"),
            (("sowings.new", {}, "Add a sowing"), ("bring_in.index", {"table": "sowings"}, "From a spreadsheet")),
        ),
        (
            "frost",
            "Better frost dates",
            (
                "Average dates are an even chance of frost. A published table, or a station’s daily record, tells how "
                "sure a date is."
            ),
            "a published table" if begun.frost_source is FrostSource.TABLE else "the station’s record",
            (("frost.paste", {}, "Paste a table"), ("frost.upload", {}, "Hand in a record")),
        ),
        (
            "seed",
            "Seed lots",
            (
                "How much of your seed comes up decides how many cells a sowing takes. Without them the legal minimum "
                "of each crop counts."
            ),
            count_words(begun.seed_lots, "seed lot", "seed lots"),
            (("seed_lots.new", {}, "Add a seed lot"), ("bring_in.index", {"table": "seed-lots"}, "From a spreadsheet")),
        ),
    )
