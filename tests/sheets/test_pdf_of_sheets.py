"""Sheets as they leave the printer: every name and number is there, nothing is cut, text stays text."""

import re
import subprocess
import unicodedata
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest

from app.core.plan import make_plan
from app.core.words import Units
from app.sheets import pdf as pdf_module
from app.sheets.grower_sheet import make_grower_sheet
from app.sheets.hand_out import HandOutFacts, hand_out_days, make_hand_out_sheet
from app.sheets.pdf import BOLD, REGULAR, REPLACEMENT, TEMPLATES, Paper, PdfError, Template, make_pdf, usual_paper
from app.sheets.weekly import make_weekly_sheet
from tests.factories import card, container, garden, sowing
from tests.sheets.reading import beyond_margins, leaves, overlapping, pages, squashed, text_of

TODAY = date(2027, 4, 10)
FULL_WEEK = date(2027, 5, 24)
MARGIN_MM = 12
# Sheets of several pages that show the plan; the others have tests of their own.
SHEETS = [Template.WEEKLY, Template.GROWER, Template.HAND_OUT]
# ISO 216 and ANSI/ASME Y14.1, in points.
SIZES = {Paper.A4: (595.3, 841.9), Paper.LETTER: (612.0, 792.0)}

HOSTILE = (
    '#import "page.typ": *',
    '#panic("x") $x^2$ *bold* _it_ `raw` <label> @ref',
    'Quote " back\\slash \\n \\u{41} {{ 7*7 }}',
    "= Heading // comment /* open",
    '[Brackets] ]] #[ #eval("1+1") ${x}',
    "W" * 200,
    "Nine words " * 25,
    "Tab\there, line\nbreak, nul\x00, delete\x7f",
    "-Aa" * 60,
    "~ -- --- ... ' \" \u2018\u2019 \u201c\u201d",
)


def hostile_plan():
    names = [*HOSTILE, "Łukasz Ćwiękała", "Ἀθηνᾶ Παπαδοπούλου", "Нина Жук", "Nguyễn Thị Ánh", "e\u0301lan"]
    one = garden().growers[0]
    growers = tuple(type(one)(id=number, name=name, plot=name[:40]) for number, name in enumerate(names, start=1))
    cards = tuple(card(id=number, name=name) for number, name in enumerate(names, start=1))
    rows = [sowing(grower=at, crop=at, plants=40 + at, variety=name) for at, name in enumerate(names)]
    boxes = (container(name=HOSTILE[5]), container(id=2, name=HOSTILE[1]))
    return make_plan(garden(rows, growers=growers, cards=cards, containers=boxes, settings={"name": HOSTILE[5]})), names


def sheets_of(plan, facts, monday, day, grower=0):
    return {
        Template.WEEKLY: make_weekly_sheet(plan, monday, units=facts.units, today=TODAY),
        Template.HAND_OUT: make_hand_out_sheet(
            plan, day, HandOutFacts(today=TODAY, saved_cucurbits=facts.saved_cucurbits)
        ),
        Template.GROWER: make_grower_sheet(plan, grower, facts),
    }


@pytest.fixture(scope="module")
def demo_sheets(demo):
    return sheets_of(demo.plan, demo.facts, FULL_WEEK, date(2027, 6, 5), grower=1)


@pytest.mark.parametrize("paper", list(Paper), ids=str)
@pytest.mark.parametrize("template", SHEETS, ids=str)
def test_pages_have_the_papers_size_their_numbers_and_whole_margins(demo_sheets, template, paper):
    pdf = make_pdf(template, demo_sheets[template], paper)
    found, texts = leaves(pdf), pages(pdf)
    assert len(found) == len(texts) > 1
    for number, (leaf, text) in enumerate(zip(found, texts, strict=True), start=1):
        assert (leaf.width, leaf.height) == pytest.approx(SIZES[paper], abs=0.1)
        assert beyond_margins(leaf, MARGIN_MM) == []
        assert overlapping(leaf) == []
        assert f"page {number} of {len(found)}" in text
        assert "As planned on Sat 10 Apr 2027" in text
        assert "Wrenmoor Community Garden" in text


