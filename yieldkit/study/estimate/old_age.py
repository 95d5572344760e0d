"""What age leaves of a plant's energy: run whole at a few ages, never a share of its power."""

from __future__ import annotations

from functools import partial
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.base.progress import Progress
from yieldkit.study.estimate.ageing import power_left
from yieldkit.study.estimate.drawing import Drawing, each_run
from yieldkit.study.estimate.model import Features, residual_percent
from yieldkit.study.estimate.response import Response, fitted
from yieldkit.study.estimate.unknowns import AGEING, EVENLY_BRIGHT, SNOW_UNSTATED

_OF_AGE = 4
"""Of so many draws that ran whole one is run at each age: ageing changes draws more alike than they
differ."""


class Aged(NamedTuple):
    """What age leaves of the energy.

    Parameters
    ----------
    ages : tuple of float
        Ages that were run beside the new plant's [years].
    course : str
        How power falls.
    lost : ndarray
        Power lost at those ages with everything at its middle [1] (age,).
    logs : ndarray
        Logarithms of each month's energy then over the new plant's (age, month).
    responses : tuple of Response
        What draws add to that logarithm at each of these ages.
    features : Features
        How drawn numbers enter.
    residual_percent : float
        Root mean square of what runs at these ages leave unexplained, each left out [%].
    """

    ages: tuple[float, ...]
    course: str
    lost: FloatArray
    logs: FloatArray
    responses: tuple[Response, ...]
    features: Features
    residual_percent: float

    def left(self, numbers: FloatArray, level: FloatArray, age_years: float) -> FloatArray:
        """Return what is left of each month's energy at an age [1] (draw, month).

        With everything at its middle it follows the parabola, in the power lost, through the plant
        as it was run; what draws add follows one in the age.
        """
        found = self.usual(power_lost(self.features, numbers, age_years, self.course))
        at = self.features.of(numbers, level)
        for own, response in zip(self.ages, self.responses, strict=True):
            found = found + _parabola(age_years, own, (0.0, *self.ages)) * response.at(at)
        return np.asarray(np.exp(found))

    def usual(self, lost: FloatArray) -> FloatArray:
        """Return the logarithm of what is left of each month's energy (draw, month).

        Parameters
        ----------
        lost : ndarray
            Power lost, everything else at its middle [1] (draw,).
        """
        nodes = (0.0, *(float(own) for own in self.lost))
        weights = np.stack([_parabola(lost, own, nodes) for own in nodes[1:]], axis=1)
        return np.asarray(weights @ self.logs)


def _parabola(at: FloatArray | float, own: float, nodes: tuple[float, ...]) -> FloatArray | float:
    """Return the weight of a node in the polynomial through all of them."""
    weight: FloatArray | float = 1.0
    for node in nodes:
        if node != own:
            weight = weight * (at - node) / (own - node)
    return weight


def power_lost(
    features: Features, numbers: FloatArray, age_years: float, course: str
) -> FloatArray:
    """Return the power that each draw's modules have lost at an age [1] (draw,).

    Parameters
    ----------
    features : Features
        Knows the draws' columns.
    numbers : ndarray
        The draws (draw, column).
    age_years : float
        Age [years].
    course : str
        How power falls.
    """
    at = features.unsure.names.index(AGEING)
    _, middle, spread = features.unsure.columns[at].fills[0]
    rates = np.maximum(middle + spread * numbers[:, at], 0.0)
    return np.array([1.0 - float(power_left(rate, age_years, course)) for rate in rates])


def aged_from_runs(
    drawing: Drawing, new: FloatArray, ages: tuple[float, ...], tell: Progress
) -> Aged:
    """Run the plant at some ages: everything at its middle, and some of the draws.

    Parameters
    ----------
    drawing : Drawing
        What is drawn.
    new : ndarray
        Months of draws of the new plant that ran whole [kWh] (run, month).
    ages : tuple of float
        The ages [years].
    tell : callable
        As for `plant_from_runs`.
    """
    number = max(len(new) // _OF_AGE, 1)
    numbers, years = drawing.numbers[:number], drawing.first_years(number)
    features = Features(drawing.unsure, (SNOW_UNSTATED,))
    course = drawing.subject.site.estimate.ageing.course
    row, rate = middle_row(drawing)
    begin = drawing.in_usual_year(row)
    usual = [_logs(drawing.in_usual_year(row, age), begin) for age in ages]
    lost = np.array([1.0 - float(power_left(rate, age, course)) for age in ages])
    aged = Aged(ages, course, lost, np.array(usual), (), features, 0.0)
    at = features.of(numbers, years.level)
    responses, squares = [], []
    for age in ages:
        old = each_run(partial(drawing.run, age_years=age), range(number), tell, "aged runs")
        common = aged.usual(power_lost(features, numbers, age, course))
        own = _Judge(new[:number] * np.exp(common), old)
        response = fitted(at, _logs(old, new[:number]) - common, own.misfit, free=False)
        responses.append(response)
        squares.append(own.misfit(response.left_out) ** 2)
    return aged._replace(
        responses=tuple(responses), residual_percent=float(np.sqrt(np.mean(squares)))
    )


class _Judge(NamedTuple):
    """Judges what draws are foretold to add to what age leaves of all alike.

    Parameters
    ----------
    alike : ndarray
        Months of the runs with what age leaves of all alike [kWh] (run, month).
    old : ndarray
        Months of the aged runs [kWh] (run, month).
    """

    alike: FloatArray
    old: FloatArray

    def misfit(self, foretold: FloatArray) -> float:
        """Return how far years are from what is foretold for them [%]."""
        years = (np.exp(foretold) * self.alike).sum(axis=1)
        return residual_percent(years, self.old.sum(axis=1))


def middle_row(drawing: Drawing) -> tuple[dict[str, float], float]:
    """Return the draw with everything at its middle, and the yearly loss that it is aged by [%].

    Parameters
    ----------
    drawing : Drawing
        What is drawn.
    """
    row = drawing.unsure.base_row()
    for cause in ("soiling", "horizon", EVENLY_BRIGHT):
        row |= drawing.middles(cause)
    said = drawing.subject.site.estimate.ageing
    rate = said.power_loss_percent_per_year or said.spread_percent_per_year
    return row | {AGEING: rate}, rate


def _logs(old: FloatArray, new: FloatArray) -> FloatArray:
    """Return logarithms of ratios; none for months without energy."""
    ratio = np.divide(old, new, out=np.ones_like(old), where=new > 0.0)
    return np.log(np.maximum(ratio, 1e-6))
