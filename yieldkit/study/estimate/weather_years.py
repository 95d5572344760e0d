"""Other years at the same place: the years given, or blocks of days, and how much they differ."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr
from scipy.special import ndtri

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.study.estimate.day_blocks import Blocks, Picks, day_blocks
from yieldkit.study.estimate.spread import BLOCKS, Spread
from yieldkit.study.estimate.unknowns import LEVEL, LONG_TERM
from yieldkit.study.simulation.soiling import months
from yieldkit.study.uncertainty.drawn_weather import Drawable, drawable


class DrawnYear(NamedTuple):
    """The weather of one drawn year before its light is drawn.

    Parameters
    ----------
    source : Drawable
        The weather it is made of.
    order : ndarray of int
        The step whose weather each step has (time,).
    level : float
        Factor on its light, so that its sum is the drawn one [1].
    """

    source: Drawable
    order: IntArray
    level: float

    @property
    def weather(self) -> xr.Dataset:
        """The weather it is made of, its clock as it is written."""
        return self.source.weather

    def drawn(self, row: Mapping[str, float]) -> xr.Dataset:
        """Return it under a draw of the light's level, its diffuse share and the clock."""
        return self.source.in_order({**row, LEVEL: total_level(row, self.level)}, self.order)


def total_level(row: Mapping[str, float], level: float) -> float:
    """Return by how much light is above the weather file's [%], from all causes.

    Parameters
    ----------
    row : mapping of str to float
        The draw.
    level : float
        Factor of the year [1].
    """
    lasting = (1.0 + row[LEVEL] / 100.0) * (1.0 + row.get(LONG_TERM, 0.0) / 100.0)
    return 100.0 * (lasting * level - 1.0)


class Years(NamedTuple):
    """The years of draws.

    Parameters
    ----------
    factor : ndarray
        The base case's energy in the year's hours over the mean year's [1] (draw, month).
    level : ndarray
        Factor on the year's light beside them [1] (draw,).
    """

    factor: FloatArray
    level: FloatArray

    def first(self, draws: int) -> Years:
        """Return those of the first draws."""
        return Years(self.factor[:draws], self.level[:draws])


class YearDraws(NamedTuple):
    """Drawn years of every draw.

    Parameters
    ----------
    factor : ndarray
        The base case's energy in the drawn year's hours over that of the mean year [1]
        (draw, year, month).
    level : ndarray
        Factor on the year's light beside those hours [1] (draw, year).
    """

    factor: FloatArray
    level: FloatArray

    def pick(self, year: int) -> Years:
        """Return one year of each draw."""
        return Years(self.factor[:, year], self.level[:, year])


