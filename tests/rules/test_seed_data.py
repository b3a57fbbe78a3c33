"""Every figure that comes with the program says where it is from."""

import csv
import re

import pytest

from app.core.folded import fold
from app.language import ENGLISH, LANGUAGES
from app.storage.published import emergence_rows, legal_germination, names_in
from tests.rules.tree import ROOT, project_files, relative

SEED_DATA = ROOT / "seed_data"
# Names rather than figures: a source is welcome, not required.
NAMES = {"crop", "botanical", "emergence_row", "germination_kind", "source"}


def rows(name):
    with (SEED_DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def files_with_a_source():
    first_cells = re.findall(r"^\| *([^|]+?) *\|", (SEED_DATA / "SOURCES.md").read_text(), re.MULTILINE)
    return {name.strip("` ") for cell in first_cells for name in cell.split(",")}


@pytest.mark.parametrize("path", [p for p in project_files() if p.is_relative_to(SEED_DATA)], ids=relative)
def test_a_file_has_a_row_in_the_sources(path):
    name = path.relative_to(SEED_DATA).as_posix()
    if name != "SOURCES.md":
        assert {name, name.rpartition("/")[0] + "/"} & files_with_a_source()


def test_the_sources_name_no_file_that_is_not_there():
    named = {name for name in files_with_a_source() if name.endswith((".csv", ".toml"))}
    assert named
    assert [name for name in sorted(named) if not (SEED_DATA / name).exists()] == []


def test_there_are_at_least_45_crop_cards():
    assert len(rows("crops.csv")) >= 45


def sources_of(card):
    """Return {figure: source} of a crop card's `source` column: `figure+figure: source; figure: source`."""
    sources = {}
    for part in card["source"].split(";"):
        figures, colon, source = part.partition(":")
        assert colon, f"{card['crop']}: {part.strip()!r} is not written as 'figure: source'"
        assert source.strip(), f"{card['crop']}: {figures.strip()} has no source"
        for figure in figures.split("+"):
            assert figure.strip() not in sources, f"{card['crop']}: two sources of {figure.strip()}"
            sources[figure.strip()] = source.strip()
    return sources


def test_every_figure_of_a_crop_card_has_its_source():
    for card in rows("crops.csv"):
        filled = {column for column, value in card.items() if value and column not in NAMES}
        assert filled - set(sources_of(card)) == set(), f"{card['crop']}: figures without a source"


def test_every_source_of_a_crop_card_belongs_to_a_figure_on_it():
    for card in rows("crops.csv"):
        figures = set(sources_of(card))
        assert figures <= set(card) - {"crop", "source"}, f"{card['crop']}: sources of columns that there are not"
        assert [figure for figure in sorted(figures) if not card[figure]] == [], f"{card['crop']}: sources of nothing"


@pytest.mark.parametrize(
    ("column", "table", "key"),
    [
        ("emergence_row", "emergence_days.csv", "crop"),
        ("germination_kind", "germination_standards.csv", "kind"),
        ("start_container", "containers.csv", "container"),
        ("pot_on_container", "containers.csv", "container"),
    ],
)
def test_what_a_crop_card_points_at_is_there(column, table, key):
    there = {row[key] for row in rows(table)}
    pointed_at = {card[column] for card in rows("crops.csv") if card[column]}
    assert pointed_at
    assert pointed_at - there == set()


@pytest.mark.parametrize(("kind", "file"), [("crop", "crops.csv"), ("container", "containers.csv")])
def test_every_crop_and_container_has_a_name_in_every_language(kind, file):
    named = [row for row in rows("names.csv") if row["kind"] == kind]
    assert sorted(row["en"] for row in named) == sorted(row[kind] for row in rows(file))
    for code in LANGUAGES:
        assert all(row[code] and row[code] == row[code].strip() for row in named)
        assert len({fold(row[code]) for row in named}) == len(named)


@pytest.mark.parametrize("published", [emergence_rows, legal_germination])
def test_every_row_of_a_published_table_has_a_name_in_every_language(published):
    for code in set(LANGUAGES) - {ENGLISH}:
        names = [names_in(code)[row] for row in published()]
        assert all(names)
        assert len({fold(name) for name in names}) == len(names)


def test_no_crop_has_the_name_of_a_container():
    english = [row["en"] for row in rows("names.csv")]
    assert len(set(english)) == len(english)
