"""Modules that lose power with the years: what is left at an age, and over a plant's life."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.config.site.site import Site

COURSES = {
    "linear": lambda rate, age: np.maximum(1.0 - rate * age, 0.0),
    "compound": lambda rate, age: np.maximum(1.0 - rate, 0.0) ** age,
}
"""How power falls: the share left, by the share lost in a year and the age [years]."""


def power_left(
    loss_percent_per_year: float, age_years: FloatArray | float, course: str
) -> FloatArray:
    """Return what is left of the modules' first power at an age.

    Parameters
    ----------
    loss_percent_per_year : float
        Power lost in a year [%].
    age_years : ndarray or float
        Age of the plant [years], of any shape.
    course : str
        "linear": every year loses the same of the first power, as makers warrant it; "compound":
        the same share of what was left, as measured rates are often given.

    Returns
    -------
    ndarray
        Shares, in the shape of the ages [1].
    """
    left: FloatArray = np.asarray(
        COURSES[course](loss_percent_per_year / 100.0, np.asarray(age_years, dtype=float))
    )
    return left


def ages_of_life(years: int, at: float = 0.5) -> FloatArray:
    """Return the plant's age in each year of its life [years] (year,).

    Parameters
    ----------
    years : int
        Years of the plant's life.
    at : float
        Which part of the year speaks for it: 0 its first day, 0.5 its middle [1].
    """
    return np.arange(years, dtype=float) + at


def life_mean(loss_percent_per_year: float, years: int, course: str, at: float = 0.5) -> float:
    """Return the mean over a plant's life of what is left of its modules' power [1].

    Parameters
    ----------
    loss_percent_per_year, course
        As for `power_left`.
    years, at
        As for `ages_of_life`.
    """
    return float(power_left(loss_percent_per_year, ages_of_life(years, at), course).mean())


def aged(site: Site, age_years: float, loss_percent_per_year: float | None = None) -> Site:
    """Return a site whose modules are so many years old.

    The modules' power falls, at every light alike; what their strings and inverters make of it is
    for a simulation to say: where power is clipped the energy falls less.

    Parameters
    ----------
    site : Site
        The plant as it is new.
    age_years : float
        Its age [years].
    loss_percent_per_year : float, optional
        Power lost in a year [%]; what the site states if left out.
    """
    ageing = site.estimate.ageing
    stated = ageing.power_loss_percent_per_year
    loss = stated if loss_percent_per_year is None else loss_percent_per_year
    left = float(power_left(loss, age_years, ageing.course))
    planes = tuple(
        plane.model_copy(
            update={
                "power_deviation_percent": (100.0 + plane.power_deviation_percent) * left - 100.0
            }
        )
        for plane in site.planes
    )
    return site if left == 1.0 else site.model_copy(update={"planes": planes})
