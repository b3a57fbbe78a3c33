"""docs/security.md says of each requirement whether it is met, and by which test; its limits are the program's."""

import ast
import re

import pytest
from sqlalchemy import JSON, Enum, String

from app import LARGEST_BODY_BYTES, LARGEST_REQUEST_BYTES
from app.storage import models
from app.storage.base import Base
from app.storage.folder import MOST_BYTES
from tests.rules.tree import ROOT

PAGE = (ROOT / "docs" / "security.md").read_text()
NAMED = re.compile(r"`(tests/[\w/]+\.py)::(\w+)`")
ROUTE = re.compile(r"@bp\.(?:route|get|post)\('([^']*)'")
STATES = {"met", "not met", "does not apply"}
LEVELS = {"1", "2", "3", "1 to 3"}
MEGABYTE = 1024 * 1024


def table_after(words):
    """Return the cells of each row of the first table after some words."""
    lines = PAGE.partition(words)[2].partition("| --- |")[2].splitlines()[1:]
    rows = []
    for line in lines:
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in line.strip("|").split("|")])
    return rows


ROWS = table_after("## Against OWASP ASVS")


def test_each_requirement_stands_once_with_level_and_state():
    numbers = [row[0] for row in ROWS]
    assert len(numbers) == len(set(numbers)) == 226
    assert numbers == sorted(numbers, key=lambda number: [int(part) for part in number.split(".")])
    assert all(re.fullmatch(r"\d{1,2}\.\d{1,2}\.\d{1,2}|10|17", number) for number in numbers)
    assert {row[1] for row in ROWS} <= LEVELS
    assert {row[3] for row in ROWS} == STATES
    assert [row for row in ROWS if len(row) != 5 or not row[4]] == []


@pytest.mark.parametrize("row", [row for row in ROWS if row[3] == "met"], ids=lambda row: row[0])
def test_what_is_met_names_a_test(row):
    assert NAMED.search(row[4]), row


def test_every_test_that_is_named_is_there():
    named = {match for row in ROWS for match in NAMED.findall(row[4])}
    assert len(named) > 40
    missing = [
        f"{file}::{name}"
        for file, name in sorted(named)
        if not (ROOT / file).exists() or not re.search(rf"^def {name}\(", (ROOT / file).read_text(), re.MULTILINE)
    ]
    assert missing == []


def test_the_counts_are_those_of_the_table():
    told = re.search(r"(\d+) met, (\d+) not met, (\d+)\s+that do not apply", PAGE)
    states = [row[3] for row in ROWS]
    assert [int(number) for number in told.groups()] == [states.count(s) for s in ("met", "not met", "does not apply")]


def test_every_deviation_has_its_reasons_and_its_requirements():
    deviations = dict(re.findall(r"^(\d)\. \*\*.*?\*\* \(([\d., ]+)\)", PAGE, re.MULTILINE))
    told = {number: set(requirements.split(", ")) for number, requirements in deviations.items()}
    named = {}
    for row in ROWS:
        for number in re.findall(r"deviation (\d)", row[4]):
            named.setdefault(number, set()).add(row[0])
    assert told == named
    assert {"3.3.1", "6.3.3", "14.2.1", "16.4.3", "6.2.12"} <= set().union(*told.values())


def test_the_limits_on_the_page_are_those_of_the_program():
    told = {what: int(re.match(r"(\d+) MB", most)[1]) * MEGABYTE for what, most, _ in table_after("Answers** carry")}
    assert told == {
        "a form": LARGEST_REQUEST_BYTES,
        "a station's record": MOST_BYTES,
        "any request, before a page sees it": LARGEST_BODY_BYTES,
    }


def test_every_column_of_text_has_a_level():
    """14.1.1: a new one fails here until somebody says how much it matters."""
    assert models.Account
    told = []
    for _, columns, _ in table_after("## What is kept"):
        for part in columns.split("; "):
            table, _, names = part.partition(": ")
            told += [f"{table}.{name}" for name in names.split(", ")]
    kept = {
        f"{table.name}.{column.name}"
        for table in Base.metadata.sorted_tables
        for column in table.columns
        if isinstance(column.type, String | JSON) and not isinstance(column.type, Enum)
    }
    assert len(told) == len(set(told))
    assert set(told) == kept


def test_the_ways_of_signing_in_are_those_that_begin_a_session():
    """6.1.3: each view that gives a browser the token of a sign-in has a line, and no other has."""
    people = (ROOT / "docs" / "people.md").read_text()
    told = set(re.findall(r"^\| [^|]+ \| `(/[^`]*)` \|", people.partition("All ways of signing in")[2], re.MULTILINE))
    begins = set()
    for file in sorted((ROOT / "app" / "web" / "views").glob("*.py")):
        tree = ast.parse(file.read_text())
        prefix = re.search(r'url_prefix="([^"]*)"', file.read_text())
        for view in (node for node in tree.body if isinstance(node, ast.FunctionDef)):
            code = ast.unparse(view)
            if re.search(r"session\[TOKEN\] =|_come_in\(|come_to_bench\(", code):
                begins |= {(prefix[1] if prefix else "") + address for address in ROUTE.findall(code)}
    assert told == begins


def test_the_service_may_write_its_own_folder_alone():
    """13.2.2, 13.2.5: a user of its own that gains no rights, and a system that it can only read."""
    unit = (ROOT / "docs" / "operations" / "traymates.service").read_text()
    told = dict(line.split("=", 1) for line in unit.splitlines() if "=" in line and not line.startswith("#"))
    assert told["User"] not in {"root", ""}
    wanted = {
        "ProtectSystem": "strict", "ProtectHome": "yes", "NoNewPrivileges": "yes", "PrivateTmp": "yes",
        "StateDirectoryMode": "0700", "UMask": "0077",
    }  # fmt: skip
    assert {name: told.get(name) for name in wanted} == wanted
    assert "ReadWritePaths" not in told
    assert re.search(r"TRAYMATES_INSTANCE=/var/lib/" + re.escape(told["StateDirectory"]) + "$", unit, re.MULTILINE)


def test_it_is_written_down_when_flawed_libraries_are_replaced():
    """15.1.1."""
    libraries = " ".join(PAGE.partition("## Libraries")[2].partition("## ")[0].split())
    assert re.search(r"pip-audit --require-hashes", libraries)
    assert re.search(r"within a week; others with the next release", libraries)
