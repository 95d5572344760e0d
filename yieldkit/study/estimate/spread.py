"""How much one year's light differs from another's, and by what right that is said."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import IntArray
from yieldkit.base.errors import refuse
from yieldkit.study.simulation import whole_years
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.soiling import months

MEASURED, STATED, BLOCKS = "measured years", "stated", "blocks of days"
_MONTHS = 12
ENOUGH_YEARS = 5
"""Fewer years than these don't tell how much years differ; common practice, no source."""


class Spread(NamedTuple):
    """How much one year's light differs from another's.

    Parameters
    ----------
    kind : str
        `MEASURED`, `STATED` or `BLOCKS`.
    percent : float
        Standard deviation of a year's global irradiation [%].
    source : str
        Where it comes from, in words.
    years : int
        Years of weather at hand.
    """

    kind: str
    percent: float
    source: str
    years: int

    def of_mean(self) -> float:
        """Return how far the mean of the years at hand may lie from the long-term one [%]."""
        return self.percent / float(np.sqrt(self.years)) if self.kind == MEASURED else 0.0


def years_at_hand(prepared: Prepared) -> tuple[IntArray, ...]:
    """Return the steps of each year that a site's weather holds, the whole ones only.

    Parameters
    ----------
    prepared : Prepared
        The site on weather of at least one year.

    Raises
    ------
    InputError
        If several files make up a year and none of them is one.
    """
    weather = prepared.weather
    if prepared.period.averaged == 1:
        return (np.arange(weather.sizes["time"]),)
    times = weather.indexes["time"]
    found = []
    for each in whole_years.weather_years(weather):
        if np.unique(months(each.weather)).size == _MONTHS:
            found.append(np.flatnonzero(times.isin(each.weather.indexes["time"])))
    if not found:
        refuse(
            "weather.file",
            "files of which none holds twelve months in a row",
            "at least one whole year, for years are drawn from whole ones",
            remedy="Give a year that is whole, or `yieldkit simulate` for the mean of these",
        )
    return tuple(found)


def spread_of(prepared: Prepared, at_hand: Sequence[IntArray]) -> Spread:
    """Return how much years differ: as those at hand show it, as stated, or by blocks of days.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    at_hand : sequence of ndarray of int
        From `years_at_hand`.

    Returns
    -------
    Spread
        A stated one goes before that of fewer than `ENOUGH_YEARS` years.
    """
    said, number = prepared.site.estimate.year_to_year, len(at_hand)
    if said is not None and number < ENOUGH_YEARS:
        return Spread(STATED, said.spread_percent, str(said.source), number)
    if number == 1:
        return Spread(BLOCKS, 0.0, "blocks of five days of the same month", 1)
    ghi = np.nan_to_num(prepared.weather["ghi"].to_numpy())
    light = np.array([ghi[steps].sum() for steps in at_hand])
    percent = 100.0 * float(light.std(ddof=1) / light.mean())
    return Spread(MEASURED, percent, f"the {number} years of weather given", number)
