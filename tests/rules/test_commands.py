"""The list of commands is complete where people look for it."""

import re

import pytest

from app.cli import main
from tests.rules.tree import ROOT


@pytest.mark.parametrize("name", sorted(main.commands))
def test_a_command_has_help_and_stands_in_the_readme(name):
    assert main.commands[name].help
    assert re.search(rf"`(?:\.venv/bin/)?(?:traymates )?{name}\b", (ROOT / "README.md").read_text())