class WeatherYears(NamedTuple):
    """Weather that years are drawn from.

    Parameters
    ----------
    sources : tuple of Drawable
        The years at hand, one or several.
    energy : ndarray
        The base case's energy of each month [kWh] (source, month).
    light : ndarray
        Global irradiation of each year over their mean [1] (source,).
    spread : Spread
        How much years differ.
    blocks : tuple of Blocks
        What of a single year may change places; empty where several years are at hand.
    """

    sources: tuple[Drawable, ...]
    energy: FloatArray
    light: FloatArray
    spread: Spread
    blocks: tuple[Blocks, ...]

    @property
    def nominal(self) -> FloatArray:
        """The base case's energy of the mean year's months [kWh] (month,)."""
        return np.asarray(self.energy.mean(axis=0))

    def picks(self, draws: int, years: int, seed: int) -> Picks:
        """Return what is picked for each year of each draw, the same for the same seed.

        Over the draws each year at hand, and at each place each block, comes as often as any other.
        """
        rng = np.random.default_rng((seed, 1))
        if not self.blocks:
            return Picks(_evenly(rng, draws, years, len(self.sources)), ())
        chosen = tuple(
            _evenly(rng, draws, years * own.number, own.number).reshape(draws, years, own.number)
            for own in self.blocks
        )
        return Picks(np.zeros((draws, years), dtype=np.int64), chosen)

    def drawn(self, picks: Picks, deviation: FloatArray) -> YearDraws:
        """Return energy and light of drawn years.

        Parameters
        ----------
        picks : Picks
            From `picks`.
        deviation : ndarray
            How far each year's light lies from the mean, in standard deviations (draw, year).
        """
        energy, light = self.energy[picks.source], self.light[picks.source]
        for own, chosen in zip(self.blocks, picks.blocks, strict=True):
            energy[:, :, own.month] += own.energy_above(chosen)
            light += own.light_above(chosen)
        nominal = self.nominal
        factor = np.divide(energy, nominal, out=np.ones_like(energy), where=np.abs(nominal) > 1e-9)
        if self.spread.kind == BLOCKS:
            return YearDraws(factor, np.ones_like(light))
        wanted = np.maximum(1.0 + deviation * self.spread.percent / 100.0, 0.1)
        return YearDraws(factor, wanted / light)

    def year(self, picks: Picks, draws: YearDraws, draw: int, year: int = 0) -> DrawnYear:
        """Return the weather of one drawn year."""
        source = self.sources[int(picks.source[draw, year])]
        order = np.arange(source.weather.sizes["time"])
        for own, chosen in zip(self.blocks, picks.blocks, strict=True):
            order[own.steps] = own.steps[chosen[draw, year]]
        return DrawnYear(source, order, float(draws.level[draw, year]))

    def usual(self) -> DrawnYear:
        """Return the year at hand whose energy is nearest the mean, as it is."""
        sums = self.energy.sum(axis=1)
        return as_it_is(self.sources[int(np.argmin(np.abs(sums - sums.mean())))])


def weather_years(
    years: Sequence[xr.Dataset],
    energy_in: Callable[[DrawnYear], FloatArray],
    spread: Spread,
    moves: bool,
) -> WeatherYears:
    """Return weather that years are drawn from.

    Parameters
    ----------
    years : sequence of Dataset
        Canonical weather of each year at hand.
    energy_in : callable
        Gives the base case's energy of each step of a year [kWh] (time,).
    spread : Spread
        How much years differ.
    moves : bool
        Whether the clock may be off.
    """
    sources = tuple(drawable(each, moves) for each in years)
    ghi = [np.nan_to_num(each["ghi"].to_numpy()) for each in years]
    mean = float(np.mean([own.sum() for own in ghi]))
    month = [months(each) for each in years]
    blocks: tuple[Blocks, ...] = ()
    if len(sources) == 1:
        own = sources[0]
        blocks = day_blocks(
            own.blocks,
            month[0],
            ghi[0] / mean,
            lambda order: energy_in(DrawnYear(own, order, 1.0)),
        )
    energy = [energy_in(as_it_is(each)) for each in sources]
    return WeatherYears(
        sources,
        np.array([np.bincount(at, each, 12) for at, each in zip(month, energy, strict=True)]),
        np.array([each.sum() / mean for each in ghi]),
        spread,
        blocks,
    )


def _evenly(rng: np.random.Generator, draws: int, columns: int, number: int) -> IntArray:
    """Return numbers below `number`, in each column each as often, in some order (draw, column)."""
    each = np.arange(draws) % number
    return rng.permuted(np.tile(each[:, None], columns), axis=0)


def as_it_is(source: Drawable) -> DrawnYear:
    """Return a year at hand as it is."""
    return DrawnYear(source, np.arange(source.weather.sizes["time"]), 1.0)


def deviations(draws: int, years: int, seed: int) -> FloatArray:
    """Return how far the light of further years lies from the mean, spread evenly (draw, year).

    Parameters
    ----------
    draws, years : int
        How many.
    seed : int
        Of their order.

    Returns
    -------
    ndarray
        In standard deviations: in each year the same well spread normal numbers in another order.
    """
    rng = np.random.default_rng((seed, 2))
    evenly = ndtri((np.arange(draws) + 0.5) / draws)
    return np.column_stack([rng.permutation(evenly) for _ in range(years)])
