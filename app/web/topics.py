"""The help line of each page: what to know there, its place in the guides, and the caution that belongs to it."""

from dataclasses import dataclass
from typing import NamedTuple

from flask import Flask, request, url_for

from app.language import N_, _, language
from app.web.access import is_coordinator
from app.web.guides import NoGuideError, read_guide
from app.web.trails import ABOVE

CAUTIONS = "cautions"
LAMPS = "beside-lamps-heated-benches-and-their-shelves"
MIX = "beside-the-mix"
CLEAN = "beside-containers-clean-pots-and-damping-off"
COVERS = "beside-covers-and-indoor-shelves-mould"
BITTER = "beside-seed-lots-bitter-cucurbits"
TREATED = "beside-seed-lots-treated-seed"
LIFTING = "beside-shelves-and-moving-jobs-lifting"
AVERAGES = "beside-frost-dates-averages"


class Topic(NamedTuple):
    """What helps on a page and on those below it.

    Attributes:
        words: One thing to know.
        guide: Page and heading of Help that tell more.
        member: The same for who is no coordinator; None where it is the same.
        caution: Heading of the cautions.
    """

    words: str
    guide: str
    member: str | None = None
    caution: str | None = None


TOPICS = {
    "week.index": Topic(
        N_("Tick what was done as the list has it. Another count, or a loss, goes into the log."),
        "coordinator#this-week",
        "member#see-what-is-due",
        COVERS,
    ),
    "log.several": Topic(N_("Nothing is removed here: a mistake is corrected or taken back."), "log#many-at-once"),
    "log.tray": Topic(N_("Take the number that you count, also where another is expected."), "log#one-tray"),
    "log.correct": Topic(N_("The entry as it was stays readable beside the new one."), "log#mistakes"),
    "ledger.index": Topic(
        N_("A week is over-full where a place needs more positions than it has. Look two weeks ahead."),
        "coordinator#shelf-ledger",
        "glossary#over-full",
        LAMPS,
    ),
    "levelling.index": Topic(
        N_("Nothing changes until you accept it, and what you accepted can be taken back."),
        "coordinator#make-it-fit",
    ),
    "growers.index": Topic(
        N_("Somebody with sowings is not removed; remove the sowings first."),
        "coordinator#growers-and-sowings",
        "member#see-what-is-due",
    ),
    "sowings.index": Topic(
        N_("What a wish means for dates and cells is shown before it is saved."),
        "coordinator#growers-and-sowings",
        "member#wish-for-plants",
    ),
    "sowings.edit": Topic(
        N_("What a change means for dates and cells is shown before it is saved."),
        "coordinator#growers-and-sowings",
        "member#wish-for-plants",
    ),
    "sowings.day": Topic(
        N_("Look at what it does to the shelves before you save it."), "coordinator#growers-and-sowings"
    ),
    "wishes.index": Topic(
        N_("Over-full weeks are no fault yet: a plan that fits is looked for later."), "coordinator#wishes"
    ),
    "trays.index": Topic(
        N_("The number on a label opens its tray."),
        "coordinator#trays",
        "member#log-what-you-did",
        LIFTING,
    ),
    "deal.index": Topic(N_("What is sown or pinned stays where it is."), "coordinator#trays", caution=LIFTING),
    "labels.index": Topic(
        N_("Print the test frame once for each printer, then labels at actual size."), "coordinator#labels"
    ),
    "spares.index": Topic(
        N_("Say where seed of squash, cucumber and melon came from."),
        "coordinator#spare-plants",
        "member#share-what-is-left",
        BITTER,
    ),
    "rounds.index": Topic(
        N_("Offer a round early if you cannot come, so that somebody can take it."),
        "coordinator#care-rounds",
        "member#water-when-it-is-your-turn",
        LAMPS,
    ),
    "crops.index": Topic(N_("A change on a card shows in every date at once."), "coordinator#crop-cards"),
    "seed_lots.index": Topic(
        N_("Poor seed gets more cells; each count that is logged makes that surer."),
        "coordinator#seed-lots",
        caution=TREATED,
    ),
    "containers.index": Topic(
        N_("Dirty pots are how damping off comes back."),
        "glossary#container",
        caution=CLEAN,
    ),
    "season.index": Topic(
        N_("What is too long here may still ripen from an earlier start or by an earlier variety."),
        "coordinator#season-fit-and-frost",
    ),
    "feeds.index": Topic(N_("An address works only where the program can be reached."), "reminders#calendar"),
    "send_words.index": Topic(N_("Nothing is sent by itself from here: copy it."), "reminders#words-to-send"),
    "supplies.index": Topic(
        N_("Order once, and a little more than it says."), "coordinator#supplies-and-light", caution=MIX
    ),
    "light.index": Topic(
        N_("Lamps too far away give long, pale seedlings."),
        "coordinator#supplies-and-light",
        caution=LAMPS,
    ),
    "sheets.index": Topic(
        N_("Print at actual size, not fitted to the page."), "coordinator#sheets-to-print", caution=MIX
    ),
    "review.index": Topic(
        N_("What nobody has logged counts as not done."),
        "season-end#looking-back",
        "season-end#looking-back",
    ),
    "setup.index": Topic(N_("Look at This week after a change: what is due may have moved."), "coordinator#set-up"),
    "setup.new": Topic(N_("All of it can be changed later."), "coordinator#before-the-first-season"),
    "frost.index": Topic(
        N_("An average date is an even chance, not a safe one."),
        "coordinator#season-fit-and-frost",
        caution=AVERAGES,
    ),
    "shelves.index": Topic(
        N_("Count what fits on a level with the trays you have."), "glossary#position", caution=LAMPS
    ),
    "people.index": Topic(N_("A slip is like a key: hand it over yourself."), "people#coming-in"),
    "people.erase_person": Topic(N_("It cannot be undone, but from a backup."), "people#leaving"),
    "history.index": Topic(N_("What was before stands beside what came after."), "people#history"),
    "batches.index": Topic(
        N_("What was brought in together can be undone together."), "first-hour#changed-together-undone-together"
    ),
    "first_steps.index": Topic(N_("Each step can be changed later."), "first-hour#first-steps"),
    "bring_in.index": Topic(
        N_("Nothing is saved before you have seen how it is understood."), "first-hour#from-a-spreadsheet"
    ),
    "mail.index": Topic(N_("A letter may be missing, but never comes twice."), "reminders#weekly-letters"),
    "backups.index": Topic(
        N_("Keep a second one elsewhere: a broken disk takes both."), "backups#on-a-stick-or-another-disk"
    ),
    "next_season.index": Topic(N_("The old season goes into a backup first."), "season-end#beginning-the-next-one"),
    "connect.index": Topic(
        N_("A phone that says “no internet” on this Wi-Fi is right: let it stay."),
        "shed#phones-on-the-wi-fi",
    ),
    "account.index": Topic(
        N_("Three or four words make a passphrase that lasts."), "people#coming-in", "member#come-in"
    ),
    "bench.index": Topic(N_("A PIN lets you log here and opens nothing else."), "people#bench-tablet"),
    "sign_in.index": Topic(N_("Passphrase lost? A coordinator makes a new slip."), "member#come-in"),
    "sign_in.sign_out": Topic(N_("On a shared device, sign out when you go."), "people#coming-in", "member#come-in"),
    "language.index": Topic(N_("Everybody reads in their own language."), "people#language", "member#come-in"),
    "sign_in.slip": Topic(N_("The link works once."), "member#come-in"),
}


