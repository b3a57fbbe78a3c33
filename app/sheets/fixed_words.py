"""The fixed words of the method as they are said to people: places, states, causes and their like.

They stand in files and in the database in English (app.core.words); here each is marked to be said in other languages.
"""

from enum import StrEnum

from app.language import N_, _

SAID = (
    # how much frost a crop bears
    N_("very hardy"), N_("hardy"), N_("half-hardy"), N_("tender"), N_("very tender"),
    # kinds of space
    N_("heat"), N_("lamp"), N_("window"), N_("hardening"),
    # what is in a cell, and what the log tells
    N_("empty"), N_("sown"), N_("up"), N_("thinned"), N_("potted on"), N_("lost"), N_("handed out"), N_("planted out"),
    N_("out"),
    # what plants were lost to
    N_("damping off"), N_("dried out"), N_("leggy"), N_("pests"), N_("mice"), N_("dropped"), N_("cold"), N_("unknown"),
    # levellings
    N_("running"), N_("finished"), N_("stopped"), N_("failed"), N_("accepted"), N_("taken back"), N_("thrown away"),
    # people and ways in
    N_("coordinator"), N_("member"), N_("page"), N_("bench"), N_("command"), N_("program"),
    # crop cards and seed lots
    N_("seed"), N_("transplant"), N_("easy"), N_("careful"), N_("resents"), N_("bought"), N_("saved"), N_("gift"),
    # the garden
    N_("metric"), N_("us"), N_("table"), N_("dates"), N_("station"), N_("normal"), N_("empirical"),
    N_("spring"), N_("autumn"), N_("mean"), N_("each"), N_("none"),
    N_("monday"), N_("tuesday"), N_("wednesday"), N_("thursday"), N_("friday"), N_("saturday"), N_("sunday"),
)  # fmt: skip


def say(word: StrEnum) -> str:
    """Return a fixed word in the language that is being spoken."""
    return _(word.value)
