"""Batches in words: nothing that they are kept as is left out."""

import pytest

from app.sheets.batch_words import IN_THE_WAY, MADE
from app.storage.base import Base
from app.storage.queries.batches import GARDEN_ANEW, MODELS, said_use
from app.web.forms.tables.columns import KINDS

IN_BATCHES = ("grower", "shelf", "seed lot", "sowing", "sowing of last season")


def test_what_tables_bring_in_is_marked():
    assert {f"{kind.many} pasted" for kind in KINDS.values()} < set(MADE)


@pytest.mark.parametrize("noun", IN_BATCHES)
def test_every_table_that_refers_to_a_row_of_a_batch_is_marked(noun):
    target = MODELS[noun].__table__
    for table in Base.metadata.sorted_tables:
        if any(key.column.table is target for key in table.foreign_keys) and table.name != "levelling_change":
            assert f"is used by {said_use(table.name)}" in IN_THE_WAY


def test_what_begins_a_garden_anew_is_marked():
    assert {f"was {action} since" for action in (*GARDEN_ANEW, "added", "changed", "removed")} <= set(IN_THE_WAY)
