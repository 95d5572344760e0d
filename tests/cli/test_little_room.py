"""Limits of the system itself: each is named, exit 2, and nothing half-written is left."""

import os
import shutil
import subprocess
import sys

import pytest

from tests.oracles import missing

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        shutil.which("bash") is None or not hasattr(os, "fork"), reason="needs a POSIX shell"
    ),
]


def under(limits, *given, folder):
    """Run a command under limits of the shell; return its exit code and what it said."""
    line = f'{limits}; exec "$@"'
    done = subprocess.run(
        ["bash", "-c", line, "bash", sys.executable, "-m", "yieldkit", *given],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        cwd=folder,
    )
    return done.returncode, done.stderr


@pytest.mark.parametrize("command", ["check", "compare", "propose", "simulate"])
def test_too_little_address_space_is_told_before_the_compiler_aborts(command, tmp_path):
    code, said = under("ulimit -v 900000", command, folder=tmp_path)
    assert code == 2
    assert said == (
        "yieldkit: memory: got a limit of 922 MB of address space (ulimit -v shows it); expected "
        "at least 1400 MB, even for a small site. Raise the limit.\n"
    )
    assert list(tmp_path.iterdir()) == []


def test_a_limit_on_the_size_of_files_is_named(tmp_path):
    code, said = under("ulimit -f 1", "new", "site.yaml", folder=tmp_path)
    assert code == 2
    assert said == (
        "yieldkit: File too large. A limit on the size of files stands in the way (ulimit -f shows "
        "it). Nothing half-written was left behind.\n"
    )
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def small_disk(tmp_path):
    """Give a disk of 4 kB, where one may be mounted."""
    folder = tmp_path / "small"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=4k", "tmpfs", str(folder)]
    if shutil.which("mount") is None or subprocess.run(command, capture_output=True).returncode:
        missing("no disk may be mounted here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_is_named_and_stays_empty(small_disk, tmp_path):
    code, said = under("true", "new", str(small_disk / "site.yaml"), folder=tmp_path)
    assert code == 2
    assert said == (
        "yieldkit: No space left on device. The disk is full: make room, or name a folder on "
        "another one. Nothing half-written was left behind.\n"
    )
    assert list(small_disk.iterdir()) == []
