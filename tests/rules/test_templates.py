"""Rules that hold for every template, read without rendering it."""

import re

import pytest
from jinja2 import Environment, nodes

from tests.rules.tree import ROOT, project_files, relative

FOLDER = ROOT / "app" / "web" / "templates"
TEMPLATES = [path for path in project_files(".html") if path.is_relative_to(FOLDER)]
BASE = "base.html"


def syntax(name):
    return Environment(extensions=["jinja2.ext.i18n"], autoescape=True).parse((FOLDER / name).read_text())


def parent_of(name):
    for node in syntax(name).find_all(nodes.Extends):
        return node.template.as_const()
    return None


def with_parents(name):
    """Return the template and those it stands on, the base left out."""
    chain = []
    while name is not None and name != BASE:
        chain.append(name)
        name = parent_of(name)
    return chain


NAMES = [path.relative_to(FOLDER).as_posix() for path in TEMPLATES]
PARENTS = {parent_of(name) for name in NAMES}
PAGES = [name for name in NAMES if parent_of(name) and name not in PARENTS]


def test_there_are_pages_on_the_base():
    assert BASE in PARENTS
    assert len(PAGES) > 10


@pytest.mark.parametrize("page", PAGES)
def test_a_page_sets_its_title(page):
    blocks = {block.name for name in with_parents(page) for block in syntax(name).find_all(nodes.Block)}
    assert "title" in blocks


@pytest.mark.parametrize("template", TEMPLATES, ids=relative)
def test_a_template_has_no_style_or_script_of_its_own(template):
    text = template.read_text()
    assert not re.search(r"<style\b|\sstyle\s*=", text), "the policy for contents blocks inline styles: use a class"
    assert not re.search(r"<script\b(?![^>]*\bsrc=)|\son[a-z]+\s*=\s*[\"']|javascript:", text), "no inline scripts"


@pytest.mark.parametrize("template", TEMPLATES, ids=relative)
def test_a_template_escapes_what_people_typed(template):
    tree = syntax(template.relative_to(FOLDER).as_posix())
    assert "safe" not in {node.name for node in tree.find_all(nodes.Filter)}
    assert not list(tree.find_all(nodes.ScopedEvalContextModifier)), "autoescape stays on"


@pytest.mark.parametrize("template", TEMPLATES, ids=relative)
def test_a_template_loads_nothing_from_another_host(template):
    assert not re.search(r"\b(?:src|href|action)\s*=\s*[\"'](?:https?:)?//", template.read_text())


def test_the_one_script_writes_text_as_text():
    """OWASP ASVS 5.0.0, 3.2.2; decision 0026: none of the ways by which text becomes markup or a program."""
    [script] = (ROOT / "app" / "web" / "static").glob("*.js")
    ways = r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\b|new Function|createContextualFragment"
    assert not re.search(ways, script.read_text())
    assert "textContent" in script.read_text()
