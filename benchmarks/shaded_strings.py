"""Strings in shadow, each group in its own light, against solving every group by itself."""

import numpy as np

from benchmarks.engine import HALF_CUT_MODULES, lit_conditions, string_of
from benchmarks.timing import best_of
from yieldkit.physics.circuit.api import CellConditions, Run, StringCircuit, operating_point
from yieldkit.physics.circuit.by_step import operating_point_by_step
from yieldkit.physics.circuit.levels import merged_levels
from yieldkit.physics.circuit.stepped_strings import SteppedString, counted_runs

GROUPS = 3 * HALF_CUT_MODULES
LEVELS = 3
BASELINE_EVERY = 60


def shares(rng: np.random.Generator, steps: int, groups: int, halves: int) -> np.ndarray:
    """Return the light of groups' halves as a share, of three levels a step (step, group, half)."""
    level = rng.uniform(0.15, 1.0, (steps, LEVELS))
    level[:, 0] = 1.0
    pick = rng.integers(0, LEVELS, (steps, groups * halves))
    return np.take_along_axis(level, pick, axis=1).reshape(steps, groups, halves)


def in_light(lit: CellConditions, at: np.ndarray, share: np.ndarray) -> CellConditions:
    """Return cell groups of steps in a share of their light."""
    il, i0, rs, rsh, a = (part[at, 0] for part in lit)
    return CellConditions(il * share, i0, rs, rsh / share, a)


def merged(
    lit: CellConditions, share: np.ndarray, strings: int
) -> tuple[CellConditions, tuple[SteppedString, ...]]:
    """Return groups merged into levels, shared out over strings of one length."""
    levels = merged_levels(1000.0 * share, np.ones(share.shape[:2]))
    halved = np.flatnonzero(levels.light < levels.other)
    partners = np.full(levels.light.size, -1)
    partners[halved] = levels.light.size + np.arange(halved.size)
    steps = np.repeat(np.arange(share.shape[0]), np.diff(levels.first))
    every = np.concatenate([levels.light, levels.other[halved]]) / 1000.0
    made = []
    for groups in np.split(np.arange(share.shape[1]), strings):
        runs = counted_runs(levels, groups, partners, 0)
        made.append(SteppedString(np.concatenate([[0], np.cumsum(runs.number)]), runs.runs))
    return in_light(lit, np.concatenate([steps, steps[halved]]), every), tuple(made)


def one_by_one(lit: CellConditions, share: np.ndarray, strings: int) -> float:
    """Return the power of the same strings with every group a run of its own, summed [W]."""
    flat = share.reshape(share.shape[0], -1)
    at = np.arange(flat.shape[0])
    parts = (in_light(lit, at, flat[:, column]) for column in range(flat.shape[1]))
    conditions = CellConditions(*(np.stack(each, axis=1) for each in zip(*parts, strict=True)))
    halves = share.shape[2]
    circuits: list[StringCircuit] = []
    for groups in np.split(np.arange(share.shape[1]), strings):
        runs = (
            Run(int(g * halves), 1, int(g * halves + 1) if halves > 1 else None) for g in groups
        )
        circuits.append(string_of(*runs))
    return float(operating_point(conditions, circuits).p_dc.sum())


def run() -> dict[str, float]:
    """Return the times of a year of shaded strings; baselines from every 60th lit hour."""
    lit = lit_conditions()
    steps = lit.photocurrent.shape[0]
    found = {}
    for name, strings in (("shaded_string", 1), ("shaded_three_parallel", 3)):
        share = shares(np.random.default_rng(7), steps, strings * GROUPS, 1)

        def year(share: np.ndarray = share, strings: int = strings) -> float:
            return float(operating_point_by_step(*merged(lit, share, strings)).p_dc.sum())

        found[f"{name}_year_s"] = best_of(year, 3)
        some = CellConditions(*(np.ascontiguousarray(part[::BASELINE_EVERY]) for part in lit))
        few = share[::BASELINE_EVERY]

        def baseline(
            some: CellConditions = some, few: np.ndarray = few, strings: int = strings
        ) -> float:
            return one_by_one(some, few, strings)

        found[f"{name}_one_by_one_year_s"] = best_of(baseline, 1) * steps / few.shape[0]
    return found
