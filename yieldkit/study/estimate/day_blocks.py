"""Blocks of days of one year that may change places within their month, and what they then give."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.study.uncertainty.draws import WORKERS


class Picks(NamedTuple):
    """What is picked for each year of each draw.

    Parameters
    ----------
    source : ndarray of int
        Which of the years at hand (draw, year).
    blocks : tuple of ndarray of int
        Of each month, which block of days stands in place of each (draw, year, block).
    """

    source: IntArray
    blocks: tuple[IntArray, ...]


class Blocks(NamedTuple):
    """Blocks of days of one month.

    Parameters
    ----------
    month : int
        Calendar month, January 0.
    steps : ndarray of int
        Their steps (block, step).
    energy : ndarray
        The base case's energy at a place in the month with each block's weather [kWh]
        (place, block): the sun's course is that of the place.
    light : ndarray
        Each one's share of the year's global irradiation [1] (block,).
    """

    month: int
    steps: IntArray
    energy: FloatArray
    light: FloatArray

    @property
    def number(self) -> int:
        """How many there are."""
        return int(self.steps.shape[0])

    def energy_above(self, chosen: IntArray) -> FloatArray:
        """Return by how much blocks in other places give more than as they are [kWh].

        Parameters
        ----------
        chosen : ndarray of int
            Block at each place (draw, year, place).
        """
        found: FloatArray = self.energy[np.arange(self.number), chosen].sum(axis=2)
        return found - float(np.trace(self.energy))

    def light_above(self, chosen: IntArray) -> FloatArray:
        """Return by how much their light is more than as they are, in shares of the year's."""
        found: FloatArray = self.light[chosen].sum(axis=2)
        return found - float(self.light.sum())


def day_blocks(
    steps: tuple[IntArray, ...],
    month: IntArray,
    light: FloatArray,
    energy_in: Callable[[IntArray], FloatArray],
) -> tuple[Blocks, ...]:
    """Return the blocks of days of a year, from whole runs in which all have changed places.

    Parameters
    ----------
    steps : tuple of ndarray of int
        Steps of the blocks of each month (block, step).
    month : ndarray of int
        Calendar month of each step, January 0 (time,).
    light : ndarray
        Each step's share of the year's global irradiation [1] (time,).
    energy_in : callable
        Gives the base case's energy of each step [kWh] (time,) with the weather in another order.

    Returns
    -------
    tuple of Blocks
        So many runs are made as the month of most blocks has: in each all blocks move on by one
        place, so that each has stood in each.
    """
    most = max((own.shape[0] for own in steps), default=0)
    orders = [moved_on(steps, month.size, by) for by in range(most)]
    with ThreadPoolExecutor(WORKERS) as pool:
        runs = list(pool.map(energy_in, orders))
    found = []
    for own in steps:
        number = own.shape[0]
        if not number:
            continue
        energy = np.empty((number, number))
        place = np.arange(number)
        for by in range(number):
            energy[place, (place + by) % number] = runs[by][own].sum(axis=1)
        found.append(Blocks(int(month[own[0, 0]]), own, energy, light[own].sum(axis=1)))
    return tuple(found)


def moved_on(steps: tuple[IntArray, ...], size: int, by: int) -> IntArray:
    """Return the order in which each block has the weather of one so many places on (time,).

    Parameters
    ----------
    steps : tuple of ndarray of int
        Steps of the blocks of each month (block, step).
    size : int
        Steps of the year.
    by : int
        So many places.
    """
    order = np.arange(size)
    for own in steps:
        if own.shape[0]:
            order[own] = np.roll(own, -by, axis=0)
    return order
