"""Every call to the disk fails once, or from then on: no file that opens is ever wrong."""

import errno
import io
import itertools
import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from yieldkit.base import files as store

pytestmark = pytest.mark.slow

ERRORS = (errno.ENOSPC, errno.EIO, errno.EACCES)


class Disk:
    """Counts the calls that reach the disk and lets the n-th one fail, once or from then on."""

    def __init__(self, fails_at, number, sticky):
        self.calls = 0
        self.fails_at, self.number, self.sticky = fails_at, number, sticky
        self.failed = False

    def call(self, before_failing=lambda: None):
        """Count one call; raise if it is its turn."""
        self.calls += 1
        due = self.calls >= self.fails_at if self.sticky else self.calls == self.fails_at
        if due:
            self.failed = True
            before_failing()
            raise OSError(self.number, os.strerror(self.number))


class FaultyStream:
    """A stream whose writes go past the counter; a failing write leaves half of its data."""

    def __init__(self, stream, disk):
        self._stream, self._disk = stream, disk

    def write(self, data):
        half = (data if isinstance(data, str) else bytes(data))[: len(data) // 2]
        self._disk.call(lambda: (self._stream.write(half), self._stream.flush()))
        return self._stream.write(data)

    def __getattr__(self, name):
        return getattr(self._stream, name)

    def __enter__(self):
        self._stream.__enter__()
        return self

    def __exit__(self, *problem):
        return self._stream.__exit__(*problem)


@pytest.fixture
def faulty(monkeypatch, tmp_path):
    """Return a function that puts a failing disk under everything below the folder."""
    real_open, real_fsync, real_replace, real_os_open = io.open, os.fsync, os.replace, os.open

    def start(disk):
        def opened(file, mode="r", *rest, **more):
            if not str(file).startswith(str(tmp_path)):
                return real_open(file, mode, *rest, **more)
            disk.call()
            stream = real_open(file, mode, *rest, **more)
            return FaultyStream(stream, disk) if set(mode) & set("wax") else stream

        def fsynced(handle):
            disk.call()
            return real_fsync(handle)

        def replaced(source, target, **more):
            disk.call()
            return real_replace(source, target, **more)

        def os_opened(path, *rest, **more):
            disk.call()
            return real_os_open(path, *rest, **more)

        patch = monkeypatch.context()
        under = patch.__enter__()
        under.setattr(io, "open", opened)
        under.setattr(os, "fsync", fsynced)
        under.setattr(os, "replace", replaced)
        under.setattr(os, "open", os_opened)
        return lambda: patch.__exit__(None, None, None)

    return start


def dataset(value):
    """Return a small Dataset filled with one value."""
    return xr.Dataset({"p_dc": (("time", "tracker"), np.full((48, 3), float(value)))})


WRITERS = {
    "text": lambda path, value: store.write_text(path, f"{value} " * 5000),
    "bytes": lambda path, value: store.write_bytes(path, bytes([value]) * 9000),
    "dataset": lambda path, value: store.write_dataset(path, dataset(value)),
}


@pytest.mark.parametrize("sticky", [False, True], ids=["once", "sticky"])
@pytest.mark.parametrize("number", ERRORS, ids=[errno.errorcode[number] for number in ERRORS])
@pytest.mark.parametrize("kind", WRITERS)
def test_nth_call_fails_and_no_file_is_wrong(kind, number, sticky, tmp_path, faulty):
    write = WRITERS[kind]
    path = tmp_path / "result.bin"
    write(path, 1)
    old = path.read_bytes()
    write(tmp_path / "wanted.bin", 2)
    new = (tmp_path / "wanted.bin").read_bytes()
    outcomes = []
    for nth in itertools.count(1):
        path.write_bytes(old)
        disk = Disk(nth, number, sticky)
        stop = faulty(disk)
        try:
            write(path, 2)
            told = False
        except OSError as error:
            assert error.errno == number  # noqa: PT017  # the error of the disk, not a later one
            told = True
        finally:
            stop()
        content = path.read_bytes()
        assert content in (old, new)
        assert told or content == new
        assert store.damaged(tmp_path) == ()
        assert sorted(item.name for item in tmp_path.iterdir()) == sorted(
            ["result.bin", "wanted.bin", store.RECORD]
        )
        outcomes.append(content == new)
        if not disk.failed:
            break
    assert outcomes[-1]
    assert len(outcomes) >= 9
    assert not outcomes[0]


def test_fault_of_a_first_version_leaves_no_file(tmp_path, faulty):
    disk = Disk(2, errno.ENOSPC, sticky=True)
    stop = faulty(disk)
    try:
        with pytest.raises(OSError, match="No space left"):
            store.write_text(tmp_path / "page.html", "page" * 1000)
    finally:
        stop()
    assert list(tmp_path.iterdir()) == []


def test_a_maker_that_fails_leaves_the_old_file(tmp_path):
    path = tmp_path / "page.pdf"
    store.write_text(path, "old")

    def make(part):
        part.write_text("half")
        raise RuntimeError("printing stopped")

    with pytest.raises(RuntimeError, match="printing stopped"):
        store.replace_with(path, make)
    assert path.read_text() == "old"
    assert sorted(item.name for item in tmp_path.iterdir()) == ["page.pdf", store.RECORD]


FULL_DISK = """
import resource, signal, sys
from pathlib import Path
import numpy as np, xarray as xr
from yieldkit.base import files as store

signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
folder, limit = Path(sys.argv[1]), int(sys.argv[2])
rng = np.random.default_rng(3)
ds = xr.Dataset({"v_dc": (("time", "tracker"), rng.random((2000, 10)))})
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
for name, write in (
    ("a.nc", lambda path: store.write_dataset(path, ds)),
    ("a.html", lambda path: store.write_text(path, "x" * 60_000)),
):
    try:
        store.write_dataset(folder / name, ds) if name == "a.nc" else write(folder / name)
        print(name, "written")
    except OSError as error:
        print(name, "told", error.errno)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGXFSZ"), reason="this system has no file size limit")
@pytest.mark.parametrize("limit", [0, 1000, 50_000, 100_000, 10_000_000])
def test_the_systems_own_size_limit_is_told_and_leaves_the_old_files(limit, tmp_path):
    store.write_text(tmp_path / "a.html", "last good report")
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(FULL_DISK), str(tmp_path), str(limit)],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    lines = dict(line.split(" ", 1) for line in done.stdout.splitlines())
    assert set(lines) == {"a.nc", "a.html"}
    for name, outcome in lines.items():
        path = tmp_path / name
        if outcome == "written":
            assert path.is_file()
        else:
            assert outcome == f"told {errno.EFBIG}"
    if lines["a.html"] != "written":
        assert (tmp_path / "a.html").read_text() == "last good report"
    if lines["a.nc"] != "written":
        assert not (tmp_path / "a.nc").exists()
    assert store.damaged(tmp_path) == ()
    assert not list(Path(tmp_path).glob(".part-*"))
    assert (lines["a.nc"] == "written") == (limit >= 10_000_000)
