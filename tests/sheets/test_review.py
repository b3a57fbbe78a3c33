"""The words and pictures of looking back, on the small garden that is counted by hand."""

import pytest

from app.sheets.pdf import Paper, Template, make_pdf
from app.sheets.review import make_review_page
from app.sheets.review_words import late_words
from tests.core.review.test_review import TODAY, small
from tests.sheets.reading import leaves, squashed, text_of


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (0, "on the day"),
        (0.2, "on the day"),
        (0.5, "half a day late"),
        (-0.5, "half a day early"),
        (1, "1 day late"),
        (-1.1, "1 day early"),
        (2.4, "2.5 days late"),
        (-14, "14 days early"),
    ],
)
def test_lateness_is_said_in_days_and_halves(days, words):
    assert late_words(days) == words


def test_page_says_what_was_counted_by_hand():
    page = make_review_page(small(), TODAY)
    assert page.so_far == ""
    facts = dict(page.facts)
    assert (facts["Plants wanted"], facts["Handed out"], facts["Lost"]) == ("23", "13", "6")
    assert facts["Smallest share of a grower"] == "40\u00a0%"
    assert facts["Failed or not sown"] == "2 sowings"
    assert [(line.name, line.wanted, line.got, line.late, line.failed) for line in page.growers] == [
        ("Ines Moreau", 13, 8, 0, 1),
        ("Bo Reed", 10, 5, 1, 1),
    ]
    assert [(line.name, line.what) for line in page.sowings] == [
        ("S004", "failed"),
        ("S003", "not sown"),
        ("S001", "some plants handed out"),
        ("S002", "all plants handed out, late"),
    ]
    assert [(line.name, line.lost) for line in page.causes] == [("unknown", 3), ("mice", 2), ("damping off", 1)]
    assert sum(line.width for line in page.causes) == pytest.approx(100, abs=0.2)


def test_weeks_of_losses_are_drawn_to_scale_within_the_picture():
    chart = make_review_page(small(), TODAY).losses
    heights = [bar.height for bar in chart.bars]
    assert heights == pytest.approx([heights[1] / 3, heights[1], heights[1] * 2 / 3], abs=0.02)
    assert all(bar.x >= 0 and bar.x + bar.width <= 300 and bar.y >= 0 for bar in chart.bars)
    assert chart.peak[0] == 3
    assert "6 plants or cells lost in 3 weeks" in chart.words


def test_only_some_sowings_are_listed_and_the_others_counted():
    page = make_review_page(small(), TODAY, slice(1))
    assert (len(page.sowings), page.more) == (1, 3)


@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("entries", ["none", "all"])
def test_sheet_is_set_with_what_the_page_says(paper, entries):
    review = small() if entries == "all" else small(entries=())
    pdf = make_pdf(Template.REVIEW, make_review_page(review, TODAY), paper)
    text = text_of(pdf)
    assert squashed("Looking back on the season 2027") in text
    assert (squashed("Bo Reed") in text) == (entries == "all")
    assert (squashed("Nothing is written down yet.") in text) == (entries == "none")
    for leaf in leaves(pdf):
        assert all(word.right <= leaf.width - 12 * 72 / 25.4 + 1 for word in leaf.words)
