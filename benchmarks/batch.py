"""A what-if batch of 4,800 runs: five tilts, ten azimuths, four wirings, 24 leads and soilings.

The baselines are what somebody without it would do: the command for every run, and `simulate` for
every variant in one process. Times are of the wall, start of all processes included; the overhead
is processor time of client and workers, once they have begun, over that of the same runs one after
the other in this process without writing anything. What two workers do more than one is taken after
all of them have computed something else.
"""

import itertools
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import psutil

import yieldkit
from benchmarks.start import command
from benchmarks.timing import best_of
from yieldkit.study.batch.cluster import computed_by_workers, local_client
from yieldkit.study.batch.combined import Runs
from yieldkit.study.batch.part_work import Part, run_row
from yieldkit.study.batch.parts import Pace, cut
from yieldkit.study.batch.run import Run, site_of
from yieldkit.study.batch.runs import runs_of
from yieldkit.study.batch.shared import SharedWork

PLAN = """\
axes:
  - kind: key
    name: tilt
    path: planes.west roof.tilt_deg
    values: {tilts}
  - kind: key
    name: azimuth
    path: planes.west roof.azimuth_deg
    values: {azimuths}
  - kind: key
    name: lead
    path: grid.lead.length_m
    values: {leads}
  - kind: key
    name: soiling
    path: planes.west roof.soiling_loss_percent
    values: [0, 1, 2, 4]
wirings: all
"""
RUNS = 4_800
TILTS, AZIMUTHS, LEADS = [20, 24, 28, 32, 36], list(range(240, 290, 5)), [6, 12, 18, 24, 30, 40]
LOOP, SAMPLE = 24, 8


def plan(folder: Path, name: str, tilts: list[int], azimuths: list[int], leads: list[int]) -> Path:
    """Write a plan of the demonstration."""
    path = folder / f"{name}.yaml"
    path.write_text(PLAN.format(tilts=tilts, azimuths=azimuths, leads=leads), encoding="utf-8")
    return path


def sweep_seconds(path: Path, workers: int) -> float:
    """Return how long the command takes to compute a plan into a new folder [s]."""
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        command(["sweep", str(path), "--out", folder, "--workers", str(workers)])
        return time.perf_counter() - began


def processor_seconds() -> float:
    """Return the processor time of this process and of all that it started and that live [s]."""
    here = psutil.Process()
    spent = [each.cpu_times() for each in (here, *here.children(recursive=True))]
    return sum(each.user + each.system for each in spent)


def parts(runs: Runs, chosen: list[Run], folder: Path, run_s: float) -> Iterator[Part]:
    """Give runs as parts of one to two seconds."""
    pace = Pace()
    pace.learn(1, run_s)
    for each in cut(chosen, pace):
        yield Part(str(folder), each, dict(enumerate(runs.bases)))


def worked(path: Path, other: Path, workers: int, run_s: float) -> tuple[float, float]:
    """Return wall and processor time of a plan's runs by workers that have computed another [s]."""
    runs, others = runs_of(path), runs_of(other)
    with tempfile.TemporaryDirectory() as name, local_client(workers) as client:
        folder = Path(name)
        (folder / "parts").mkdir()
        warming = list(others.in_order())
        for _ in computed_by_workers(client, parts(others, warming, folder, 1.0), "workers"):
            pass
        began, spent = time.perf_counter(), processor_seconds()
        chosen = list(runs.in_order())
        for _ in computed_by_workers(client, parts(runs, chosen, folder, run_s), "workers"):
            pass
        return time.perf_counter() - began, processor_seconds() - spent


def alone(path: Path, other: Path) -> float:
    """Return the processor time of a plan's runs in order, in this process, unwritten [s]."""
    work = SharedWork()
    others = runs_of(other)
    for run in itertools.islice(others.in_order(), LOOP):
        run_row(dict(enumerate(others.bases)), run, work)
    runs = runs_of(path)
    bases = dict(enumerate(runs.bases))
    began = time.process_time()
    for run in runs.in_order():
        run_row(bases, run, work)
    return time.process_time() - began


def simulate_loop(path: Path) -> float:
    """Return the time of a run where every variant is simulated for itself [s]."""
    runs = runs_of(path)
    every = list(runs)
    chosen = every[:: max(len(every) // LOOP, 1)][:LOOP]
    yieldkit.simulate(site_of(runs.bases, chosen[0]))
    began = time.perf_counter()
    for run in chosen:
        yieldkit.simulate(site_of(runs.bases, run))
    return (time.perf_counter() - began) / len(chosen)


def run() -> dict[str, float]:
    """Return the time of a run and of a start, and what the batch saves and costs."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        whole = plan(folder, "whole", TILTS, AZIMUTHS, LEADS)
        few = plan(folder, "few", [22, 26], AZIMUTHS, LEADS)
        other = plan(folder, "other", [44], [250], [6, 12])
        least = plan(folder, "least", [28], [250], [18])
        start = sweep_seconds(least, 2)
        one = sweep_seconds(whole, 2) / RUNS
        by_command = best_of(lambda: command(["simulate"]), SAMPLE)
        by_simulate = simulate_loop(whole)
        single, _ = worked(few, other, 1, one)
        double, spent = worked(few, other, 2, one)
        return {
            "sweep_run_ms": 1000.0 * one,
            "sweep_start_s": start,
            "sweep_vs_command_loop_speedup": by_command / one,
            "sweep_vs_simulate_loop_speedup": by_simulate / one,
            "sweep_two_core_speedup": single / double,
            "sweep_overhead_time_ratio": spent / alone(few, other) - 1.0,
        }
