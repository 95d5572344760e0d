"""Rankings on some days only, and rankings that were stopped: what is kept, and how far off."""

import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest

from tests.study.sites import demo, variant, weather
from yieldkit.base.errors import InputError
from yieldkit.cli.stoppable import StoppableBars
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.wirings import possible_wirings
from yieldkit.study.ranking.proposal import weigh
from yieldkit.study.ranking.propose import propose, rank
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.uncertainty.draws import draw_energies

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def site_prepared():
    """Return the demonstration site on its weather."""
    return prepare(demo(), weather())


@pytest.fixture(scope="module")
def possible():
    """Return its permitted wirings."""
    return possible_wirings(demo(), Constraints(leave_at_most=1))


@pytest.fixture(scope="module")
def exact(possible, site_prepared):
    """Return them ranked on every hour."""
    return rank(possible, site_prepared)


@pytest.mark.parametrize("every_days", [3, 7])
def test_a_sample_of_days_says_how_far_off_it_is(possible, site_prepared, exact, every_days):
    found = rank(possible, site_prepared, every_days=every_days)
    off = 100.0 * (found.energy_kwh - exact.energy_kwh) / exact.energy_kwh.max()
    # The measured error is that of some of the wirings; over all of them it's of that size.
    assert np.abs(off).max() < 3.0 * found.sample.worst_percent
    assert np.abs(off).max() > 0.0
    assert found.order.size == exact.order.size
    # The best are solved on every hour.
    for rank_found in range(5):
        place = found.order[rank_found]
        assert found.energy_kwh[place] == pytest.approx(exact.energy_kwh[place], rel=1e-12)
    said = found.sample.sentence()
    assert f"one day in {every_days} only" in said
    assert "differences to the best are off by at most" in said
    assert found.sample.best_rank >= 1


def test_every_hour_needs_no_sample(exact):
    assert exact.sample is None


def test_sampling_is_refused_where_each_wiring_is_simulated_whole():
    pairs = {
        "inverter.max_dc_power_pairs": ({"mppts": ("MPPT 1", "MPPT 2"), "max_power_w": 9000.0},)
    }
    with pytest.raises(InputError, match="whose inputs share a limit") as refused:
        propose(variant(pairs), weather=weather(), every_days=5)
    assert "each wiring is simulated as a whole there" in str(refused.value)


def test_wirings_simulated_whole_stay_exact_in_a_sample():
    site = variant({"inverter.max_dc_power_w": 9000.0})
    prepared = prepare(site, weather())
    few = possible_wirings(site, Constraints(shortest=7, longest=14))
    exact, found = rank(few, prepared), rank(few, prepared, every_days=3)
    assert found.solved_whole > 0
    off = np.abs(found.energy_kwh - exact.energy_kwh) / exact.energy_kwh
    # As many as were simulated whole agree to the last digits, however much the days differ.
    assert (off < 1e-12).sum() >= found.solved_whole
    assert 100.0 * off.max() < 3.0 * found.sample.worst_percent + 1e-9


def test_a_sample_without_a_lit_day_is_refused():
    with pytest.raises(InputError, match="no light on any of those days") as refused:
        propose(demo(), weather=weather().isel(time=slice(3600, 3648)), every_days=20)
    assert "Take more days, or leave it out." in str(refused.value)


@pytest.mark.parametrize("every_days", [0, 31, -2])
def test_a_sample_out_of_range_is_refused(every_days):
    with pytest.raises(InputError, match="expected 1 to 30"):
        propose(demo(), weather=weather(), every_days=every_days)


def stopping(word, after):
    """Return a progress that stops one piece of work."""
    return lambda what, done, _every: what == word and done >= after


