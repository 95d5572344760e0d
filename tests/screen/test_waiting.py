"""What a person reads while nothing else happens: the first run's line, and bars."""

import io
import os
import subprocess
import sys
import time

import numpy as np
import pytest

import yieldkit
from tests.study.sites import demo, weather
from yieldkit import cli_propose
from yieldkit.design.constraints import Constraints
from yieldkit.report.text import proposal_text
from yieldkit.study.proposal import weigh
from yieldkit.study.saved_draws import DRAWS_FILE, saved_draws, write_draws
from yieldkit.words.errors import InputError

COMPILES = """
import numpy as np
from yieldkit.physics.circuit_group import half_at_voltage, pair_at_voltage
from yieldkit.study.compiling import compiling_told
with compiling_told(print):
    for _ in range(2):
        half_at_voltage(1.0, np.ones(8), np.ones(8))
        pair_at_voltage(1.0, np.ones(8), np.ones(8), np.ones(8))
"""


def compiled_with(cache):
    """Return what is printed when two small solvers are needed."""
    done = subprocess.run(
        [sys.executable, "-c", COMPILES],
        env={**os.environ, "YIELDKIT_CACHE": cache, "XDG_CACHE_HOME": cache},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_the_first_run_says_once_that_it_compiles_and_the_next_is_silent(tmp_path):
    first = compiled_with(str(tmp_path))
    assert first == ["Compiling the solvers: one to three minutes, only once on this machine."]
    assert compiled_with(str(tmp_path)) == []


def test_without_a_folder_to_keep_them_it_says_that_every_run_compiles():
    said = compiled_with("/dev/null/none")
    assert len(said) == 1
    assert "again in every run, for there is no folder to keep them in" in said[0]


class Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self):
        return True


def test_draws_and_stages_have_a_bar_on_a_terminal_and_none_in_a_pipe(monkeypatch):
    screen, pipe = Screen(), io.StringIO()
    for stream in (screen, pipe):
        monkeypatch.setattr(sys, "stderr", stream)
        with cli_propose.ProgressBar() as bar:
            for word in ("arrangements", "wirings", "draws"):
                assert not bar.told(word, 1, 64)
                time.sleep(0.12)
                assert not bar.told(word, 3, 64)
    assert all(f"{word}:" in screen.getvalue() for word in ("arrangements", "wirings", "draws"))
    assert "3/64" in screen.getvalue()
    assert pipe.getvalue() == ""


@pytest.fixture(scope="module")
def ranking():
    days = weather().isel(time=slice(4000, 4120))
    return yieldkit.propose(demo(), Constraints(shortest=7, longest=14), days)


def test_the_report_goes_on_from_the_draws_of_the_command(ranking, tmp_path, monkeypatch):
    first = weigh(ranking, 3, draws=8)
    write_draws(first, tmp_path, "a run")
    drawn = saved_draws(tmp_path / DRAWS_FILE, ranking)
    np.testing.assert_array_equal(drawn.energy_kwh, first.drawn.energy_kwh)
    assert drawn.inputs.equals(first.drawn.inputs)
    monkeypatch.setattr("yieldkit.study.proposal.draw_energies", None)
    again = weigh(ranking, 3, draws=8, drawn=drawn)
    assert again.judgements == first.judgements
    assert proposal_text(again) == proposal_text(first)
    with pytest.raises(InputError, match="draws: got those of other wirings"):
        weigh(ranking, 1, draws=8, drawn=drawn)


def test_draws_of_something_else_are_refused(ranking, tmp_path):
    write_draws(weigh(ranking, 1, draws=8), tmp_path, "a run")
    days = weather().isel(time=slice(4000, 4120))
    other = yieldkit.propose(demo(), Constraints(shortest=7, longest=20), days)
    with pytest.raises(InputError, match=r"draws of another site.*Draw again\."):
        saved_draws(tmp_path / DRAWS_FILE, other)
