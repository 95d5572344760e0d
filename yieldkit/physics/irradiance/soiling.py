"""Light that dirt takes from modules, from the rain that washes it off."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
from pvlib import soiling

from yieldkit.base.arrays import FloatArray

_YEAR_S = 360 * 86_400


def soiling_by_day(
    rain: FloatArray,
    step_s: float,
    *,
    loss_per_day: float,
    cleaning_rain_mm: float,
    damp_days: int,
    most_loss: float,
) -> FloatArray:
    """Return the share of light lost to dirt that grows by the same loss every day.

    Parameters
    ----------
    rain : ndarray
        Rain of each step [mm] (time,); missing ones count as dry.
    step_s : float
        Length of a step [s].
    loss_per_day : float
        Share that a day adds [1].
    cleaning_rain_mm : float
        Rain within 24 hours above which modules are clean [mm].
    damp_days : int
        Days after it on which no dirt settles.
    most_loss : float
        Share at which it stays [1].

    Returns
    -------
    ndarray
        Share lost [1] (time,). It begins clean; in series of a year or more as it ends.

    References
    ----------
    Kimber et al. (2006), IEEE 4th World Conf. Photovolt. Energy Conv., through pvlib.
    """

    def lost(series: pd.Series) -> FloatArray:
        share = soiling.kimber(
            series,
            cleaning_threshold=cleaning_rain_mm,
            soiling_loss_rate=loss_per_day,
            grace_period=damp_days,
            max_soiling=most_loss,
        )
        return np.asarray(share, dtype=float)

    return _turned_round(rain, step_s, lost)


def soiling_by_dust(
    rain: FloatArray,
    step_s: float,
    tilt: float,
    *,
    pm2_5: float,
    pm10: float,
    cleaning_rain_mm: float,
    rain_within_h: int,
    velocity: tuple[float, float] = (0.0009, 0.004),
) -> FloatArray:
    """Return the share of light lost to dust that settles out of the air.

    Parameters
    ----------
    rain : ndarray
        Rain of each step [mm] (time,); missing ones count as dry.
    step_s : float
        Length of a step [s].
    tilt : float
        Of the modules [deg].
    pm2_5, pm10 : float
        Dust below 2.5 and below 10 micrometres, the finer included [g/m3].
    cleaning_rain_mm : float
        Rain that washes modules clean [mm].
    rain_within_h : int
        Hours within which it has to fall [h].
    velocity : tuple of float
        Velocities at which fine and coarse dust settle [m/s].

    Returns
    -------
    ndarray
        Share lost [1] (time,). It begins clean; in series of a year or more as it ends.

    References
    ----------
    Coello and Boyle (2019), IEEE J. Photovolt. 9, 1382-1387, through pvlib.
    """
    fine, coarse = velocity

    def lost(series: pd.Series) -> FloatArray:
        left = soiling.hsu(
            series,
            cleaning_rain_mm,
            tilt,
            pm2_5,
            pm10,
            depo_veloc={"2_5": fine, "10": coarse},
            rain_accum_period=pd.Timedelta(hours=rain_within_h),
        )
        return 1.0 - np.asarray(left, dtype=float)

    return _turned_round(rain, step_s, lost)


def _turned_round(
    rain: FloatArray, step_s: float, lost: Callable[[pd.Series], FloatArray]
) -> FloatArray:
    """Return what is lost; a year's dirt at its beginning is that at its end."""
    wet = np.nan_to_num(rain)
    size = wet.size
    turns = 2 if size * step_s >= _YEAR_S else 1
    # Only differences of time count.
    index = pd.date_range("2001-01-01", periods=turns * size, freq=pd.Timedelta(seconds=step_s))
    found = lost(pd.Series(np.tile(wet, turns), index=index))
    share: FloatArray = np.clip(found[-size:], 0.0, 1.0)
    return share
