"""Small gardens whose dates can be counted on a calendar, for tests of pages that show a plan.

Last frosts of tests/rows.py: 1 June in half the years, 13 June in 1 of 10. A tender crop goes out a week after the
average one, on 8 June, or where that is later at the accepted risk, on 13 June, a Sunday; the next hand-out day is
Saturday 19 June. Six to eight weeks indoors: sown from 24 April to 8 May, best on 1 May, a Saturday. It is up in 6
days, on 7 May; thinned a week later, on 14 May; out to harden a week before planting out, on 12 June.
"""

import re
from html import unescape
from types import SimpleNamespace

from sqlalchemy import event

from app.core.words import Place
from app.extensions import db
from tests import rows
from tests.web.pages import read_page

SOWN_IN = "2027-W17"  # 26 April to 2 May, as on any calendar of ISO weeks
UP_IN = "2027-W18"


def one_sowing(session, *, plants=6, positions=8, **changes):
    """Add one grower's tomatoes, a lamp shelf and one for hardening, and commit."""
    rows.garden(session)
    box, who = rows.container(session), rows.grower(session)
    shelf = rows.shelf(session, positions=positions)
    rows.shelf(session, "Cold frame", place=Place.HARDENING, positions=8)
    crop = rows.crop(session, box=box)
    sowing = rows.sowing(session, who, crop, plants=plants, **changes)
    made = SimpleNamespace(grower=who.id, sowing=sowing.id, shelf=shelf.id, who=who, tomato=crop)
    session.commit()  # last: reading an id after it would begin a transaction that keeps the pages from writing
    return made


class Statements(list):
    """The statements that an application sends, those that only begin a transaction left out."""

    def __init__(self, app):
        super().__init__()
        with app.app_context():
            event.listen(db.engine, "before_cursor_execute", self._note)

    def _note(self, _connection, _cursor, statement, *_):
        if not statement.startswith(("BEGIN", "SET TRANSACTION")):
            self.append(statement)


def words(html):
    """Return what a page says below its menu, cells and parts set apart by single spaces."""
    main = html.partition("<main")[2].partition("</main>")[0]
    said = " ".join(unescape(re.sub(r"<[^>]*>", " ", f"<{main}")).split())
    return re.sub(r" ([.,;:])", r"\1", said)


def links(html):
    """Return where a page leads."""
    return {element.attributes["href"] for element in read_page(html).all("a")}
