"""The look at a computer before anything is installed on it, and when what is installed is out of date."""

import ast
import os
import socket
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from app import install

ROOT = Path(install.__file__).resolve().parents[1]
SCRIPT = ROOT / "app" / "install.py"


def test_it_runs_with_nothing_but_the_standard_library():
    """Without site packages, and without any variable that could point at them."""
    environ = {"PATH": os.environ["PATH"], "PORT": str(free_port())}
    command = [sys.executable, "-I", "-S", str(SCRIPT), "--check"]
    result = subprocess.run(command, env=environ, capture_output=True, text=True, check=False, timeout=60)
    assert result.stderr == ""
    assert result.stdout.count("ok ") + result.stdout.count("NO ") == 8
    imported = {
        (alias.name if isinstance(node, ast.Import) else node.module).partition(".")[0]
        for node in ast.walk(ast.parse(SCRIPT.read_text()))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    assert imported <= sys.stdlib_module_names


def test_an_old_python_can_read_it_and_so_says_that_it_is_old():
    ast.parse(SCRIPT.read_text(), feature_version=(3, 7))
    assert not install.look_at_python((3, 10, 9), "CPython").is_right
    assert not install.look_at_python((2, 7, 18), "CPython").is_right
    assert install.look_at_python((3, 11, 0), "CPython").is_right
    assert install.look_at_python((3, 14, 1), "CPython").is_right
    assert "usual Python" in install.look_at_python((3, 12, 0), "PyPy").words


def test_the_oldest_python_is_that_of_the_project():
    oldest = ".".join(map(str, install.OLDEST))
    assert f'requires-python = ">={oldest}"' in (ROOT / "pyproject.toml").read_text()
    assert f"OLDEST := {oldest}\n" in (ROOT / "Makefile").read_text()


def test_a_system_without_packages_is_told():
    # sys.maxsize of a 32-bit build, as Python's library reference, platform.architecture, tells them apart
    assert "64-bit image" in install.look_at_bits(2**31 - 1, "armv7l", "linux").words
    assert "x86-64" in install.look_at_bits(2**63 - 1, "ARM64", "win32").words
    assert install.look_at_bits(2**63 - 1, "aarch64", "linux").is_right
    assert install.look_at_bits(2**63 - 1, "arm64", "darwin").is_right


def test_a_module_that_debian_packs_apart_is_told(tmp_path):
    (tmp_path / "venv").mkdir()
    found = install.look_at_venv(tmp_path)
    assert not found.is_right
    assert "ensurepip" in found.words
    assert f"python3.{sys.version_info[1]}-venv" in found.words


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def test_a_port_that_is_taken_is_told():
    with socket.create_server(("127.0.0.1", 0)) as held:
        assert not install.look_at_port(held.getsockname()[1]).is_right
    assert install.look_at_port(free_port()).is_right


def test_a_full_disk_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr("shutil.disk_usage", lambda _path: SimpleNamespace(free=1_000_000))
    assert not install.look_at_room(tmp_path / "not" / "yet", install.ROOM_TO_RUN).is_right


def test_a_folder_that_cannot_be_used_is_told(tmp_path, monkeypatch):
    assert install.look_at_folder(tmp_path / "not" / "yet").is_right
    (tmp_path / "file").write_text("")
    assert "is a file" in install.look_at_folder(tmp_path / "file").words
    monkeypatch.setattr("os.access", lambda _path, _mode: False)
    assert "may not be written" in install.look_at_folder(tmp_path).words


@pytest.mark.parametrize(
    ("kind", "is_right"), [("ext4", True), ("nfs4", False), ("cifs", False), ("fuse.sshfs", False)]
)
def test_a_disk_of_another_machine_is_told(tmp_path, kind, is_right):
    """The format of /proc/mounts is that of fstab(5): a blank in a name is \\040, the nearest mount above counts."""
    place = tmp_path / "far away"
    place.mkdir()
    mounts = tmp_path / "mounts"
    mounts.write_text(f"/dev/sda1 / ext4 rw 0 0\nserver:/x {str(place).replace(' ', chr(92) + '040')} {kind} rw 0 0\n")
    assert install.look_at_disk(place / "instance", mounts).is_right == is_right
    assert install.look_at_disk(tmp_path, mounts).is_right


def test_a_clock_before_the_program_was_written_is_told():
    assert not install.look_at_clock(0.0).is_right  # 1970, as a board without a battery begins
    assert install.look_at_clock(2_000_000_000.0).is_right


@pytest.fixture
def installed(tmp_path):
    """Return a folder with the marks of an installed program, and a Python that starts or does not."""
    for name in install.FILES:
        (tmp_path / name).write_text("")
        os.utime(tmp_path / name, (1000, 1000))
    python = install.python_of(tmp_path / ".venv")
    python.parent.mkdir(parents=True)
    python.symlink_to(sys.executable)
    stamp = tmp_path / ".venv" / install.STAMP
    stamp.touch()
    os.utime(stamp, (2000, 2000))
    return SimpleNamespace(root=tmp_path, python=python, stamp=stamp)


def starts(python, status):
    python.unlink()
    python.write_text(f"#!/bin/sh\nexit {status}\n")
    python.chmod(0o755)


def test_what_is_installed_is_out_of_date_when_a_list_changes_or_its_python_is_gone(installed):
    starts(installed.python, 0)
    assert install.is_up_to_date(installed.root)
    os.utime(installed.root / "requirements.lock", (3000, 3000))
    assert not install.is_up_to_date(installed.root)
    os.utime(installed.root / "requirements.lock", (1000, 1000))
    starts(installed.python, 1)  # it starts, and does not find its packages
    assert not install.is_up_to_date(installed.root)
    installed.python.unlink()
    installed.python.symlink_to("/no/such/python3.11")  # what an upgrade of the system leaves
    assert not install.is_up_to_date(installed.root)
    starts(installed.python, 0)
    installed.stamp.unlink()  # the last time it broke off
    assert not install.is_up_to_date(installed.root)


def test_nothing_is_installed_where_something_is_missing(monkeypatch, capsys):
    monkeypatch.setattr(install, "is_up_to_date", lambda _root: False)
    monkeypatch.setattr(install, "install", lambda _root: pytest.fail("it was installed"))
    monkeypatch.setattr(install, "look_at_bits", lambda: install.wrong("Computer", "This system is 32-bit."))
    assert install.main([]) == 1
    assert "NO  Computer" in capsys.readouterr().out


def test_a_port_that_is_taken_keeps_nobody_from_installing(monkeypatch, capsys):
    done = []
    monkeypatch.setattr(install, "is_up_to_date", lambda _root: False)
    monkeypatch.setattr(install, "install", done.append)
    monkeypatch.setattr(install, "look_at_port", lambda _port: install.wrong("Port", "5000 is taken."))
    assert install.main([]) == 0
    assert done == [install.ROOT]
    assert install.main(["--check"]) == 1
    assert "NO  Port" in capsys.readouterr().out


def test_what_is_there_is_left_alone(monkeypatch, capsys):
    monkeypatch.setattr(install, "is_up_to_date", lambda _root: True)
    monkeypatch.setattr(install, "install", lambda _root: pytest.fail("it was installed again"))
    assert install.main([]) == 0
    assert "Installed: " in capsys.readouterr().out