def test_the_weekly_sheet_holds_every_tray_crop_grower_and_number(demo_sheets):
    sheet = demo_sheets[Template.WEEKLY]
    text = text_of(make_pdf(Template.WEEKLY, sheet, Paper.A4))
    assert "24–30May2027(W21)" in text
    for place in sheet.places:
        assert squashed(f"{place.name}{place.bar.needed}{place.bar.positions}") in text
        assert squashed(place.use) in text
        assert all(squashed(shelf) in text for shelf in place.shelves)
        assert all(squashed(caution.head + caution.words) in text for caution in place.cautions)
        for move in place.moves:
            way = "comes in" if move.comes else "goes out"
            assert squashed(f"{move.day}{way}{move.how}{move.trays}{move.rows}") in text
        for line in place.lines:
            row = f"{line.rows}{line.container}{line.cells}×{line.cell}"
            row += f"{'comes' if line.comes else 'since'}{line.since}{'goes' if line.goes else 'until'}{line.until}"
            assert squashed(row) in text
            for crop in line.crops:
                shares = ", ".join(f"{share.grower} {share.cells}" for share in crop.shares)
                assert squashed(f"{crop.variety}: {shares}" if crop.variety else shares) in text
                assert squashed(crop.crop) in text


def test_the_hand_out_sheet_holds_every_grower_crop_and_number(demo):
    for day in hand_out_days(demo.plan):
        sheet = make_hand_out_sheet(demo.plan, day, HandOutFacts(today=TODAY))
        text = text_of(make_pdf(Template.HAND_OUT, sheet, Paper.LETTER))
        assert squashed(sheet.sums) in text
        for grower in sheet.growers:
            plants = f"{grower.plants} plant" + ("s" if grower.plants != 1 else "")
            row = f"{grower.name}{f'plot {grower.plot}, ' if grower.plot else ''}{plants}"
            row += "".join(f"{crop.plants}{crop.crop}{crop.variety}{crop.container}" for crop in grower.crops)
            assert squashed(row) in text


def test_the_growers_sheet_holds_every_task_and_date(demo):
    for grower in (0, 6, len(demo.plan.garden.growers) - 1):
        sheet = make_grower_sheet(demo.plan, grower, demo.facts)
        text = text_of(make_pdf(Template.GROWER, sheet, Paper.A4))
        for task in sheet.tasks:
            jobs = "".join(f"{job.crop}{job.variety}:{job.how}" for job in task.jobs)
            assert squashed(f"{task.day}{task.task}{jobs}") in text
        for row in sheet.deadlines:
            dates = f"{row.last_chance}{row.emerges}{row.pot_on}{row.harden}{row.plant_out}"
            best = "" if row.best == "–" else f"best {row.best}"
            counts = f"{row.crop}{row.variety}{row.container}{row.plants}{row.cells}{row.seeds}"
            assert squashed(f"{counts}{row.sow_on}{row.window}{best}{dates}") in text
            assert all(squashed(warning) in text for warning in row.warnings)
        for need in sheet.containers:
            assert squashed(f"{need.name}{need.cells}{need.cell}{need.per_tray}") in text


@pytest.mark.parametrize(
    ("template", "head"),
    [
        (Template.WEEKLY, "What stands in it, and whose cells"),
        (Template.HAND_OUT, "Plants, crop and variety, container"),
    ],
    ids=str,
)
def test_heads_of_a_long_table_stand_on_every_page_of_it(demo, template, head):
    sheet = sheets_of(demo.plan, demo.facts, FULL_WEEK, date(2027, 6, 12))[template]
    texts = pages(make_pdf(template, sheet, Paper.A4))
    assert len(texts) > 1
    table = texts[:-1] if template is Template.WEEKLY else texts
    assert all(squashed(head) in squashed(text) for text in table)


