"""The unknowns of a plant, and what each adds to the spread of its first year."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.study.estimate.contributions import Cause, Contributions, contributions
from yieldkit.study.estimate.drawing import Drawing
from yieldkit.study.estimate.plant import Plant
from yieldkit.study.estimate.unknowns import SKY, YEAR
from yieldkit.study.estimate.weather_years import Years
from yieldkit.study.simulation.period import MONTHS

SAMPLES = 2048
"""Draws of each of the two sets that contributions are reckoned from."""


def plant_contributions(drawing: Drawing, plant: Plant, seed: int) -> Contributions:
    """Return what unknowns add to the spread of a plant's first year.

    Parameters
    ----------
    drawing : Drawing
        What is drawn.
    plant : Plant
        The plant.
    seed : int
        Of the two sets of draws.
    """
    doubts, weather = drawing.unsure, drawing.weather
    both = doubts.points(2 * SAMPLES, seed + 1_000_003)
    rng = np.random.default_rng((seed, 3))
    one, other = both[rng.permutation(2 * SAMPLES)].reshape(2, SAMPLES, -1)
    year = doubts.names.index(YEAR)
    apart = np.concatenate([one, other])[:, [year]]
    drawn = weather.drawn(weather.picks(2 * SAMPLES, 1, seed + 1_000_003), apart)
    factor = np.concatenate([drawn.factor[:, 0], np.ones((1, len(MONTHS)))])
    level = np.append(drawn.level[:, 0], 1.0)

    def energy(numbers: FloatArray, years: IntArray) -> FloatArray:
        own = Years(factor[years], level[years])
        found: FloatArray = plant.year(numbers, own, 0.5).sum(axis=1)
        return found

    return contributions(energy, one, other, causes_of(drawing))


def causes_of(drawing: Drawing) -> tuple[Cause, ...]:
    """Return the unknowns of a plant, columns with one cause together."""
    doubts = drawing.unsure
    found = []
    for name in doubts.causes:
        columns = doubts.of_cause(name)
        middle = tuple(np.nan if doubts.names[at] == SKY else 0.0 for at in columns)
        found.append(Cause(name, tuple(columns), name == YEAR, middle))
    return tuple(found)
