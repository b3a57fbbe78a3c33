"""A database on another computer's disk is refused; one that a program keeps is warned of."""

import pytest
from click.testing import CliRunner

from app.cli import main
from app.storage.place import NetworkDiskError, file_system_of, require_own_disk

# In the form of proc(5), "/proc/pid/mounts".
MOUNTS = r"""
/dev/sda1 / ext4 rw,relatime 0 0
proc /proc proc rw 0 0
shed:/export /disks/shed nfs4 rw,vers=4.2 0 0
//shed/share /disks/old\040share cifs rw 0 0
/dev/sdb1 /disks/shed/stick vfat rw 0 0
box /disks/box fuse.box rw 0 0
/dev/sdc1 /disks/disk fuse.ntfs-3g rw 0 0
tmpfs /disks/über tmpfs rw 0 0
"""


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/srv/garden.sqlite3", "ext4"),
        ("/disks/shed/garden.sqlite3", "nfs4"),
        ("/disks/shedlike/garden.sqlite3", "ext4"),
        ("/disks/shed/stick/garden.sqlite3", "vfat"),
        ("/disks/old share/garden.sqlite3", "cifs"),
        ("/disks/über/garden.sqlite3", "tmpfs"),
    ],
)
def test_the_nearest_mount_holds_a_file(path, kind):
    assert file_system_of(path, MOUNTS) == kind


def test_what_is_mounted_last_lies_on_top():
    assert file_system_of("/disks/x", MOUNTS + "a /disks nfs rw 0 0\nb /disks ext4 rw 0 0\n") == "ext4"


def test_without_a_list_nothing_is_known():
    assert file_system_of("/srv/x", "") == ""
    assert require_own_disk("/srv/x", "") is None


@pytest.mark.parametrize("path", ["/disks/shed/g.sqlite3", "/disks/old share/g.sqlite3"])
def test_another_computer_s_disk_is_refused(path):
    with pytest.raises(NetworkDiskError, match=r"another computer.*DATABASE_URL"):
        require_own_disk(path, MOUNTS)


def test_a_disk_that_a_program_keeps_is_warned_of():
    assert "what was saved can be lost" in require_own_disk("/disks/box/g.sqlite3", MOUNTS)
    for own in ("/srv/g.sqlite3", "/disks/disk/g.sqlite3", "/disks/shed/stick/g.sqlite3"):
        assert require_own_disk(own, MOUNTS) is None


def test_a_command_says_so_and_makes_no_file(tmp_path, monkeypatch):
    mounts = tmp_path / "mounts"
    mounts.write_text(f"/dev/sda1 / ext4 rw 0 0\nshed:/x {tmp_path.resolve()} nfs rw 0 0\n", encoding="utf-8")
    monkeypatch.setattr("app.storage.place.MOUNTS", mounts)
    done = CliRunner().invoke(main, ["demo", "--database", f"sqlite:///{tmp_path / 'g.sqlite3'}"])
    assert done.exit_code == 1
    assert "on a disk of another computer (nfs)" in done.output
    assert not (tmp_path / "g.sqlite3").exists()
