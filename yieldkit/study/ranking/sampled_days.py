"""Ranking on some days only, when it is asked for, and how far off that is."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import IntArray
from yieldkit.base.errors import refuse
from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.wiring_energies.energies import WiringYields, shares_limits, wiring_energies

MOST_DAYS = 30
_BEST, _SPREAD = 10, 10


class Sample(NamedTuple):
    """Days on which wirings were ranked, and how far off that is.

    Parameters
    ----------
    every_days : int
        One day of so many was taken.
    measured : int
        How many wirings were solved on every hour as well: the best, and some down the ranking.
    worst_percent : float
        Largest error of their difference to the best [percentage points].
    best_rank : int
        Place in the sampled ranking of the one that is best on every hour, from 1.
    """

    every_days: int
    measured: int
    worst_percent: float
    best_rank: int

    def sentence(self) -> str:
        """Return what was done and how far off it is."""
        return (
            f"Ranked on one day in {self.every_days} only. {self.measured} wirings were solved on "
            f"every hour as well: differences to the best are off by at most "
            f"{self.worst_percent:.3f} percentage points, and the best of them stood at place "
            f"{self.best_rank}."
        )


def refuse_sampling(site: Site, every_days: int) -> None:
    """Refuse a sample of days that can't be taken.

    Parameters
    ----------
    site : Site
        The site.
    every_days : int
        One day of so many.

    Raises
    ------
    InputError
        For a number out of range; where inputs share a limit, so that each wiring is simulated
        whole.
    """
    if not 1 <= every_days <= MOST_DAYS:
        refuse("every_days", f"{every_days}", f"1 to {MOST_DAYS}")
    if shares_limits(site):
        refuse(
            "every_days",
            f"{every_days}, on an inverter whose inputs share a limit",
            "every hour: each wiring is simulated as a whole there",
            remedy="Leave it out, or narrow what is asked of the wirings.",
        )


def sampled_steps(prepared: Prepared, lit: IntArray, every_days: int) -> IntArray:
    """Return the lit steps of every so many days, from the middle of the first stretch.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    lit : ndarray of int
        All steps with light.
    every_days : int
        One day of so many; 1 takes all.

    Raises
    ------
    InputError
        If none of those days has light, as in weather of a few days.
    """
    times = pd.DatetimeIndex(prepared.weather.indexes["time"])
    local = times + pd.Timedelta(seconds=int(prepared.weather.attrs["utc_offset_s"]))
    day = (local.normalize() - local[0].normalize()).days.to_numpy()[lit]
    chosen: IntArray = lit[day % every_days == every_days // 2]
    if lit.size and not chosen.size:
        refuse(
            "every_days",
            f"{every_days}, on weather that has no light on any of those days",
            "some days with light",
            remedy="Take more days, or leave it out.",
        )
    return chosen


def measured(
    prepared: Prepared,
    yields: WiringYields,
    wiring: Callable[[int], Wiring],
    every_days: int,
) -> Sample | None:
    """Solve some wirings on every hour, put the estimates right by them, and say how far off.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    yields : WiringYields
        Estimates; scaled in place so that the best of them agrees, and exact where measured.
        Wirings that were simulated whole are exact already.
    wiring : callable
        Returns the wiring of a position.
    every_days : int
        One day of so many was taken.
    """
    energy = yields.energy_kwh
    if not energy.size:
        return None
    order = np.argsort(-energy, kind="stable")
    down = np.linspace(0, order.size - 1, min(_SPREAD, order.size)).astype(int)
    ranks = np.union1d(np.arange(min(_BEST, order.size)), down)
    places = order[ranks]
    exact = wiring_energies(prepared, [wiring(int(place)) for place in places])
    estimated = ~yields.solved_whole
    first = np.flatnonzero(estimated[places])[:1]
    if first.size:
        energy[estimated] *= exact[first[0]] / energy[places[first[0]]]
    error = 100.0 * (energy[places] - exact) / exact[0]
    energy[places] = exact
    return Sample(
        every_days, places.size, float(np.abs(error).max()), int(ranks[np.argmax(exact)]) + 1
    )
