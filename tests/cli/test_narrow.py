"""What the commands print keeps to the terminal's columns: 80, 60 and the narrowest, 40."""

import os
import pty
import subprocess
import sys

import pytest

import yieldkit
from tests.study.sites import demo, weather
from yieldkit.report.tables.terminal import comparison_text, proposal_text, result_text
from yieldkit.study.ranking.better import look_for_better
from yieldkit.study.ranking.proposal import weigh


@pytest.fixture(scope="module")
def texts():
    """Return what every command says, as functions of the width."""
    days = weather().isel(time=slice(4000, 4072))
    comparison = yieldkit.compare(demo(), days)
    few = yieldkit.Constraints(shortest=7, longest=14)
    proposal = weigh(yieldkit.propose(demo(), few, days), 2, draws=8)
    better = look_for_better(comparison)
    return {
        "simulate": lambda width: result_text(comparison.results[1][1], width),
        "compare": lambda width: comparison_text(comparison, width, better),
        "propose": lambda width: proposal_text(proposal, width),
    }


@pytest.mark.parametrize("width", [80, 60])
@pytest.mark.parametrize("command", ["simulate", "compare", "propose"])
def test_no_line_is_wider_than_the_terminal(texts, command, width):
    lines = texts[command](width).splitlines()
    assert max(map(len, lines)) <= width
    # The sentences use the room there is.
    assert max(map(len, lines)) > width - 12


def test_the_narrowest_terminal_gives_long_steps_a_line_of_their_own(texts):
    wide, narrow = texts["simulate"](80), texts["simulate"](40)
    assert max(map(len, narrow.splitlines())) <= 40
    assert narrow.split() == wide.split()
    assert "\n  - low-light efficiency\n" in narrow
    lines = wide.splitlines()
    head = next(line for line in lines if line.startswith("input "))
    assert head.split() == ["input", "DC", "energy", "highest", "limited"]
    assert sum(line.startswith("MPPT ") for line in lines) == 3


def test_the_commands_ask_the_terminal(tmp_path):
    main, side = pty.openpty()
    command = [sys.executable, "-m", "yieldkit", "check"]
    running = subprocess.Popen(
        command, stdout=side, stderr=side, cwd=tmp_path, env={**os.environ, "COLUMNS": "60"}
    )
    os.close(side)
    said = b""
    while True:
        try:
            part = os.read(main, 4096)
        except OSError:  # The other end is closed.
            break
        if not part:
            break
        said += part
    os.close(main)
    assert running.wait(60) == 0
    lines = said.decode().replace("\r", "").splitlines()
    assert len(lines) > 40
    assert 48 < max(map(len, lines)) <= 60
