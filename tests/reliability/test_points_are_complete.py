"""Every place in the program that makes something last is known, and killed at."""

import ast

import pytest

from tests.reliability.points import ROOT
from tests.reliability.reached import PLACES, Reached

# What makes something last, or lets it be seen under its name. A savepoint (`begin_nested`) does not.
NAMES = frozenset({"link", "move", "hardlink_to", "symlink_to"})
METHODS = frozenset({"commit", "begin", "begin_transaction"})


def is_lasting(call):
    """Return whether a call may make something last."""
    is_method = isinstance(call.func, ast.Attribute)
    name = call.func.attr if is_method else getattr(call.func, "id", "")
    if name in {"replace", "rename"}:  # of a path, or of `os`; those of texts, values and people have other arguments
        return is_method and (getattr(call.func.value, "id", "") == "os" or (len(call.args) == 1 and not call.keywords))
    return name in NAMES or (is_method and name in METHODS)


def places_of(source, name):
    """Return the places of a file's text that make something last."""
    found = set()

    def walk(node, inside):
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                gap = ".<locals>." if inside and isinstance(node, ast.FunctionDef) else "." if inside else ""
                walk(child, f"{inside}{gap}{child.name}")
                continue
            if isinstance(child, ast.Call) and is_lasting(child):
                found.add(f"{name}:{inside or '<module>'}")
            walk(child, inside)

    walk(ast.parse(source), "")
    return found


def places_of_program():
    found = set()
    for folder in ("app", "migrations"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            if path.is_relative_to(ROOT / "app" / "core"):
                continue  # it reads and writes nothing
            found |= places_of(path.read_text(encoding="utf-8"), path.relative_to(ROOT).as_posix())
    return found


def test_each_place_that_makes_something_last_is_listed():
    missing = places_of_program() - PLACES.keys()
    assert not missing, f"say in tests/reliability/reached.py by which test a process is killed there: {missing}"


def test_each_place_that_is_listed_is_there():
    assert PLACES.keys() <= places_of_program()


def test_each_test_that_reaches_a_place_is_there():
    for where, said in PLACES.items():
        if isinstance(said, Reached):
            source = (ROOT / "tests" / "reliability" / said.file).read_text(encoding="utf-8")
            assert f"def {said.test}(" in source, where
            assert where in source or said.scenario in source, where


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("def f(session):\n    session.commit()", {"x.py:f"}),
        ("class A:\n    def f(self):\n        with self.engine.begin():\n            pass", {"x.py:A.f"}),
        ("from os import link\ndef f():\n    link(1, 2)", {"x.py:f"}),
        ("import os\nos.replace(1, 2)", {"x.py:<module>"}),
        ("def f(path):\n    path.rename(other)", {"x.py:f"}),
        ("def f(session):\n    rename(session, 1, 'Bo')", set()),
        ("def f():\n    def g(path):\n        path.replace(other)", {"x.py:f.<locals>.g"}),
        ("def f(text):\n    return text.replace('a', 'b')", set()),
        ("def f(value):\n    return replace(value, a=1)", set()),
        ("def f(session):\n    with session.begin_nested():\n        pass", set()),
    ],
    ids=["commit", "begin", "link", "replace", "rename", "person", "inner", "text", "dataclass", "savepoint"],
)
def test_places_are_found(source, expected):
    assert places_of(source, "x.py") == expected
