"""What the history tells of: all that may stand in it is marked to be said."""

import ast

from sqlalchemy import inspect

from app.sheets import nouns
from app.sheets.history_words import ACTIONS, COLUMNS, PLAIN, UNITS
from app.storage.history import LEFT_OUT, NOUNS
from tests.rules.tree import ROOT


def test_every_noun_of_the_history_and_of_a_query_is_marked():
    asked = {call.args[3].value for call in calls("get_row") if isinstance(call.args[3], ast.Constant)}
    missing = {call.args[0].value for call in calls("NotFoundError") if isinstance(call.args[0], ast.Constant)}
    noted = {call.args[1].value for call in calls("note_history", "note_many")}
    assert {"tray", "batch"} <= missing
    assert {"garden", "backup"} <= noted
    assert asked | missing | noted | set(NOUNS.values()) <= set(nouns.SAID)


def test_every_column_of_the_history_is_marked():
    columns = {column.key for model in NOUNS for column in inspect(model).column_attrs} - LEFT_OUT - set(COLUMNS)
    plain = {next((key.removesuffix(end) for end in UNITS if key.endswith(end)), key) for key in columns}
    assert {"cell_volume", "variety"} <= plain
    assert {key.replace("_", " ") for key in plain} <= set(PLAIN)


def test_every_action_of_the_history_is_marked():
    said = {call.args[2].value for call in calls("note_history", "note_many") if isinstance(call.args[2], ast.Constant)}
    assert "loaded from a folder" in said
    assert said | {"added", "changed", "removed"} <= set(ACTIONS)


def calls(*names):
    """Yield the calls of functions in the program."""
    for path in sorted((ROOT / "app").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in names and len(node.args) > 1:
                yield node
