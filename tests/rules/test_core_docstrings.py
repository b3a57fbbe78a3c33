"""Numbers of the core carry their units: each documented argument and result that is a number."""

import ast
import inspect
import re

import pytest

from tests.rules.tree import project_files, relative

NUMBER = re.compile(r"\b(?:int|float|Days|NDArray)\b")
UNIT = re.compile(r"\[[^\]]+\]|\bind(?:ex|ices)\b", re.IGNORECASE)


def public_functions(path):
    tree = ast.parse(path.read_text())
    scopes = [tree, *(node for node in tree.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_"))]
    return [
        node
        for scope in scopes
        for node in scope.body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    ]


def section(docstring, heading):
    """Return the text of a section of a Google docstring, empty if it has none."""
    found = re.search(rf"^{heading}:\n((?:    .*\n|\n)*)", docstring + "\n", re.MULTILINE)
    return found.group(1) if found else ""


def numbers_without_units(function):
    docstring = inspect.cleandoc(ast.get_docstring(function) or "")
    entries = dict(re.findall(r"^    (\w+): ((?:.*\n)(?:     .*\n)*)", section(docstring, "Args"), re.MULTILINE))
    for argument in [*function.args.args, *function.args.kwonlyargs]:
        is_number = argument.annotation is not None and NUMBER.search(ast.unparse(argument.annotation))
        if is_number and argument.arg in entries and not UNIT.search(entries[argument.arg]):
            yield argument.arg
    returned = section(docstring, "Returns")
    is_number = function.returns is not None and NUMBER.search(ast.unparse(function.returns))
    if is_number and returned and not UNIT.search(returned):
        yield "Returns"


CORE = [path for path in project_files(".py") if relative(path).startswith("app/core/")]


@pytest.mark.parametrize("module", CORE, ids=relative)
def test_a_documented_number_of_the_core_has_its_unit_in_brackets(module):
    found = [
        f"{function.name}: {name}" for function in public_functions(module) for name in numbers_without_units(function)
    ]
    assert found == []
