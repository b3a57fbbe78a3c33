"""Cells of a garden folder: texts a spreadsheet would run, numbers, names."""

import csv
import io
import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.limits import Bounds
from app.storage.folder.cells import Day, Name, Number, Whole, cell_to_text, number_to_cell, text_to_cell
from app.storage.folder.writing import _quoted

# OWASP, CSV Injection: the characters that make a spreadsheet take a cell for a formula.
FORMULA_STARTS = "=+-@\t\r\n\0"


def is_read(kind, cell):
    try:
        kind.parse(cell)
    except ValueError:
        return False
    return True


def random_text(source):
    alphabet = "'''=+-@\t\r\n\0\",; aZé0\u2028😀"
    return "".join(source.choice(alphabet) for _ in range(source.randrange(8)))


def test_a_text_comes_back_from_its_cell_20_000_times():
    source = random.Random(20_000)
    texts = [random_text(source) for _ in range(20_000)]
    assert sum(text.startswith("'") for text in texts) > 1000
    assert [text for text in texts if cell_to_text(text_to_cell(text)) != text] == []


@given(st.text())
def test_no_cell_of_a_text_begins_like_a_formula(text):
    assert text_to_cell(text)[:1] not in set(FORMULA_STARTS)
    assert cell_to_text(text_to_cell(text)) == text


@pytest.mark.parametrize("cell", ["'t Veld", "'", "''", "Ana", "", "'90s mix"])
def test_a_quote_before_anything_else_is_left_alone(cell):
    assert text_to_cell(cell) == cell == cell_to_text(cell)


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")), min_size=2))
def test_a_line_of_cells_is_read_back_by_the_standard_reader(cells):
    line = ",".join(_quoted(cell) for cell in cells) + "\n"
    assert list(csv.reader(io.StringIO(line, newline=""), strict=True)) == [cells]


@given(st.floats(-1e6, 1e6).filter(lambda number: number == 0 or abs(number) > 1e-6))
def test_a_number_comes_back_from_the_shortest_cell(number):
    cell = number_to_cell(number)
    assert re.fullmatch(r"-?\d+(\.\d*[1-9])?", cell)
    assert float(cell) == number
    assert Number(Bounds(-1e6, 1e6)).parse(cell) == number


@pytest.mark.parametrize(
    ("number", "cell"), [(4.0, "4"), (2.5, "2.5"), (0.1, "0.1"), (-0.0, "0"), (0.000015, "0.000015")]
)
def test_a_number_is_written_without_an_exponent_or_a_needless_nought(number, cell):
    assert number_to_cell(number) == cell


@pytest.mark.parametrize(
    "cell",
    [
        "1_000",
        "nan",
        "inf",
        "-inf",
        "1e3",
        "0x10",
        "\uff13",
        "\u0663",
        "1234567890123456789",
        "+5",
        "5 5",
        "five",
        "2,5",
        "",
        "--1",
    ],
)
def test_what_is_no_plain_number_is_refused(cell):
    assert not is_read(Whole(Bounds(-1e30, 1e30)), cell)
    assert not is_read(Number(Bounds(-1e30, 1e30)), cell)


@pytest.mark.parametrize(
    "cell",
    ["2027-02-30", "2027-13-01", "2027-2-3", "20270203", "2027-W05-1", "\uff12\uff10\uff12\uff17-01-01", "0000-01-01"],
)
def test_what_is_no_day_is_refused(cell):
    assert not is_read(Day(), cell)


@pytest.mark.parametrize("cell", ["a\tb", "a\nb", "a\rb", "a\0b", "a\u2028b", " ", "x" * 81])
def test_what_is_no_name_on_one_line_is_refused(cell):
    assert not is_read(Name(80), cell)


def test_spaces_around_names_and_numbers_do_not_matter():
    assert Name(80).parse(" Ana ") == "Ana"
    assert Whole(Bounds(0, 9)).parse(" 4 ") == 4
    assert Number(Bounds(0, 9)).parse(" 4.5 ") == 4.5
