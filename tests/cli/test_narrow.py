"""What the commands print keeps to the terminal's columns: 80, 60 and the narrowest, 40."""

import io
import os
import pty
import subprocess
import sys

import pytest

import yieldkit
from tests.study.sites import demo, weather
from yieldkit.base.plain_text import line_for
from yieldkit.report.tables.terminal import result_text
from yieldkit.report.tables.terminal_comparison import comparison_text
from yieldkit.report.tables.terminal_ranking import proposal_text
from yieldkit.study.ranking.proposal import weigh

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def texts():
    """Return what every command says, as functions of the width."""
    days = weather().isel(time=slice(4000, 4072))
    comparison = yieldkit.compare(demo(), days)
    few = yieldkit.Constraints(shortest=7, longest=14)
    proposal = weigh(yieldkit.propose(demo(), few, days), 2, draws=8)
    better = comparison.better()
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


def on_a_terminal(folder, *arguments):
    """Return a command's exit code and what it says on a terminal of 60 columns."""
    main, side = pty.openpty()
    running = subprocess.Popen(
        [sys.executable, "-m", "yieldkit", *arguments],
        stdout=side,
        stderr=side,
        cwd=folder,
        env={**os.environ, "COLUMNS": "60"},
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
    return running.wait(60), said.decode().replace("\r", "").splitlines()


def test_the_commands_ask_the_terminal(tmp_path):
    done, lines = on_a_terminal(tmp_path, "check")
    assert done == 0
    assert len(lines) > 40
    assert 48 < max(map(len, lines)) <= 60


def test_remarks_and_refusals_are_broken_between_words_on_a_terminal(tmp_path):
    (tmp_path / "site.yaml").write_text("a: 1\n")
    done, lines = on_a_terminal(tmp_path, "check", "site.yaml")
    assert done == 2
    assert len(lines) > 3
    assert max(map(len, lines)) <= 60
    assert line_for(io.StringIO(), "a word " * 20) == ("a word " * 20).strip()
