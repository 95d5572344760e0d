"""Whole commands killed while they write: one run in the folder, or it is called unfinished."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.amounts import amount

COMMANDS = [("compare", 0, 4), ("propose", 0, 4)][: amount(1, 2)]
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="this system can't fork"),
]


@pytest.fixture(scope="module", params=COMMANDS, ids=lambda it: it[0])
def lines(request, tmp_path_factory):
    """Return what a command left that was killed with and without its report."""
    folder = tmp_path_factory.mktemp("commands")
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "tests.base.killed_commands",
            str(folder),
            *map(str, request.param),
        ],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
        cwd=Path(__file__).parents[2],
    )
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    return [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]


def test_every_file_bears_one_run_or_the_folder_says_unfinished(lines):
    # A busy machine may let the one or the other end before it is killed.
    assert sum(line["code"] == -9 for line in lines) >= 1
    for line in lines:
        assert line["code"] in (-9, 0, 1)
        assert len(line["runs"]) == 1 or line["unfinished"], line


def test_what_is_left_over_is_never_that_of_two_kills_and_gone_in_the_end(lines):
    assert max(len(line["temporary"]) for line in lines) <= 2
    for line in lines:
        if line["code"] != -9:
            assert line["temporary"] == []
            assert not line["unfinished"]
            assert len(line["runs"]) == 1
    assert lines[-1]["code"] in (0, 1)
