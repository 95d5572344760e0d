"""A report stopped while its notebook runs: the last good report stays and no kernel is left."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.cli.newcomer import days_of_year, written
from yieldkit.base import files as store

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc"),
]


def kernels_of(parent):
    """Return the ids of the kernels that a process started."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rsplit(")", 1)[1].split()
            command = stat.with_name("cmdline").read_bytes()
        except OSError:
            continue
        if int(fields[1]) == parent and b"ipykernel" in command and fields[0] != "Z":
            found.append(int(stat.parent.name))
    return found


def running(pid):
    """Return whether a process is there and not only waiting to be counted."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


def wait_for(found, limit_s):
    """Return the first true answer of a question, or its last answer when time is up."""
    until = time.monotonic() + limit_s
    answer = found()
    while not answer and time.monotonic() < until:
        time.sleep(0.05)
        answer = found()
    return answer


@pytest.mark.usefixtures("interruptible")
@pytest.mark.parametrize(
    ("number", "code", "after_s"),
    [
        (signal.SIGINT, 130, 0.3),
        (signal.SIGTERM, 143, 2.5),
        (signal.SIGKILL, -9, 1.0),
    ],
)
def test_last_good_report_survives_and_no_kernel_is_left(number, code, after_s, tmp_path):
    store.write_text(tmp_path / "compare_wirings.html", "last good report")
    days_of_year(tmp_path / "june.csv", "06-01", "06-03")
    site = written(tmp_path / "my.yaml", weather={"file": "june.csv"})
    process = subprocess.Popen(
        [sys.executable, "-m", "yieldkit", "compare", str(site), "--out", str(tmp_path)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        wait_for(lambda: kernels_of(process.pid) or process.poll() is not None, 300.0)
        kernels = kernels_of(process.pid)
        assert len(kernels) == 1
        time.sleep(after_s)
        os.kill(process.pid, number)
        _, told = process.communicate(timeout=30)
    finally:
        process.kill()
        process.wait()
    assert process.returncode == code
    assert "Traceback" not in told
    assert wait_for(lambda: not running(kernels[0]), 20.0)
    assert (tmp_path / "compare_wirings.html").read_text() == "last good report"
    assert store.damaged(tmp_path) == ()
