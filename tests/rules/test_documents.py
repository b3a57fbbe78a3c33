"""What the documents promise is there: commands, files, settings, decisions in one form."""

import ast
import re

import pytest

from tests.rules.tree import ROOT, project_files, relative

HEADINGS = ["Context", "Decision", "Status", "Consequences"]
DOCUMENTS = [path for path in project_files(".md") if path.parts[len(ROOT.parts)] not in {"app", "tests"}]
DECISIONS = sorted((ROOT / "docs" / "decisions").glob("*.md"))


def make_targets():
    return set(re.findall(r"^([a-z][a-z-]*):", (ROOT / "Makefile").read_text(), re.MULTILINE))


def documented_text():
    return "\n".join(path.read_text() for path in DOCUMENTS)


def test_readme_begins_with_the_job_and_then_two_commands_of_the_makefile():
    title, job, *_ = (ROOT / "README.md").read_text().split("\n\n")
    assert title == "# Traymates"
    assert len(job) > 200
    assert not job.startswith(("#", "-", "`"))
    commands = re.findall(r"\bmake ([a-z]+)", (ROOT / "README.md").read_text())
    assert commands[:2] == ["demo", "test"]


@pytest.mark.parametrize("document", DOCUMENTS, ids=relative)
def test_make_commands_in_documents_exist(document):
    named = set(re.findall(r"`make ([a-z][a-z-]*)", document.read_text()))
    named |= set(re.findall(r"^ *make ([a-z][a-z-]*)", document.read_text(), re.MULTILINE))
    assert named <= make_targets()


@pytest.mark.parametrize("document", DOCUMENTS, ids=relative)
def test_links_between_documents_lead_somewhere(document):
    links = re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", document.read_text())
    missing = [link for link in links if not (document.parent / link).exists()]
    assert missing == []


@pytest.mark.parametrize("document", DOCUMENTS, ids=relative)
def test_files_named_in_documents_exist(document):
    tops = "app|tests|migrations|seed_data|docs|\\.ci"
    named = re.findall(rf"`((?:{tops})/[\w./-]*)`", document.read_text())
    missing = [name for name in named if not (ROOT / name).exists()]
    assert missing == []


def test_there_are_decision_records():
    assert len(DECISIONS) > 0


@pytest.mark.parametrize("record", DECISIONS, ids=relative)
def test_a_decision_record_has_its_number_and_the_four_headings(record):
    text = record.read_text()
    assert re.fullmatch(r"\d{4}-[a-z0-9-]+\.md", record.name)
    assert re.match(rf"# {record.name[:4]} \S", text)
    assert re.findall(r"^## (.+)$", text, re.MULTILINE) == HEADINGS
    assert re.search(r"## Status\n\n(Accepted|Proposed|Replaced by \d{4})\b", text)


def test_decision_records_are_numbered_without_gaps():
    assert [int(record.name[:4]) for record in DECISIONS] == list(range(1, len(DECISIONS) + 1))


def test_every_setting_from_the_environment_is_documented():
    source = ast.parse((ROOT / "app" / "settings.py").read_text())
    words = {node.value for node in ast.walk(source) if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    settings = {word for word in words if re.fullmatch(r"[A-Z][A-Z_]{3,}", word)}
    assert {"DATABASE_URL", "PORT"} <= settings
    undocumented = [name for name in sorted(settings) if f"`{name}`" not in documented_text()]
    assert undocumented == []
