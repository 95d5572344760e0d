"""Seeded random trackers: several planes, lengths, shade, cables, breakdown, half-cut groups."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from tests.physics.circuit.reference import conditions_at
from yieldkit.physics.circuit.api import Breakdown, CellConditions, Run, StringCircuit


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


# Groups of three modules: light [A], saturation [A], series and shunt [ohm] and n Ns Vth [V] at
# 1000 W/m2 and 25 degC: the reference module, one of large cells, one of old small ones.
_GROUPS = (
    (9.45, 3.2e-10, 0.0993, 41.9, 0.5304),
    (18.5, 2.2e-15, 0.05195, 28.434, 0.6324),
    (3.2, 1.9e-8, 0.0935, 47.9, 0.7020),
)


def many_lights(rng: np.random.Generator) -> CellConditions:
    """Return one moment's 2 to 16 lights on one module: far apart, or nearly alike, some dark."""
    il, i0, rs, rsh, a = _GROUPS[int(rng.integers(len(_GROUPS)))]
    number = int(rng.integers(2, 17)) if rng.random() < 0.5 else int(rng.integers(2, 5))
    light = rng.uniform(30.0, 1150.0, number)
    if rng.random() < 0.3:
        light = rng.uniform(60.0, 1100.0) * rng.uniform(0.9, 1.0, number)
    light[1:][rng.random(number - 1) < 0.05] = 0.0
    kelvin = rng.uniform(263.0, 348.0, number)
    ratio = kelvin / 298.15
    with np.errstate(divide="ignore"):
        shunt = rsh * 1000.0 / light
    saturation = i0 * ratio**3 * np.exp(1.121 / 8.617333e-5 * (1.0 / 298.15 - 1.0 / kelvin))
    parts = (
        il * light / 1000.0 * (1.0 + 0.0005 * (kelvin - 298.15)),
        saturation,
        np.full(number, rs),
        shunt,
        a * ratio,
    )
    return CellConditions(*(part[None, :] for part in parts))


def parallel_tracker(seed: int) -> Drawn:
    """Return the tracker of a seed: two to six strings of very different make in parallel."""
    rng = np.random.default_rng((11, seed))
    conditions = many_lights(rng)
    lights = conditions.photocurrent.shape[1]
    blocking = rng.choice(3, p=[0.75, 0.15, 0.1])
    longest = int(rng.choice([6, 15, 30]))
    strings = []
    for _ in range(int(rng.integers(2, 7))):
        most = min(lights, 6 if rng.random() < 0.9 else 16)
        chosen = rng.choice(lights, size=int(rng.integers(1, most + 1)), replace=False)
        runs = tuple(Run(int(each), int(rng.integers(1, longest + 1))) for each in chosen)
        blocked = blocking == 1 or (blocking == 2 and rng.random() < 0.5)
        strings.append(StringCircuit(runs, float(rng.choice([0.0, 0.05, 0.5])), bool(blocked)))
    return Drawn(conditions, tuple(strings), None)