def test_a_stop_keeps_the_wirings_ranked_so_far(possible, site_prepared, exact):
    found = rank(possible, site_prepared, stopping("wirings", 1))
    assert 0 < found.order.size < exact.order.size
    for place in found.order[:20]:
        assert found.energy_kwh[place] == exact.energy_kwh[place]
    assert np.isnan(found.energy_kwh).sum() == exact.order.size - found.order.size
    assert (np.diff(found.energy_kwh[found.order]) <= 0.0).all()
    said = weigh(found, 3, draws=0).answer()
    assert said.startswith(f"Of {found.order.size:,} ranked of {exact.order.size:,} wirings")


def test_a_stop_between_arrangements_keeps_what_they_answer(possible, site_prepared, exact):
    found = rank(possible, site_prepared, stopping("arrangements", 60))
    assert 0 < found.order.size < exact.order.size
    place = found.order[0]
    assert found.energy_kwh[place] == exact.energy_kwh[place]


def test_a_stop_between_whole_solutions_keeps_them():
    site = variant({"inverter.max_dc_power_w": 9000.0})
    few = possible_wirings(site, Constraints(shortest=7, longest=14))
    found = rank(few, prepare(site, weather()), stopping("wirings solved whole", 2))
    assert 0 < found.order.size < len(few.candidates)
    assert np.isfinite(found.energy_kwh[found.order]).all()


def test_a_stop_between_draws_keeps_them(site_prepared):
    whole = draw_energies(site_prepared, demo().wirings[:2], 8)
    found = draw_energies(site_prepared, demo().wirings[:2], 8, progress=stopping("draws", 3))
    assert found.energy_kwh.shape == (3, 2)
    assert len(found.inputs) == 3
    assert (found.energy_kwh == whole.energy_kwh[:3]).all()


def test_few_draws_before_a_stop_say_nothing_of_differences(exact):
    assert weigh(exact, 2, draws=16, progress=stopping("draws", 2)).judgements == ()


@pytest.mark.usefixtures("interruptible")
def test_the_first_interrupt_stops_and_the_second_ends(capsys):
    with StoppableBars() as bar:
        assert not bar.show("wirings", 1, 2)
        signal.raise_signal(signal.SIGINT)
        assert bar.show("wirings", 2, 2)
        assert "what is done so far is kept" in capsys.readouterr().err
        with pytest.raises(KeyboardInterrupt, match=r"^$"):
            signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


@pytest.mark.usefixtures("interruptible")
def test_an_interrupted_command_keeps_its_ranking(tmp_path):
    # Inputs that share a limit: minutes of work, so that the interrupt meets it half-way.
    source = subprocess.run(
        [
            sys.executable,
            "-c",
            "from yieldkit.config.site.files import site_text; print(site_text())",
        ],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    pairs = "    - {mppts: [MPPT 1, MPPT 2], max_power_w: 16000}\n"
    (tmp_path / "site.yaml").write_text(
        source.replace("inverter:\n", "inverter:\n  max_dc_power_pairs:\n" + pairs, 1),
        encoding="utf-8",
    )
    # A slow machine may need longer before the first wiring is ranked.
    for patience in (8.0, 16.0, 32.0, 64.0):
        said, remarks, code = interrupted_after(patience, tmp_path)
        if "ranked of" in said:
            break
    assert code == 130, remarks
    assert "ranked of" in said
    assert "Stopped: what was ranked so far is kept; there is no report." in remarks
    assert "Traceback" not in remarks
    table = (tmp_path / "yieldkit-report" / "ranking.csv").read_text(encoding="utf-8")
    assert len(table.splitlines()) >= 2
    assert not (tmp_path / "yieldkit-report" / "propose_wirings.html").exists()


def interrupted_after(seconds, folder):
    """Run the command, interrupt it, and return what it said, its remarks and exit code."""
    done = subprocess.Popen(
        [sys.executable, "-m", "yieldkit", "propose", "site.yaml", "--leave-out", "2"],
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    time.sleep(seconds)
    done.send_signal(signal.SIGINT)
    said, remarks = done.communicate(timeout=120)
    return said, remarks, done.returncode
