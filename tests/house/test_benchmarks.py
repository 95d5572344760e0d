"""The benchmarks can be collected, and their numbers say which way is better."""

import subprocess
from importlib import import_module

import pytest

from benchmarks import batch
from benchmarks.__main__ import better, modules
from benchmarks.connection import Year
from benchmarks.start import command, cpu_seconds_of_children
from benchmarks.timing import as_installed
from benchmarks.version_jobs import jobs, minute_year
from benchmarks.versions import KEYS, PAIRS, against
from tests.study.sites import weather
from yieldkit.physics.ac.connection_state import ExportLimit
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.study.batch.runs import runs_of


def test_every_module_of_the_folder_has_a_run():
    assert "main_job" in modules()
    for name in modules():
        assert callable(import_module(f"benchmarks.{name}").run), name


def test_the_time_of_commands_is_counted_and_one_that_fails_is_told(tmp_path):
    before = cpu_seconds_of_children()
    command(["new", str(tmp_path / "mine.yaml")])
    assert (tmp_path / "mine.yaml").is_file()
    assert cpu_seconds_of_children() > before
    with pytest.raises(subprocess.CalledProcessError, match="returned non-zero exit status 2"):
        command(["compare", "--no-report", str(tmp_path / "none.yaml")])


@pytest.mark.parametrize(
    ("key", "word"),
    [
        ("a_time_ratio", "smaller"),
        ("compare_four_wirings_s", "smaller"),
        ("sweep_run_ms", "smaller"),
        ("b_speedup", "larger"),
    ],
)
def test_the_ending_of_a_key_says_what_is_better(key, word):
    assert better(key) == word


def test_a_key_that_does_not_say_so_is_refused():
    with pytest.raises(
        ValueError, match="benchmark 'ratio' must end in one of _s, _ms, _time_ratio"
    ):
        better("ratio")


def answering(folder, name, seconds):
    """Return a stand-in for a python, which says of every job that it took so long."""
    path = folder / name
    path.write_text(f"#!/bin/sh\nwhile read -r job; do echo {seconds}; done\n")
    path.chmod(0o755)
    return str(path)


def test_two_versions_do_the_same_jobs_in_turn(tmp_path):
    new, old = answering(tmp_path, "new", 0.5), answering(tmp_path, "old", 2.0)
    found = against(old, {"compare": 3}, new)
    assert found == {
        "compare_vs_old_time_ratio": 0.25,
        "compare_here_s": 0.5,
        "compare_old_s": 2.0,
    }
    assert all(better(key) == "smaller" for key in found)
    assert set(PAIRS) == set(KEYS) == set(jobs())


def test_a_version_that_cannot_start_is_told():
    with pytest.raises(RuntimeError, match=r"no answer from .*version_jobs\.py"):
        against("/bin/false", {"simulate": 1}, "/bin/false")


def test_commands_are_timed_with_byte_code_as_an_installation_has_it(tmp_path, monkeypatch):
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    command(["new", str(tmp_path / "mine.yaml")], as_installed(str(tmp_path / "kept")))
    assert list((tmp_path / "kept").rglob("site_files.*.pyc"))


@pytest.mark.slow
def test_a_job_is_done_by_the_version_that_runs_it():
    assert jobs()["simulate"]() > 0.0


@pytest.mark.slow
def test_the_root_finder_beside_a_connection_point_solves_the_same():
    year = Year(2)
    state = year.solved()
    for hour in (11, 4000, 4001, 8000):
        assert year.by_root_finder(hour) == pytest.approx(state.v_ac[hour], abs=1e-6)
    limited = Year(6).solved(ExportLimit(30e3))
    bright = year.offer[:, 0] > 0.0
    held = (limited.limit == AC_LIMIT["export"]).any(axis=1)
    assert 0.2 < held.sum() / bright.sum() < 0.3


def test_the_minute_year_keeps_the_hours_light():
    hours = weather().isel(time=slice(0, 48))
    minutes = minute_year(hours)
    assert minutes.sizes["time"] == 48 * 60
    assert minutes.attrs["interval_s"] == 60.0
    assert float(minutes["ghi"].mean()) == pytest.approx(float(hours["ghi"].mean()), rel=0.02)


def test_the_batch_of_the_benchmark_has_4800_runs(tmp_path):
    whole = batch.plan(tmp_path, "whole", batch.TILTS, batch.AZIMUTHS, batch.LEADS)
    assert len(runs_of(whole)) == batch.RUNS == 4_800


@pytest.mark.slow
def test_runs_of_the_benchmark_are_done_in_this_process_too(tmp_path):
    least = batch.plan(tmp_path, "least", [28], [250], [18])
    assert len(runs_of(least)) == 16
    assert batch.alone(least, least) > 0.0
    assert 0.0 < batch.simulate_loop(least) < 30.0
