"""A plant in years to come: whole runs, what follows from them, and its energy year by year."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.base.progress import Progress
from yieldkit.study.estimate.ageing import ages_of_life
from yieldkit.study.estimate.drawing import Drawing, each_run
from yieldkit.study.estimate.model import (
    Features,
    Model,
    fitted_model,
    residual_percent,
)
from yieldkit.study.estimate.old_age import Aged, aged_from_runs
from yieldkit.study.estimate.unknowns import AGEING, SNOW_UNSTATED
from yieldkit.study.estimate.weather_years import YearDraws, Years

RUNS = 64
"""Draws that run through the whole chain."""
YEARS_A_DRAW = 5
"""Weathers under which each draw's plant is looked at for the bands of one year."""
MOST_RESIDUAL_PERCENT = 0.8
"""Residual above which more draws run through the whole chain [%]."""


class Plant(NamedTuple):
    """A plant's energy under any draw.

    Parameters
    ----------
    model : Model
        Of the new plant.
    aged : Aged or None
        What age leaves of it; None where nothing ages.
    runs : int
        Draws that ran through the whole chain.
    run_months : ndarray
        Their months, as they came out of the chain [kWh] (run, month).
    residual_percent : float
        Root mean square of what they leave unexplained, each left out [%].
    run_books : ndarray
        What else was booked of them [kWh] (run, booked sum); no columns where nothing is.
    """

    model: Model
    aged: Aged | None
    runs: int
    run_months: FloatArray
    residual_percent: float
    run_books: FloatArray

    def year(self, numbers: FloatArray, years: Years, age_years: float) -> FloatArray:
        """Return the months of a year at an age [kWh] (draw, month)."""
        months = self.model.months(numbers, years)
        if self.aged is None or age_years == 0.0:
            return months
        return months * self.aged.left(numbers, years.level, age_years)

    def one_year(self, numbers: FloatArray, years: YearDraws, plant_year: int) -> FloatArray:
        """Return the months of one year of life under several weathers [kWh] (draw, pick, month).

        Parameters
        ----------
        numbers : ndarray
            The draws (draw, column).
        years : YearDraws
            Drawn years.
        plant_year : int
            Which year of life, from 1 on: its own drawn weather comes first.
        """
        age = float(ages_of_life(plant_year)[-1])
        picks = picks_in(plant_year, years.level.shape[1])
        return np.stack([self.year(numbers, years.pick(at), age) for at in picks], axis=1)


def picks_in(plant_year: int, number: int) -> list[int]:
    """Return under which drawn years a year of life is looked at, its own first.

    Parameters
    ----------
    plant_year : int
        Which year of life, from 1 on.
    number : int
        Years that were drawn.
    """
    return [(plant_year - 1 + more) % number for more in range(min(YEARS_A_DRAW, number))]


def plant_from_runs(
    drawing: Drawing,
    kept: FloatArray,
    frosty: FloatArray,
    ages: tuple[float, ...],
    tell: Progress,
) -> Plant:
    """Run draws through the whole chain until the rest follows from them.

    Parameters
    ----------
    drawing : Drawing
        What is drawn.
    kept, frosty : ndarray
        As of `Model`.
    ages : tuple of float
        Ages to run beside the new plant's [years]; none where nothing ages.
    tell : callable
        Called with a word, how many runs are done and how many there are; a true answer stops.

    Raises
    ------
    KeyboardInterrupt
        If the answer is to stop.
    """
    features = Features(drawing.unsure, (SNOW_UNSTATED, AGEING))
    nominal = drawing.weather.nominal
    rows: list[FloatArray] = []
    wanted = min(RUNS, len(drawing.numbers))
    while True:
        more = range(sum(map(len, rows)), wanted)
        rows.append(each_run(drawing.booked_run, more, tell, "whole runs"))
        made = np.concatenate(rows)
        months = np.ascontiguousarray(made[:, :12])
        years = drawing.first_years(wanted)
        runs = drawing.numbers[:wanted], years, months
        model = fitted_model(features, nominal, runs, kept, frosty)
        foretold = model.restored(model.response.left_out, years.factor)
        residual = residual_percent(foretold.sum(axis=1), months.sum(axis=1))
        if residual <= MOST_RESIDUAL_PERCENT or wanted == len(drawing.numbers):
            break
        wanted = min(2 * wanted, len(drawing.numbers))
    aged = aged_from_runs(drawing, months, ages, tell) if ages else None
    return Plant(model, aged, wanted, months, residual, made[:, 12:])
