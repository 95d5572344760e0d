"""Where a wiring is held back, hour by hour: by which limit, for how long, at what cost."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.study.simulation.month_weights import result_weights, weighed
from yieldkit.study.simulation.period import step_hours

_AC_CAUSES = {
    "maximum_power": "AC power",
    "apparent_power": "AC apparent power",
    "amperes": "AC current",
    "export": "export limit",
    "derating": "temperature derating",
    "voltage-dependent_power": "power by network voltage",
}
_DC_CAUSES = {
    "start-up_or_stop": "waits to start",
    "window_low": "MPP window, lower end",
    "window_high": "MPP window, upper end",
    "maximum_voltage": "maximum input voltage",
    "input_current": "maximum input current",
    "input_power": "maximum input power",
}
_NO_LIMIT = ("free", "off_dark", "start-up_or_stop")
SWITCHED_OFF = "switched off for network voltage"


class LimitedTime(NamedTuple):
    """How long and at what cost a limit held.

    Parameters
    ----------
    cause : str
        The limit.
    hours : float
        For how long [h]; for an input's limit the longest of its inputs.
    kwh : float
        Energy held back on the AC side [kWh]; nan where the loss budget alone knows.
    """

    cause: str
    hours: float
    kwh: float


def limited_time(result: xr.Dataset) -> tuple[LimitedTime, ...]:
    """Return every limit that held a wiring for at least one step.

    Parameters
    ----------
    result : Dataset
        What `simulate` returned.
    """
    hours, weights = step_hours(result.attrs), result_weights(result)
    lost = energy_held_back(result)
    found = []
    for word, cause in _AC_CAUSES.items():
        held = flagged(result["ac_limit"], word)
        time = float(weighed(held.any(axis=1), weights).sum()) * hours
        found.append(LimitedTime(cause, time, float(lost[held].sum())))
    there = covered_steps(result)
    off = weighed(result["off_fraction"].to_numpy(), weights)[there].max(axis=1, initial=0.0)
    share = np.maximum(result["p_ac"].to_numpy()[there], 0.0) * off * hours / 1000.0
    found.append(LimitedTime(SWITCHED_OFF, float(off.sum()) * hours, float(share.sum())))
    for word, cause in _DC_CAUSES.items():
        steps = flagged(result["binding_limit"], word)
        longest = float(weighed(steps, weights).sum(axis=0).max())
        found.append(LimitedTime(cause, longest * hours, float("nan")))
    return tuple(each for each in found if each.hours > 0.0)


def covered_steps(result: xr.Dataset) -> BoolArray:
    """Return which steps of a result have weather (time,); all where it doesn't say."""
    if "weather_state" not in result:
        return np.ones(result.sizes["time"], dtype=bool)
    return ~flagged(result["weather_state"], "missing")


def energy_held_back(result: xr.Dataset) -> FloatArray:
    """Return the energy each inverter had to hold back [kWh] (time, inverter)."""
    held: FloatArray = result["p_held_back"].to_numpy() * step_hours(result.attrs) / 1000.0
    weighted: FloatArray = weighed(held, result_weights(result))
    return weighted


def limited_steps(result: xr.Dataset) -> BoolArray:
    """Return where the AC side held a wiring back: a limit, derating or switch-off (time,)."""
    limited = ~flagged(result["ac_limit"], "none")
    off: BoolArray = result["off_fraction"].to_numpy() > 0.0
    held: BoolArray = np.asarray((limited | off).any(axis=1))
    return held


def limit_steps(own: xr.Dataset) -> BoolArray:
    """Return where a limit moved or held an input, down to nothing too (time,).

    Darkness is no limit, and neither is the wait for the start.

    Parameters
    ----------
    own : Dataset
        One tracker's part of a result.
    """
    idle = [flagged(own["binding_limit"], word) for word in _NO_LIMIT]
    moved: BoolArray = ~np.any(idle, axis=0)
    return moved


def limit_hours(own: xr.Dataset) -> float:
    """Return for how long a limit moved or held an input [h].

    Parameters
    ----------
    own : Dataset
        One tracker's part of a result.
    """
    return float(weighed(limit_steps(own), result_weights(own)).sum()) * step_hours(own.attrs)


def flagged(variable: xr.DataArray, word: str) -> BoolArray:
    """Return where a flag variable has the value of a word of its `flag_meanings`.

    Parameters
    ----------
    variable : DataArray
        Codes with `flag_values` and `flag_meanings`.
    word : str
        One of the meanings; unknown words are nowhere.
    """
    codes = dict(
        zip(
            str(variable.attrs["flag_meanings"]).split(),
            np.atleast_1d(variable.attrs["flag_values"]),
            strict=True,
        )
    )
    if word not in codes:
        return np.zeros(variable.shape, dtype=bool)
    found: BoolArray = variable.to_numpy() == codes[word]
    return found