def test_equal_sheets_give_equal_bytes_from_many_threads_and_processes(demo_sheets, demo):
    one = make_pdf(Template.WEEKLY, demo_sheets[Template.WEEKLY], Paper.A4)
    again = make_weekly_sheet(demo.plan, FULL_WEEK, units=Units.METRIC, today=TODAY)
    jobs = [(template, sheet, paper) for template, sheet in demo_sheets.items() for paper in Paper] * 3
    alone = [make_pdf(*job) for job in jobs[: len(jobs) // 3]]
    with ThreadPoolExecutor(8) as pool:
        together = list(pool.map(lambda job: make_pdf(*job), jobs))
    assert make_pdf(Template.WEEKLY, again, Paper.A4) == one
    assert together == alone * 3
    assert b"CreationDate" not in one
    assert b"CreateDate" not in one


@pytest.mark.parametrize("paper", list(Paper), ids=str)
@pytest.mark.parametrize("template", SHEETS, ids=str)
def test_what_people_typed_stays_text_and_is_not_cut(demo, template, paper):
    plan, names = hostile_plan()
    day = hand_out_days(plan)[0]
    for grower, name in enumerate(names):
        if grower and template is not Template.GROWER:
            break
        pdf = make_pdf(template, sheets_of(plan, demo.facts, date(2027, 4, 26), day, grower)[template], paper)
        text = text_of(pdf)
        for wanted in names if template is not Template.GROWER else [name]:
            plain = re.sub(r"[\x00\x7f]", "", unicodedata.normalize("NFC", wanted))
            assert squashed(plain) in text
        for leaf in leaves(pdf):
            assert beyond_margins(leaf, MARGIN_MM) == []
            assert overlapping(leaf) == []
        assert "could not be printed" not in text


@pytest.mark.parametrize(
    ("name", "printed", "lost"),
    [
        ("שלום Ruth", f"{REPLACEMENT * 4} Ruth", 4),
        ("Ana 🌱", f"Ana {REPLACEMENT}", 1),
        ("Farmer 👩\u200d🌾\ufe0f", f"Farmer {REPLACEMENT * 2}", 2),
        ("\u202eevil\u202c txt", "evil txt", 0),
        ("soft\u00adhyphen", "softhyphen", 0),
    ],
    ids=["right to left", "emoji", "joined emoji", "turned around", "soft hyphen"],
)
def test_letters_without_a_glyph_are_marked_and_the_foot_says_so(name, printed, lost):
    one = garden().growers[0]
    plan = make_plan(garden(growers=(type(one)(id=1, name=name, plot=None),)))
    sheet = make_hand_out_sheet(plan, hand_out_days(plan)[0], HandOutFacts(today=TODAY))
    text = " ".join("".join(pages(make_pdf(Template.HAND_OUT, sheet, Paper.A4))).split())
    assert squashed(printed) in squashed(text)
    if lost == 1:
        assert f"1 letter could not be printed here and stands as {REPLACEMENT}" in text
    elif lost:
        assert f"{lost} letters could not be printed here and stand as {REPLACEMENT}" in text
    else:
        assert "could not be printed" not in text


def test_an_empty_week_and_day_make_a_sheet(demo):
    for template, sheet in sheets_of(make_plan(garden([])), demo.facts, FULL_WEEK, TODAY).items():
        assert len(pages(make_pdf(template, sheet, Paper.A4))) in {1, 2}


def test_a_tray_of_very_many_lots_is_split_over_pages_and_not_cut(demo):
    one = garden().growers[0]
    growers = tuple(type(one)(id=number, name=f"Grower G{number:04d}", plot=None) for number in range(1, 201))
    rows = [sowing(grower=at, plants=1, variety=f"Variety of grower {at + 1}") for at in range(200)]
    box = container(cells_per_tray=5000)
    plan = make_plan(garden(rows, growers=growers, containers=(box,)))
    sheet = make_weekly_sheet(plan, date(2027, 4, 26), units=Units.METRIC, today=TODAY)
    pdf = make_pdf(Template.WEEKLY, sheet, Paper.A4)
    text = text_of(pdf)
    assert all(f"G{number:04d}" in text for number in range(1, 201))
    assert all(beyond_margins(leaf, MARGIN_MM) == [] for leaf in leaves(pdf))


def test_a_sheet_that_typst_refuses_is_told_as_such():
    @dataclass
    class Other:
        name: str = "without what the layout asks for"

    with pytest.raises(PdfError, match="typst could not set weekly"):
        make_pdf(Template.WEEKLY, Other(), Paper.A4)


def test_papers_follow_the_units():
    assert (usual_paper(Units.METRIC), usual_paper(Units.US)) == (Paper.A4, Paper.LETTER)


def test_the_fonts_have_every_letter_of_our_own_words_and_their_licence():
    own = "".join(path.read_text() for path in TEMPLATES.glob("*.typ"))
    own += "".join(path.read_text() for path in Path(pdf_module.__file__).parent.glob("*.py"))
    letters = {letter for letter in own if ord(letter) > 127} | {REPLACEMENT}
    assert {letter for letter in letters if ord(letter) not in pdf_module._glyphs()} == set()
    for font in (REGULAR, BOLD):
        assert "SIL OPEN FONT LICENSE" in (font.parent / "OFL.txt").read_text()


def test_only_the_bundled_fonts_are_in_a_sheet(demo_sheets, tmp_path):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(make_pdf(Template.WEEKLY, demo_sheets[Template.WEEKLY], Paper.A4))
    if not pages(path.read_bytes()):
        pytest.fail("the sheet has no page")
    fonts = subprocess.run(["pdffonts", str(path)], capture_output=True, text=True, check=True).stdout
    names = {line.split()[0] for line in fonts.splitlines()[2:]}
    assert {name.split("+")[-1] for name in names} == {"NotoSans-Regular", "NotoSans-Bold"}
