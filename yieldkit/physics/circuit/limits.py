"""What an MPPT input allows, the operating point that results, and which limit determines it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray

# Codes of what determines an operating point; their wording is in `BINDING`.
FREE, DARK, STARTING, WINDOW_LOW, WINDOW_HIGH, TOP, CURRENT, POWER, BOUND = range(9)

BINDING: dict[str, int] = {
    "free": FREE,
    "off: dark": DARK,
    "start-up or stop": STARTING,
    "window low": WINDOW_LOW,
    "window high": WINDOW_HIGH,
    "maximum voltage": TOP,
    "input current": CURRENT,
    "input power": POWER,
    "power bound": BOUND,
}
"""What determines a tracker's operating point, and its code."""


class PointLimits(NamedTuple):
    """Between which voltages, and up to which current, an operating point may lie.

    Parameters
    ----------
    v_mpp_min, v_mpp_max : float
        Ends of the MPP voltage window [V].
    v_max : float
        Maximum operating voltage [V].
    i_max : float
        Maximum input current [A].
    """

    v_mpp_min: float
    v_mpp_max: float
    v_max: float
    i_max: float


class StartStop(NamedTuple):
    """When a tracker starts and stops.

    Parameters
    ----------
    v_start, p_start : float
        Least open-circuit voltage [V] and power [W] for a start.
    start_delay_s : float
        Time for which both must be met before the first start of a day [s].
    v_stop, p_stop : float
        Operating voltage [V] and power [W] below which it stops.
    restart_delay_s : float
        Time for which the conditions must be met before a later start [s].
    interval_s : float
        Length of a step of time [s].
    """

    v_start: float
    p_start: float
    start_delay_s: float
    v_stop: float
    p_stop: float
    restart_delay_s: float
    interval_s: float


class TrackerLimits(NamedTuple):
    """What an MPPT input allows; voltages [V], powers [W], delays [s], current [A].

    Parameters
    ----------
    v_mpp_min, v_mpp_max, v_max, i_max : float
        As of `PointLimits`.
    v_start, p_start, start_delay_s, v_stop, p_stop, restart_delay_s : float
        As of `StartStop`.
    p_max : float
        Maximum input power [W].
    global_search : bool
        Whether the tracker finds the greatest of several maxima.
    """

    v_mpp_min: float = 0.0
    v_mpp_max: float = np.inf
    v_max: float = np.inf
    v_start: float = 0.0
    p_start: float = 0.0
    start_delay_s: float = 0.0
    v_stop: float = 0.0
    p_stop: float = 0.0
    restart_delay_s: float = 0.0
    i_max: float = np.inf
    p_max: float = np.inf
    global_search: bool = True

    @property
    def point_limits(self) -> PointLimits:
        """Return the limits of each operating point by itself."""
        return PointLimits(
            v_mpp_min=float(self.v_mpp_min),
            v_mpp_max=float(self.v_mpp_max),
            v_max=float(self.v_max),
            i_max=float(self.i_max),
        )

    @property
    def starts_and_stops(self) -> bool:
        """Return whether any start or stop condition is set: steps then depend on earlier ones."""
        return any(
            (
                self.v_start,
                self.p_start,
                self.start_delay_s,
                self.v_stop,
                self.p_stop,
                self.restart_delay_s,
            )
        )

    def start_stop(self, interval_s: float) -> StartStop:
        """Return the start and stop conditions for steps of a length.

        Parameters
        ----------
        interval_s : float
            Length of a step [s].
        """
        return StartStop(
            v_start=float(self.v_start),
            p_start=float(self.p_start),
            start_delay_s=float(self.start_delay_s),
            v_stop=float(self.v_stop),
            p_stop=float(self.p_stop),
            restart_delay_s=float(self.restart_delay_s),
            interval_s=float(interval_s),
        )


class OperatingPoint(NamedTuple):
    """A tracker's point at its input, after the DC cables.

    Parameters
    ----------
    v_dc, i_dc, p_dc : ndarray
        Voltage [V], mean current [A] and mean power [W] (time,).
    i_string : ndarray
        String currents [A], negative in a string that takes back current (time, string).
    binding : ndarray of int8
        What determines the point, codes of `BINDING` (time,).
    p_lost_to_limit : ndarray
        Power that the limits cost against the free maximum [W] (time,).
    status : ndarray of int8
        0 where the equations were met, 1 where not (time,).
    """

    v_dc: FloatArray
    i_dc: FloatArray
    p_dc: FloatArray
    i_string: FloatArray
    binding: IntArray
    p_lost_to_limit: FloatArray
    status: IntArray
