"""Seeded random trackers: several planes, lengths, shade, cables, breakdown, half-cut groups."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from tests.engine.reference import conditions_at
from yieldkit.physics.circuit import Breakdown, CellConditions, Run, StringCircuit


class Drawn(NamedTuple):
    """One tracker at one moment."""

    conditions: CellConditions
    strings: tuple[StringCircuit, ...]
    breakdown: Breakdown | None


def drawn_tracker(seed: int, *, half_cut: bool = False) -> Drawn:
    """Return the tracker of a seed: one to three strings of one to four lights."""
    rng = np.random.default_rng(seed)
    lights = int(rng.integers(1, 5))
    irradiance = rng.uniform(20.0, 1150.0, lights)
    conditions = conditions_at(irradiance, rng.uniform(-10.0, 75.0, lights))
    blocking = bool(rng.random() < 0.3)
    strings = []
    for _ in range(int(rng.integers(1, 4))):
        chosen = rng.choice(lights, size=int(rng.integers(1, lights + 1)), replace=False)
        runs = tuple(
            Run(
                int(each),
                int(rng.integers(1, 31)),
                int(rng.integers(lights)) if half_cut and rng.random() < 0.5 else None,
            )
            for each in chosen
        )
        strings.append(StringCircuit(runs, float(rng.choice([0.0, 0.15, 0.9])), blocking))
    breakdown = Breakdown(2e-3, -110.0, 3.28) if seed % 3 == 0 else None
    return Drawn(conditions, tuple(strings), breakdown)


def repeated(conditions: CellConditions, number: int) -> CellConditions:
    """Return one moment's conditions as that many equal steps."""
    return CellConditions(*(np.repeat(part[:1], number, axis=0) for part in conditions))
