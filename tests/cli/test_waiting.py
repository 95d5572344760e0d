"""What a person reads while nothing else happens: the first run's line, and bars."""

import io
import os
import shutil
import subprocess
import sys
import time

import numpy as np
import pandas as pd
import pytest

import yieldkit
from tests.report.notebooks import saved
from tests.study.sites import demo, variant, weather
from yieldkit.base.errors import InputError
from yieldkit.base.staging import staged
from yieldkit.cli import propose as cli_propose
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.wirings import possible_wirings
from yieldkit.report.page.notebook import run_report
from yieldkit.report.tables.terminal_ranking import proposal_text
from yieldkit.study.ranking.proposal import weigh
from yieldkit.study.results.proposal import DRAWS_FILE, PROPOSAL_FILE
from yieldkit.study.results.ranking import write_ranking

pytestmark = pytest.mark.slow

COMPILES = """
from yieldkit.physics.circuit.components import Breakdown, Bypass, ReversePath
from yieldkit.physics.circuit.diode import Diode
from yieldkit.physics.circuit.group import half_at_voltage, pair_at_voltage
from yieldkit.base.compiling import announced_compiling
diode = Diode(9.0, 1e-10, 0.1, 100.0, 1.5)
reverse = ReversePath(Bypass(1e-6, 0.0287), Breakdown(0.0, -1.0, 1.0))
with announced_compiling(print):
    for _ in range(2):
        half_at_voltage(1.0, diode, reverse.breakdown)
        pair_at_voltage(1.0, diode, diode, reverse)
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
    assert first == [
        "Compiling the solvers, only once on this machine: under a minute, more where it is busy."
    ]
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
        with cli_propose.StoppableBars() as bar:
            for word in ("arrangements", "wirings", "draws"):
                assert not bar.show(word, 1, 64)
                time.sleep(0.12)
                assert not bar.show(word, 3, 64)
    assert all(f"{word}:" in screen.getvalue() for word in ("arrangements", "wirings", "draws"))
    assert "3/64" in screen.getvalue()
    assert pipe.getvalue() == ""


class Shown:
    """Keeps what is told of how far the work is, and stops it at a word if asked."""

    def __init__(self, stop_at=None):
        self.told, self.stop_at = [], stop_at

    def __call__(self, word, done, every):
        self.told.append((word, done, every))
        return word == self.stop_at

    def of(self, word):
        return [(done, every) for what, done, every in self.told if what == word]


def test_the_search_for_wirings_counts_them(monkeypatch):
    shown = Shown()
    found = possible_wirings(demo(), Constraints(leave_at_most=3), progress=shown)
    tried = shown.of("sets of 2 tried")
    assert len(tried) > 2
    assert tried[1][0] == 200
    wirings = [done for done, _ in shown.of("wirings found")]
    assert wirings == list(range(0, len(found.candidates), 500))
    assert len(wirings) > 10
    assert {every for _, _, every in shown.told} == {0}
    # On a terminal that is a bar that counts.
    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    with cli_propose.StoppableBars() as bar:
        bar.show("wirings found", 0, 0)
        time.sleep(0.12)
        bar.show("wirings found", 500, 0)
    assert "wirings found: 500 [" in screen.getvalue()


@pytest.mark.parametrize("word", ["sets of 1 tried", "wirings found"])
def test_a_search_that_is_stopped_ends(word):
    shown = Shown(stop_at=word)
    with pytest.raises(KeyboardInterrupt, match=r"^stopped: 0 (sets of 1 tried|wirings found)"):
        possible_wirings(demo(), progress=shown)
    assert shown.told[-1][0] == word


def test_the_look_for_better_wirings_is_told_as_well():
    days = weather().isel(time=slice(4000, 4072))
    lopsided = variant(wirings=[demo().model_dump()["wirings"][1]])
    shown = Shown()
    yieldkit.compare(lopsided, days).better(shown)
    assert [word for word, _, _ in shown.told if word in ("wirings found", "wirings")]
    done, every = shown.of("arrangements")[-1]
    assert done == every > 10


def test_the_report_tells_how_many_of_its_cells_are_done(tmp_path):
    path = saved(tmp_path / "small.ipynb", "depth = 1", "x = depth", "y = 2")
    shown = Shown()
    run_report(path, {"depth": 2}, tmp_path, progress=shown)
    assert shown.told == [("report", done, 4) for done in (0, 1, 2, 3, 4)]


@pytest.fixture(scope="module")
def ranking():
    days = weather().isel(time=slice(4000, 4120))
    return yieldkit.propose(demo(), Constraints(shortest=7, longest=14), days)


def test_the_report_goes_on_from_the_draws_of_the_command(ranking, tmp_path, monkeypatch):
    first = weigh(ranking, 3, draws=8)
    yieldkit.save(first, tmp_path)
    for name in (
        "ranking.proposal.draw_energies",
        "ranking.proposal.weigh",
        "ranking.propose.rank",
    ):
        monkeypatch.setattr(f"yieldkit.study.{name}", None)
    monkeypatch.setattr("yieldkit.design.permitted.wirings.possible_wirings", None)
    again = yieldkit.load(tmp_path, weather=ranking.prepared.weather)
    np.testing.assert_array_equal(again.drawn.energy_kwh, first.drawn.energy_kwh)
    assert again.drawn.inputs.equals(first.drawn.inputs)
    assert again.judgements == first.judgements
    assert again.best == first.best
    assert again.layouts == first.layouts
    pd.testing.assert_frame_equal(again.table, first.table)
    assert proposal_text(again) == proposal_text(first)


def test_draws_of_something_else_are_refused(ranking, tmp_path):
    yieldkit.save(weigh(ranking, 1, draws=8), tmp_path)
    other = yieldkit.propose(demo(), Constraints(shortest=7, longest=20), ranking.prepared.weather)
    with staged(tmp_path, "propose") as stage:
        write_ranking(other, stage.folder, stage.run)
        for name in (DRAWS_FILE, PROPOSAL_FILE):
            shutil.copyfile(tmp_path / name, stage.folder / name)
        stage.put()
    with pytest.raises(InputError, match=r"results of another set of constraints.*Make them again"):
        yieldkit.load(tmp_path, weather=ranking.prepared.weather)
