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
    sums = (share * nominal).sum(axis=1)
    added = np.diff(np.append(sums, likely), prepend=0.0)
    return Way((*steps, _REST), added)


def _half_a_year(drawing: Drawing, plant: Plant) -> FloatArray:
    """Return what ageing leaves of each month of the first year, everything at its middle."""
    if plant.aged is None:
        return np.ones(12)
    middle = np.array([[np.nan if name == SKY else 0.0 for name in drawing.unsure.names]])
    years = Years(np.ones((1, 12)), np.ones(1))
    left: FloatArray = plant.aged.left(middle, years.level, float(ages_of_life(1)[0]))[0]
    return left
