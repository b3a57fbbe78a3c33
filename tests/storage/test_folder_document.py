"""The document of the garden folder says what the program reads."""

import re
from pathlib import Path

import pytest

from app.storage.folder import read_folder
from app.storage.folder.cells import Word
from app.storage.folder.layout import LAYOUTS
from app.storage.folder.station_layout import GHCN_LAYOUT, RECORD_LAYOUT
from tests.storage.small_folder import FILES, write_files

DOCUMENT = (Path(__file__).resolve().parents[2] / "docs" / "garden-folder.md").read_text(encoding="utf-8")
ROWS = dict(re.findall(r"^\| `(\w+\.csv)` \| (\*\*.*) \|$", DOCUMENT, re.MULTILINE))


@pytest.mark.parametrize("layout", [*LAYOUTS, RECORD_LAYOUT], ids=lambda layout: layout.file)
def test_the_columns_of_a_file_stand_in_the_document_the_required_ones_in_bold(layout):
    bold, _, others = ROWS[layout.file].partition("**;")
    required = [column.name for column in layout.columns if column.required]
    optional = [column.name for column in layout.columns if not column.required]
    assert bold.strip("*").split(", ") == required
    assert re.findall(r"\w+", re.sub(r" \([^)]*\)", "", others)) == optional


@pytest.mark.parametrize(
    ("column", "words"),
    [(c.name, c.kind.words) for layout in LAYOUTS for c in layout.columns if isinstance(c.kind, Word)],
    ids=[c.name + layout.file for layout in LAYOUTS for c in layout.columns if isinstance(c.kind, Word)],
)
def test_the_words_of_a_column_stand_in_the_document(column, words):
    assert f"| {column} | {', '.join(words)} |" in DOCUMENT


def test_the_columns_of_a_weather_service_file_stand_in_the_document_the_required_ones_in_bold():
    required = [column.name for column in GHCN_LAYOUT.columns if column.required]
    assert f"**{', '.join(required)}**; TMAX" in DOCUMENT
    assert [column.name for column in GHCN_LAYOUT.columns if column.name not in DOCUMENT] == []


def test_the_settings_of_the_document_are_read(tmp_path):
    (toml,) = re.findall(r"```toml\n(.*?)```", DOCUMENT, re.DOTALL)
    assert read_folder(write_files(tmp_path / "g", {**FILES, "garden.toml": toml})).settings.garden["season"] == 2027
