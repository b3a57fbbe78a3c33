"""Words to send: texts about a week, to be copied into a messenger or a letter."""

import time
from dataclasses import dataclass
from datetime import date

from flask import Blueprint, render_template, request, session, url_for
from flask.typing import ResponseReturnValue

from app.core.calendar import week_start
from app.core.work.work import work_of
from app.extensions import db
from app.language import _, speaking
from app.services.plan import get_plan
from app.sheets.backup_words import moment_words
from app.sheets.send_words import Words, words_of_garden, words_of_people, words_of_rounds, words_since
from app.storage.queries.feeds import list_rounds_of
from app.web.access import Who, open_to
from app.web.context import current_day
from app.web.readers import language_of
from app.web.weeks import read_week, week_name

SEEN, BEFORE = "words_seen", "words_before"  # in the browser's session, when its reader looked [s since 1970]
VISIT_S = 3600.0  # looks with less between them are one visit

bp = Blueprint("send_words", __name__, url_prefix="/words")


@dataclass(frozen=True, kw_only=True)
class WordsPage:
    """The texts of a week.

    Attributes:
        monday: First day of the week.
        is_now: Whether today lies in the week.
        garden: For the chat of all.
        since: When its reader was here before, in words; empty where they never were on this device.
        news: What was written down since then.
        rounds: For each care round.
        people: For each person who has something to do.
        previous: Address of the week before.
        next: Address of the week after.
        present: Address of the week of today.
    """

    monday: date
    is_now: bool
    garden: Words
    since: str
    news: Words
    rounds: list[Words]
    people: list[Words]
    previous: str
    next: str
    present: str


@bp.get("")
@open_to(Who.COORDINATORS)
def index() -> ResponseReturnValue:
    """Show the texts of a week."""
    plan, today = get_plan(db.session), current_day()
    monday = read_week(request.args.get("week"), plan, today)
    rounds, work = list_rounds_of(db.session), work_of(plan)
    since = last_here()
    with speaking(language_of(None)):
        garden, said = words_of_garden(plan, monday, work), "" if since is None else words_since(plan, since)
    page = WordsPage(
        monday=monday,
        is_now=week_start(today) == monday,
        garden=Words(key="garden", head=_("For everybody"), text=garden, language=language_of(None)),
        since="" if since is None else moment_words(since),
        news=Words(key="news", head=_("What was written down"), text=said, language=language_of(None)),
        rounds=words_of_rounds(plan, monday, rounds, language_of),
        people=words_of_people(plan, monday, work, rounds, language_of),
        previous=url_for("send_words.index", week=week_name(monday, -1)),
        next=url_for("send_words.index", week=week_name(monday, 1)),
        present=url_for("send_words.index"),
    )
    return render_template("words/index.html", page=page)


def last_here() -> float | None:
    """Return when the visit before this one was, on this device, and note this one; None for the first."""
    now, seen = time.time(), session.get(SEEN)
    if isinstance(seen, float) and now - seen > VISIT_S:
        session[BEFORE] = seen
    session[SEEN] = now
    before = session.get(BEFORE)
    return before if isinstance(before, float) else None
