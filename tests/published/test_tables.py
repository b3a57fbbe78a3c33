"""The published tables themselves."""

import pytest

from tests.published.tables import NAMES, read_heads, read_instances, read_rows


@pytest.mark.parametrize("name", NAMES)
def test_a_published_table_names_its_source_page_and_unit(name):
    assert {"source", "page", "unit"} <= read_heads(name)


@pytest.mark.parametrize("name", NAMES)
def test_a_published_table_holds_figures(name):
    assert read_instances(name) if name.endswith(".json") else read_rows(name)
