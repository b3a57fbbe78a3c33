"""The week's list on paper, against the days of test_work.py of the core."""

from datetime import date

import pytest

from app.core.words import LogKind
from app.core.work.work import work_of
from app.sheets.pdf import Paper, Template, make_pdf
from app.sheets.tasks import tasks_of_week
from app.sheets.work_sheet import make_work_sheet
from tests.core.work.test_work import UP, plan_on, sown
from tests.sheets.reading import squashed, text_of

MONDAY, TODAY = date(2027, 5, 17), date(2027, 5, 20)


def sheet_of(*entries, by_shelf=False, today=TODAY):
    plan = plan_on(today, *entries)
    week = tasks_of_week(plan, work_of(plan), MONDAY, today)
    return make_work_sheet(plan, week, grower="", by_shelf=by_shelf)


def test_what_is_overdue_stands_first_and_what_is_done_is_only_counted():
    thinned = (LogKind.THINNED, date(2027, 5, 18), 9)
    sheet = sheet_of(sown(), (LogKind.UP, UP, 9), thinned)
    assert sheet.sums == "1 task open, 1 done"
    (part,) = sheet.parts
    (group,) = part.groups
    assert (part.head, group.head) == ("Due before, not confirmed", "Uncover")
    (line,) = group.lines
    assert (line.due, line.is_not_confirmed, line.amount) == ("since Fri 7 May", True, "11 cells, mould risk")
    assert sheet.basis == "As logged until Tue 18 May 2027, the rest as planned on Thu 20 May 2027."


@pytest.mark.parametrize("by_shelf", [False, True])
@pytest.mark.parametrize("paper", list(Paper))
def test_each_line_is_on_the_paper_with_a_box_and_its_page_number(paper, by_shelf):
    pdf = make_pdf(Template.WORK, sheet_of(sown(), by_shelf=by_shelf), paper)
    text = text_of(pdf)
    for words in ("Tasks of the week, 17 – 23 May", "since Fri 7 May", "11 cells", "Ines Moreau", "page 1 of 1"):
        assert squashed(words) in text
    assert squashed("As logged until Sat 1 May 2027") in text


def test_a_week_in_which_nothing_is_open_says_so():
    assert squashed("Nothing is open in this week.") in text_of(
        make_pdf(Template.WORK, sheet_of(sown(), (LogKind.LOST, TODAY, 11)), Paper.A4)
    )
