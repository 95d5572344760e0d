"""The way from the nominal figure of a site file to the likely one, step by step."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.study.estimate.ageing import ages_of_life
from yieldkit.study.estimate.drawing import Drawing
from yieldkit.study.estimate.plant import Plant
from yieldkit.study.estimate.unknowns import EVENLY_BRIGHT, SKY, SNOW_UNSTATED
from yieldkit.study.estimate.weather_years import Years
from yieldkit.study.uncertainty.drawn_site import SKIES

NOMINAL, LIKELY = "nominal", "likely"
_WORTH_TELLING = 0.001
"""Share of the energy from which on an uneven draw has a step of its own [1]."""
_REST = "median of all draws against everything at its middle"


class Way(NamedTuple):
    """Steps from the nominal to the likely figure; they add up exactly.

    Parameters
    ----------
    steps : tuple of str
        The first is the nominal figure itself.
    energy : ndarray
        What each adds [kWh] (step,).
    """

    steps: tuple[str, ...]
    energy: FloatArray


def way_to_likely(
    drawing: Drawing, plant: Plant, outages: FloatArray, hidden: FloatArray, likely: float
) -> Way:
    """Return the way from nominal to likely, by whole runs with one thing after another moved.

    Parameters
    ----------
    drawing : Drawing
        What is drawn.
    plant : Plant
        The plant, for its first half year's ageing.
    outages : ndarray
        What outages leave of each month [1] (month,).
    hidden : ndarray
        What fluctuation within the steps leaves of each month [1] (month,).
    likely : float
        Median of the draws [kWh].
    """
    row = drawing.unsure.base_row()
    start = drawing.in_usual_year(row) * hidden
    now = start
    steps, states = [NOMINAL], [start]
    for cause in ("soiling", "horizon"):
        moved = row | drawing.middles(cause)
        if moved == row:
            continue
        row, now = moved, drawing.in_usual_year(moved) * hidden
        steps.append(f"{cause} where none is stated")
        states.append(now)
    bright = row | drawing.middles(EVENLY_BRIGHT)
    each = [bright | {SKY: (at + 0.5) / len(SKIES)} for at in range(len(SKIES))]
    now = np.mean([drawing.in_usual_year(own) for own in each], axis=0) * hidden
    steps.append("other models of the sky")
    states.append(now)
    snow = drawing.middles(SNOW_UNSTATED)
    for name, left in (
        (
            "snow where none is stated",
            1.0 - snow.get(SNOW_UNSTATED, 0.0) / 100.0 * plant.model.frosty,
        ),
        ("outages by month", outages),
        ("half a year's ageing", _half_a_year(drawing, plant)),
    ):
        if (left != 1.0).any():
            now = now * left
            steps.append(name)
            states.append(now)
    # What was run is one year at hand; its steps are laid on the months of the mean year.
    nominal = drawing.weather.nominal * hidden
    share = np.divide(np.array(states), start, out=np.ones((len(states), 12)), where=start != 0.0)
    sums = list((share * nominal).sum(axis=1))
    for cause, shift in _uneven(drawing, plant):
        steps.append(f"{cause}, whose draws cost more than they gain")
        sums.append(sums[-1] * (1.0 + shift))
    added = np.diff(np.append(sums, likely), prepend=0.0)
    return Way((*steps, _REST), added)


def _uneven(drawing: Drawing, plant: Plant) -> list[tuple[str, float]]:
    """Return causes that cost more to one side than they gain to the other, and what share."""
    number = len(drawing.numbers)
    middle = np.repeat(_middle(drawing), number, axis=0)
    usual = Years(np.ones((number, 12)), np.ones(number))
    base = float(plant.year(middle[:1], usual.first(1), 0.0).sum())
    found = []
    for cause in drawing.unsure.causes:
        columns = drawing.unsure.of_cause(cause)
        numbers = middle.copy()
        numbers[:, columns] = drawing.numbers[:, columns]
        mean = float(plant.year(numbers, usual, 0.0).sum(axis=1).mean())
        if mean / base - 1.0 < -_WORTH_TELLING:
            found.append((cause, mean / base - 1.0))
    return found


def _middle(drawing: Drawing) -> FloatArray:
    """Return the draw with everything at its middle (1, column)."""
    return np.array([[np.nan if name == SKY else 0.0 for name in drawing.unsure.names]])


def _half_a_year(drawing: Drawing, plant: Plant) -> FloatArray:
    """Return what ageing leaves of each month of the first year, everything at its middle."""
    if plant.aged is None:
        return np.ones(12)
    left: FloatArray = plant.aged.left(_middle(drawing), np.ones(1), float(ages_of_life(1)[0]))[0]
    return left
