"""What may stand in no file of the project, whatever it is about."""

import ast
import re

import pytest

from tests.rules.tree import ROOT, project_files, relative, texts

# Bracketed letters keep the patterns from finding themselves.
MACHINE_PATH = re.compile(r"(?<![\w.>])/(?:hom[e]|roo[t]|wor[k]|Users|mn[t]|op[t])/\w|\b[A-Z]:\\\\?Users\b")
REGISTRY = re.compile(
    r"py[p]i\.|python[h]osted|npm[j]s|deb\.debia[n]|--(?:extra-)?inde[x]-url|--find-link[s]", re.IGNORECASE
)
UNFINISHED = re.compile(r"\b(?:TOD[O]|FIXM[E]|XX[X])\b")


@pytest.mark.parametrize(
    "pattern", [MACHINE_PATH, REGISTRY, UNFINISHED], ids=["machine path", "registry", "unfinished"]
)
def test_no_file_holds(pattern):
    found = [
        f"{name}:{number}: {line.strip()[:100]}"
        for name, text in texts()
        for number, line in enumerate(text.splitlines(), start=1)
        if pattern.search(line)
    ]
    assert found == []


def test_the_patterns_find_what_they_are_for():
    home, host, mark = "/hom" + "e/ann/garden", "https://py" + "pi.example", "# TOD" + "O later"
    assert MACHINE_PATH.search(f"cd {home}")
    assert not MACHINE_PATH.search(f"https://example.org{home}")
    assert REGISTRY.search(host)
    assert UNFINISHED.search(mark)


def test_the_lock_pins_every_package_with_hashes():
    lock = (ROOT / "requirements.lock").read_text()
    entries = re.split(r"\n(?=\S)", re.sub(r"^ *#.*\n?", "", lock, flags=re.MULTILINE).strip())
    loose = [entry for entry in entries if not re.match(r"[\w.-]+==\S+(?: ;.*)? \\\n    --hash=sha256:\w{64}", entry)]
    assert len(entries) > 40
    assert loose == []


def test_the_lock_holds_every_direct_dependency():
    names = re.findall(r'^ +"([a-z0-9-]+)[\[>]', (ROOT / "pyproject.toml").read_text(), re.MULTILINE)
    locked = set(re.findall(r"^([a-z0-9-]+)(?:\[\w+\])?==", (ROOT / "requirements.lock").read_text(), re.MULTILINE))
    assert {"flask", "pytest", "numpy"} <= set(names)
    assert set(names) | {"setuptools"} <= locked


@pytest.mark.parametrize("migration", sorted((ROOT / "migrations" / "versions").glob("*.py")), ids=relative)
def test_a_migration_is_numbered_and_stands_on_its_own(migration):
    imported = set()
    for node in ast.walk(ast.parse(migration.read_text())):
        if isinstance(node, ast.Import):
            imported |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            imported.add((node.module or "").split(".")[0])
    assert re.fullmatch(r"\d{4}_[a-z0-9_]+\.py", migration.name)
    assert "app" not in imported  # today's models would change what an old migration does


def test_every_folder_of_the_application_is_a_package():
    folders = {path.parent for path in project_files(".py") if relative(path).startswith("app/")}
    assert [relative(folder) for folder in sorted(folders) if not (folder / "__init__.py").exists()] == []
