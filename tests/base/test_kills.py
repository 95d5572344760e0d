"""A writer killed at any moment: what opens is whole, and the last good file is still there."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from yieldkit.base import files as store

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="this system can't fork"),
]


@pytest.fixture(scope="module")
def killed(tmp_path_factory):
    """Return the folder of a writer killed at 24 moments and in each call, and what it left."""
    folder = tmp_path_factory.mktemp("killed")
    program = Path(__file__).with_name("killed_writer.py")
    done = subprocess.run(
        [sys.executable, str(program), str(folder), "24"],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return folder, [json.loads(line) for line in done.stdout.splitlines()]


def test_24_moments_and_every_call_leave_only_whole_files(killed):
    _, lines = killed
    by_time = [line for line in lines if line["moment"].startswith("time")]
    by_call = [line for line in lines if line["moment"].startswith("call")]
    assert len(by_time) == 24
    assert sum(line["died"] == 9 for line in by_time) >= 12
    assert all(line["died"] == 9 for line in by_call[:-1])
    assert by_call[-1]["died"] == 0
    assert by_call[-1]["versions"] == [2, 2]
    assert len(by_call) >= 17


def test_every_file_left_is_one_that_was_recorded(killed):
    _, lines = killed
    assert [line for line in lines if line["damaged"]] == []


def test_both_the_old_and_the_new_version_were_met(killed):
    _, lines = killed
    met = {tuple(line["versions"]) for line in lines}
    assert met >= {(1, 1), (2, 1), (2, 2)}


def test_what_killed_writers_left_is_swept_when_it_is_old(killed):
    folder, _ = killed
    parts = sorted(folder.glob(".part-*"))
    assert len(parts) >= 5
    assert store.clear_leftovers(folder) == 0
    old = time.time() - 3600.0
    for part in parts[1:]:
        os.utime(part, (old, old))
    assert store.clear_leftovers(folder) == len(parts) - 1
    assert sorted(folder.glob(".part-*")) == parts[:1]
    assert (folder / "result.nc").is_file()


WRITERS = """
import os, sys, time
from pathlib import Path
from yieldkit.base import files as store

path, rounds = Path(sys.argv[1]), int(sys.argv[2])
store.write_text(path, "0" * 20_000)
children = []
for number in range(8):
    pid = os.fork()
    if pid == 0:
        for _ in range(rounds):
            store.write_text(path, str(number) * 20_000)
        os._exit(0)
    children.append(pid)
reads = torn = 0
failed = 0
waiting = list(children)
while waiting or reads < 4_000:
    for pid in list(waiting):
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            waiting.remove(pid)
            failed += status != 0
    text = path.read_text()
    reads += 1
    torn += len(text) != 20_000 or len(set(text)) != 1
print(reads, torn, failed)
"""


def test_eight_writers_of_one_file_are_never_seen_half_done(tmp_path):
    path = tmp_path / "shared.txt"
    done = subprocess.run(
        [sys.executable, "-c", WRITERS, str(path), "40"],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    reads, torn, failed = (int(word) for word in done.stdout.split())
    assert reads >= 4_000
    assert torn == 0
    assert failed == 0
    assert store.damaged(tmp_path) == ()
    assert len(store.recorded(tmp_path)["shared.txt"]) == 8
    assert sorted(item.name for item in tmp_path.iterdir()) == ["shared.txt", store.RECORD]
