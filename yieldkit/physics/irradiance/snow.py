"""Snow on modules: what a month's snow takes, and how far a plane is covered step by step."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from pvlib import snow

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.irradiance.module_points import PlaneModules

_BARE_CM = 1.0
"""Snow on the ground below which planes are free [cm]: Ryberg and Freeman (2017), read in pvlib."""


class MonthsOfSnow(NamedTuple):
    """What falls in each month, and the weather of it, each (12,) from January on.

    Parameters
    ----------
    snow_cm : ndarray
        Snow that falls [cm].
    snow_days : ndarray
        Days on which more than 2.5 cm fall.
    relative_humidity : ndarray
        Mean [%].
    temp_air : ndarray
        Mean [degC].
    poa_wh_m2 : ndarray
        Light on the plane through the month [Wh/m2].
    """

    snow_cm: FloatArray
    snow_days: FloatArray
    relative_humidity: FloatArray
    temp_air: FloatArray
    poa_wh_m2: FloatArray


def loss_by_month(
    months: MonthsOfSnow, tilt: float, slant_height_m: float, lower_edge_height_m: float
) -> FloatArray:
    """Return the share of each month's energy that snow takes.

    Parameters
    ----------
    months : MonthsOfSnow
        Snow and weather of the months.
    tilt : float
        Of the plane [deg].
    slant_height_m : float
        From its lower to its upper edge along the slope [m].
    lower_edge_height_m : float
        Its lower edge above what snow falls on from it [m].

    Returns
    -------
    ndarray
        [1] (12,); missing where a month's weather is.

    References
    ----------
    Townsend and Powers (2011), 37th IEEE PVSC, through pvlib.
    """
    found = snow.loss_townsend(
        months.snow_cm,
        months.snow_days,
        tilt,
        months.relative_humidity,
        months.temp_air,
        months.poa_wh_m2,
        slant_height_m,
        lower_edge_height_m,
    )
    return np.asarray(found, dtype=float)


class Sliding(NamedTuple):
    """How snow covers planes and slides off them.

    Parameters
    ----------
    covering_cm_per_h : float
        Snow falling faster covers a plane whole [cm/h].
    slides_per_h : float
        Share of an upright plane's height that slides off in an hour [1/h].
    frost_light_w_m2 : float
        Light on the plane that lets snow slide in one degree of frost, twice as much in two [W/m2].
    """

    covering_cm_per_h: float = 1.0
    slides_per_h: float = 0.197
    frost_light_w_m2: float = 80.0


def covered_share(
    snowfall: FloatArray,
    poa_global: FloatArray,
    temp_air: FloatArray,
    tilt: float,
    step_s: float,
    sliding: Sliding,
    snow_depth: FloatArray | None = None,
) -> FloatArray:
    """Return how far up a plane is covered by snow: it slides down, so its lower part is.

    Parameters
    ----------
    snowfall : ndarray
        Snow of each step [cm] (time,); missing counts as none.
    poa_global : ndarray
        Light on the plane [W/m2] (time,); missing counts as dark.
    temp_air : ndarray
        [degC] (time,); nothing slides where it is missing.
    tilt : float
        Of the plane [deg].
    step_s : float
        Length of a step [s].
    sliding : Sliding
        How it covers and slides.
    snow_depth : ndarray, optional
        Snow on the ground [cm] (time,); below 1 cm planes are free of it.

    Returns
    -------
    ndarray
        Share of the height along the slope, from its lower edge up [1] (time,).

    References
    ----------
    Marion et al. (2013), Solar Energy 97, 112-121, as pvlib has it.
    """
    hours = step_s / 3600.0
    depth = (
        np.full(snowfall.size, np.inf)
        if snow_depth is None
        else np.nan_to_num(snow_depth, nan=np.inf)
    )
    falling = (np.nan_to_num(snowfall) / hours > sliding.covering_cm_per_h) & (depth >= _BARE_CM)
    air = np.nan_to_num(temp_air, nan=-np.inf)
    slides = air > -np.nan_to_num(poa_global) / sliding.frost_light_w_m2
    amount = sliding.slides_per_h * np.sin(np.radians(tilt)) * hours
    slid = np.where(slides & ~falling, amount, 0.0)
    slid[0] = 0.0
    slid[depth < _BARE_CM] = 1.0
    total = np.cumsum(slid)
    # What slid since it last covered all.
    last = np.maximum.accumulate(np.where(falling, np.arange(snowfall.size), -1))
    left = np.where(last >= 0, 1.0 - (total - total[np.maximum(last, 0)]), 0.0)
    share: FloatArray = np.clip(left, 0.0, 1.0)
    return share


class SnowOnModules(NamedTuple):
    """What snow leaves of modules' light.

    Parameters
    ----------
    darkest : ndarray
        Of the cell of every half group that is covered most [1] (step, module, group, half).
    mean : ndarray
        Mean of a module's cells [1] (step, module).
    """

    darkest: FloatArray
    mean: FloatArray


def snow_on_modules(modules: PlaneModules, covered: FloatArray) -> SnowOnModules:
    """Return what snow leaves of the light of a plane's modules, the lowest rows covered first.

    Parameters
    ----------
    modules : PlaneModules
        The modules and where their cells lie.
    covered : ndarray
        Share of the plane's height covered, from its lower edge up [1] (step,).
    """
    cells = modules.cells
    lower = modules.starts[:, 1].min()
    height = modules.starts[:, 1].max() + modules.size[1] - lower
    edge = lower + covered * height
    under = modules.starts[:, 1, None] + cells.middles[:, 1] - cells.size[1] / 2.0
    steps, parts = covered.size, cells.groups * cells.halves
    darkest = np.empty((steps, len(modules.starts), parts))
    mean = np.empty(darkest.shape[:2])
    # Rows of modules are covered alike.
    rows, row_of = np.unique(under, axis=0, return_inverse=True)
    row_of = row_of.reshape(-1)
    for number, row in enumerate(rows):
        free = 1.0 - np.clip((edge[:, None] - row) / cells.size[1], 0.0, 1.0)
        own = row_of == number
        mean[:, own] = free.mean(axis=1)[:, None]
        for part in range(parts):
            darkest[:, own, part] = free[:, cells.part == part].min(axis=1)[:, None]
    return SnowOnModules(darkest.reshape(*mean.shape, cells.groups, cells.halves), mean)
