"""A plant in years to come: whole runs, what follows from them, and its energy year by year."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.base.progress import Progress
from yieldkit.study.estimate.ageing import ages_of_life
from yieldkit.study.estimate.model import (
    Features,
    Model,
    Years,
    fitted_model,
    residual_percent,
)
from yieldkit.study.estimate.response import Response, fitted
from yieldkit.study.estimate.runs import Subject, drawn_months
from yieldkit.study.estimate.unknowns import AGEING, SNOW_UNSTATED, Unsure
from yieldkit.study.estimate.weather_years import Picks, WeatherYears, YearDraws

RUNS = 64
"""Draws that run through the whole chain."""
MOST_RESIDUAL_PERCENT = 0.8
"""Residual above which more draws run through the whole chain [%]."""
_OF_AGE = 4
"""Of so many runs one is made at each age: ageing changes draws far more alike than they differ."""
WORKERS = 2


class Drawing(NamedTuple):
    """What is drawn of a plant, in how many draws.

    Parameters
    ----------
    subject : Subject
        The wiring on its site.
    unsure : Unsure
        What is unknown.
    weather : WeatherYears
        Where its years are drawn from.
    numbers : ndarray
        The draws (draw, column).
    picks : Picks
        Years of each draw.
    years : YearDraws
        Their energy and light (draw, year).
    """

    subject: Subject
    unsure: Unsure
    weather: WeatherYears
    numbers: FloatArray
    picks: Picks
    years: YearDraws

    def run(self, draw: int, age_years: float = 0.0) -> FloatArray:
        """Return the months of a draw's first year by the whole chain [kWh] (month,)."""
        year = self.weather.year(self.picks, self.years, draw)
        return drawn_months(self.subject, self.unsure.row(self.numbers[draw]), year, age_years)

    def first_years(self, draws: int) -> Years:
        """Return the first years of the first draws."""
        return Years(self.years.factor[:draws, 0], self.years.level[:draws, 0])


class Aged(NamedTuple):
    """What age leaves of the energy, from whole runs at a few ages.

    Parameters
    ----------
    ages : tuple of float
        Ages that were run beside the new plant's [years].
    responses : tuple of Response
        Of the logarithm of each month's energy over the new plant's, at each of these ages.
    features : Features
        How drawn numbers enter.
    residual_percent : float
        Root mean square of what runs at these ages leave unexplained, each left out [%].
    """

    ages: tuple[float, ...]
    responses: tuple[Response, ...]
    features: Features
    residual_percent: float

    def left(self, numbers: FloatArray, level: FloatArray, age_years: float) -> FloatArray:
        """Return what is left of each month's energy at an age [1] (draw, month).

        Between the ages that were run the logarithm follows the parabola through them.
        """
        at = self.features.of(numbers, level)
        nodes = (0.0, *self.ages)
        found = np.zeros((len(numbers), 12))
        for own, response in zip(self.ages, self.responses, strict=True):
            others = [age for age in nodes if age != own]
            weight = np.prod([(age_years - age) / (own - age) for age in others])
            found += float(weight) * response.at(at)
        return np.exp(found)


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
    """

    model: Model
    aged: Aged | None
    runs: int
    run_months: FloatArray
    residual_percent: float

    def year(self, numbers: FloatArray, years: Years, age_years: float) -> FloatArray:
        """Return the months of a year at an age [kWh] (draw, month)."""
        months = self.model.months(numbers, years)
        if self.aged is None or age_years == 0.0:
            return months
        return months * self.aged.left(numbers, years.level, age_years)

    def life(self, numbers: FloatArray, years: YearDraws) -> FloatArray:
        """Return the months of each year of life [kWh] (draw, year, month)."""
        each = [
            self.year(numbers, Years(years.factor[:, at], years.level[:, at]), float(age))
            for at, age in enumerate(ages_of_life(years.level.shape[1]))
        ]
        return np.stack(each, axis=1)


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
    months = np.zeros((0, 12))
    wanted = min(RUNS, len(drawing.numbers))
    while True:
        more = range(len(months), wanted)
        found = each_run(drawing.run, more, tell, "whole runs")
        months = np.concatenate([months, found])
        years = drawing.first_years(wanted)
        runs = drawing.numbers[:wanted], years, months
        model = fitted_model(features, nominal, runs, kept, frosty)
        foretold = model.restored(model.response.left_out, years.factor)
        residual = residual_percent(foretold.sum(axis=1), months.sum(axis=1))
        if residual <= MOST_RESIDUAL_PERCENT or wanted == len(drawing.numbers):
            break
        wanted = min(2 * wanted, len(drawing.numbers))
    aged = _aged(drawing, months, ages, tell) if ages else None
    return Plant(model, aged, wanted, months, residual)


def _aged(drawing: Drawing, new: FloatArray, ages: tuple[float, ...], tell: Progress) -> Aged:
    """Run some of the draws at each age."""
    number = max(len(new) // _OF_AGE, 1)
    numbers, years = drawing.numbers[:number], drawing.first_years(number)
    features = Features(drawing.unsure, (SNOW_UNSTATED,))
    at = features.of(numbers, years.level)
    responses, squares = [], []
    for age in ages:
        old = each_run(partial(drawing.run, age_years=age), range(number), tell, "aged runs")
        ratio = np.divide(old, new[:number], out=np.ones_like(old), where=new[:number] > 0.0)
        logs = np.log(np.maximum(ratio, 1e-6))

        def misfit(foretold: FloatArray, old: FloatArray = old) -> float:
            found = (np.exp(foretold) * new[:number]).sum(axis=1)
            return residual_percent(found, old.sum(axis=1))

        response = fitted(at, logs, misfit)
        responses.append(response)
        squares.append(misfit(response.left_out) ** 2)
    return Aged(ages, tuple(responses), features, float(np.sqrt(np.mean(squares))))


def each_run(
    work: Callable[[int], FloatArray], draws: Sequence[int], tell: Progress, word: str
) -> FloatArray:
    """Return what draws give, worked on by some threads; any number of them gives the same.

    Parameters
    ----------
    work : callable
        Returns the months of a draw [kWh] (month,).
    draws : sequence of int
        The draws.
    tell : callable
        As for `plant_from_runs`.
    word : str
        What is told to be done.

    Returns
    -------
    ndarray
        (draw, month).
    """
    with ThreadPoolExecutor(WORKERS) as pool:
        found = [pool.submit(work, draw) for draw in draws]
        try:
            made = []
            for number, each in enumerate(found):
                made.append(each.result())
                if tell(word, number + 1, len(found)):
                    raise KeyboardInterrupt(f"stopped: {number + 1} {word}")
        finally:  # stopped, interrupted or failed: nobody waits for the others
            pool.shutdown(cancel_futures=True)
    return np.array(made).reshape(len(found), 12)
