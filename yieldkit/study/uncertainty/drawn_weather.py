"""Another year of the same months: weather drawn in blocks of days, brighter or darker."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.measured_planes import POA
from yieldkit.physics.irradiance.sun_course import nanoseconds
from yieldkit.study.simulation.daylit_months import present_steps
from yieldkit.weather.readers.on_planes import measured_columns

_BLOCK_DAYS = 5
_DAY_NS = 86_400_000_000_000


class Drawable(NamedTuple):
    """Weather, and what of it may change places; the same for every draw.

    Parameters
    ----------
    weather : Dataset
        Canonical weather (time).
    blocks : tuple of ndarray of int
        Positions of the whole days of each month, in blocks of days (block, step).
    moves : bool
        Whether its clock may be off.
    """

    weather: xr.Dataset
    blocks: tuple[IntArray, ...]
    moves: bool

    def drawn(self, row: Mapping[str, float], seed: int) -> xr.Dataset:
        """Return another year of the same months, brighter or darker, its clock a little off.

        Parameters
        ----------
        row : mapping of str to float
            The draw.
        seed : int
            Of the blocks' order.
        """
        return self.in_order(row, self.order(seed))

    def in_order(self, row: Mapping[str, float], order: IntArray) -> xr.Dataset:
        """Return the weather in another order, brighter or darker, its clock a little off.

        Parameters
        ----------
        row : mapping of str to float
            The draw.
        order : ndarray of int
            The step whose weather each step has (time,).
        """
        weather = self.weather
        level = max(1.0 + row["irradiance level"] / 100.0, 0.5)
        diffuse = max(1.0 + row["diffuse light"] / 100.0, 0.0)
        named = {str(name): weather.variables[name] for name in weather.data_vars}
        drawn = {name: values.to_numpy()[order] for name, values in named.items()}
        drawn.update(_drawn_light(drawn, level, diffuse))
        for name, (quantity, _) in measured_columns(drawn).items():
            if quantity == POA:
                drawn[name] = drawn[name] * level
        variables = {name: ("time", drawn[name], values.attrs) for name, values in named.items()}
        times = weather.variables["time"].to_numpy()
        if self.moves:
            times = times + np.timedelta64(round(60.0 * row["weather's clock"]), "s")
        return xr.Dataset(variables, coords={"time": times}, attrs=weather.attrs)

    def order(self, seed: int) -> IntArray:
        """Return positions that swap blocks of days within their month; days with gaps stay.

        Parameters
        ----------
        seed : int
            Of the blocks' order.
        """
        rng = np.random.default_rng(seed)
        order = np.arange(self.weather.sizes["time"])
        for own in self.blocks:
            for block in own:
                order[block] = own[int(rng.integers(len(own)))]
        return order


def drawable(weather: xr.Dataset, moves: bool) -> Drawable:
    """Return weather ready to be drawn from.

    Parameters
    ----------
    weather : Dataset
        Canonical weather (time).
    moves : bool
        Whether its clock may be off.
    """
    offset_ns = int(weather.attrs["utc_offset_s"]) * 1_000_000_000
    local = nanoseconds(pd.DatetimeIndex(weather.indexes["time"])) + offset_ns
    day = local // _DAY_NS
    first = np.flatnonzero(np.diff(day, prepend=day[0] - 1))
    count = np.diff(first, append=day.size)
    whole = np.logical_and.reduceat(present_steps(weather), first) & (count == count.max())
    month = local[first].view("datetime64[ns]").astype("datetime64[M]")
    within = np.arange(count.max())
    blocks = []
    for own in np.unique(month):
        days = first[whole & (month == own)]
        even = days[: days.size // _BLOCK_DAYS * _BLOCK_DAYS].reshape(-1, _BLOCK_DAYS, 1)
        blocks.append((even + within).reshape(even.shape[0], _BLOCK_DAYS * within.size))
    return Drawable(weather, tuple(blocks), moves)


def _drawn_light(
    light: dict[str, FloatArray], level: float, diffuse: float
) -> dict[str, FloatArray]:
    """Return brighter light with another share of it diffuse; global, direct, diffuse close."""
    ghi, dhi = light["ghi"], light["dhi"]
    direct = np.maximum(ghi - dhi, 0.0)
    changed = np.minimum(dhi * diffuse, np.maximum(ghi, dhi))
    left = np.divide(
        np.maximum(ghi - changed, 0.0), direct, out=np.ones_like(ghi), where=direct > 0.0
    )
    return {"ghi": ghi * level, "dhi": changed * level, "dni": light["dni"] * left * level}
