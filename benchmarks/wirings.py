"""Every permitted wiring ranked, against composing each wiring's trackers on grids.

`python -m benchmarks.wirings` draws how the time grows with arrangements and with wirings.
"""

import time
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

import yieldkit
from benchmarks.engine import GRID, as_module, current_on_grid
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.wirings import Possible, possible_wirings
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.study.ranking.propose import rank
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.weather import site_weather

AT_LEAST = 10_000
SAMPLE = 20


def grid_tracker(
    lit: CellConditions, pieces: tuple[tuple[tuple[int, int], ...], ...]
) -> np.ndarray:
    """One tracker on a grid of voltages: every string's current, summed and maximised."""
    modules = [as_module(lit, plane) for ((plane, _count),) in pieces]
    counts = [count for ((_plane, count),) in pieces]
    highest = np.max(
        [
            count * each[4] * np.log1p(each[0] / each[1])
            for count, each in zip(counts, modules, strict=True)
        ],
        axis=0,
    )
    volts = np.linspace(0.0, 1.0, GRID) * highest
    total = sum(
        current_on_grid(volts / count, *each) for count, each in zip(counts, modules, strict=True)
    )
    return (volts * total).max(axis=1)


def grid_wiring_s(possible: Possible, prepared: Prepared) -> float:
    """Return the mean time of composing a wiring's trackers on grids [s], on a sample."""
    conditions = prepared.conditions
    lit = (conditions.photocurrent > 0.0).all(axis=1)
    some = CellConditions(*(np.ascontiguousarray(part[lit]) for part in conditions))
    chosen = np.random.default_rng(1).choice(len(possible.candidates), SAMPLE, replace=False)
    started = time.perf_counter()
    for place in chosen:
        for _mppt, arrangement in possible.placed(possible.candidates[place]):
            grid_tracker(some, arrangement.pieces)
    return (time.perf_counter() - started) / SAMPLE


def ranked_s(leave: int, prepared: Prepared) -> tuple[Possible, float]:
    """Return what is possible and the time of finding and ranking it [s]."""
    started = time.perf_counter()
    possible = possible_wirings(prepared.site, Constraints(leave_at_most=leave))
    rank(possible, prepared)
    return possible, time.perf_counter() - started


def run() -> dict[str, float]:
    """Return the times of ranking every permitted wiring of the demonstration building."""
    site = yieldkit.load_site()
    prepared = prepare(site, site_weather(site))
    few, _warm = ranked_s(0, prepared)
    _few, few_s = ranked_s(0, prepared)
    leave = 1
    while len(possible_wirings(site, Constraints(leave_at_most=leave)).candidates) < AT_LEAST:
        leave += 1
    many, many_s = min((ranked_s(leave, prepared) for _ in range(3)), key=lambda pair: pair[1])
    count = len(many.candidates)
    by_grid = grid_wiring_s(many, prepared)
    return {
        "wirings_ranked_10000_s": many_s,
        "wirings_few_ranked_s": few_s,
        "one_more_wiring_s": (many_s - few_s) / (count - len(few.candidates)),
        "one_wiring_on_grids_s": by_grid,
        "wiring_speedup": by_grid / (many_s / count),
    }


def growth(folder: Path) -> Path:
    """Draw time against distinct arrangements and against wirings; return the figure's path."""
    site = yieldkit.load_site()
    prepared = prepare(site, site_weather(site))
    ranked_s(0, prepared)
    points = []
    for leave in range(6):
        possible, seconds = ranked_s(leave, prepared)
        used = {(k, c) for each in possible.candidates for k, own in enumerate(each) for c in own}
        points.append((len(used), len(possible.candidates), seconds))
    arrangements, wirings, seconds = zip(*points, strict=True)
    figure = Figure(figsize=(7.4, 3.0), layout="constrained")
    for axes, counts, word in zip(
        figure.subplots(1, 2),
        (arrangements, wirings),
        ("distinct arrangements", "wirings"),
        strict=True,
    ):
        axes.plot(counts, seconds, marker="o", color="black")
        axes.set_xlabel(word)
        axes.set_ylabel("found and ranked, s")
        axes.set_ylim(bottom=0.0)
    path = folder / "wirings-growth.png"
    figure.savefig(path, dpi=120)
    return path


if __name__ == "__main__":
    print(growth(Path.cwd()))