@dataclass(frozen=True)
class Help:
    """The help line of a page.

    Attributes:
        words: One thing to know.
        address: Where the guides tell more.
        section: Their heading there.
        caution: Heading of the caution that belongs here; empty for none.
        caution_address: Where it stands.
    """

    words: str
    address: str
    section: str
    caution: str
    caution_address: str


def init_app(app: Flask) -> None:
    """Let the base template write the help line."""
    app.add_template_global(help_line)


def topic_of(endpoint: str | None) -> Topic | None:
    """Return what helps on a page: its own topic, or that of the nearest page above it."""
    while endpoint is not None:
        if endpoint in TOPICS:
            return TOPICS[endpoint]
        endpoint = ABOVE.get(endpoint)
    return None


def help_line() -> Help | None:
    """Return the help line of the page of this request; None for none, or where the guides are not installed."""
    topic = topic_of(request.endpoint)
    if topic is None:
        return None
    page, _hash, anchor = (topic.guide if is_coordinator() or topic.member is None else topic.member).partition("#")
    try:
        section = read_guide(page, language()).anchors[anchor]
        caution = read_guide(CAUTIONS, language()).anchors[topic.caution] if topic.caution else ""
    except NoGuideError:
        return None
    return Help(
        words=_(topic.words),
        address=url_for("guide.show", page=page, _anchor=anchor),
        section=section,
        caution=caution,
        caution_address=url_for("guide.show", page=CAUTIONS, _anchor=topic.caution) if topic.caution else "",
    )
