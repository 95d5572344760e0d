"""A log's clock against the sun: by its inputs, and by the sensors of light written with them."""

from __future__ import annotations

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.study.logs.clock import clock_offsets
from yieldkit.study.logs.clock_days import Channels
from yieldkit.study.logs.clock_remarks import TOLD_MIN, Clock, clock_of
from yieldkit.study.logs.cloudless_light import Sensors, Skies
from yieldkit.study.logs.drawn_inputs import DrawnInputs
from yieldkit.study.logs.light_on_inputs import LogTime
from yieldkit.study.logs.plant_log import ClockOffset, PlantLog

_SENSORS_APART_MIN = 8.0
_LOST_HOT = 0.09
"""Share of the power that cells 27 K above the air lose, -0.35 %/K [1]; usual for silicon."""
_MOST_SENSOR_DAYS = 40
_LIT_W_M2 = 20.0
_LOPSIDED_H = 0.75
"""How far the middle of a clear day's light on sensors may lie from that of the lit hours [h]."""


def clock_of_log(
    drawn: DrawnInputs,
    log: PlantLog,
    time: LogTime,
    skies: Skies,
    usable: BoolArray,
    sensors: Sensors,
) -> tuple[tuple[ClockOffset, ...], Clock, tuple[str, ...]]:
    """Return the clock's offsets by inputs, or by sensors where inputs tell none.

    Parameters
    ----------
    drawn : DrawnInputs
        The inputs.
    log : PlantLog
        The log.
    time : LogTime
        Its steps.
    skies : Skies
        Cloudless light on the planes.
    usable : ndarray of bool
        Values that follow the light (step, tracker).
    sensors : Sensors
        Sensors of light.

    Returns
    -------
    tuple
        Offsets by the day, what the clock is like over all days, and sentences.
    """
    by_inputs = clock_offsets(
        _input_channels(drawn, log.data, skies, usable),
        time.starts_ns,
        time.interval_s,
        time.utc_offset_s,
    )
    by_sensors: tuple[ClockOffset, ...] = ()
    if sensors.skies is not None and log.weather is not None:
        columns = [log.weather[name].to_numpy().astype(float) for name in sensors.columns]
        values = np.stack(columns, axis=1)
        # What the two clocks are beside one another shows on some days as on all of them.
        every = -(-len(time.days) // _MOST_SENSOR_DAYS)
        values[time.day % every > 0] = np.nan
        channels = Channels(values, np.ones(len(columns)), sensors.skies, np.zeros(len(columns)))
        by_sensors = clock_offsets(channels, time.starts_ns, time.interval_s, time.utc_offset_s)
    found = by_inputs or by_sensors
    clock = clock_of(found, time.days, time.interval_s / 60.0)
    remarks = clock.remarks
    if not by_inputs or not _lopsided(sensors, time):
        remarks += _beside_sensors(by_inputs, by_sensors)
    return found, clock, remarks


def _lopsided(sensors: Sensors, time: LogTime) -> bool:
    """Return whether all sensors face the mornings, or the evenings.

    Haze then moves the middle of what they read, by more than a clock is off.
    """
    if sensors.skies is None:
        return False
    light = sensors.skies.usual.mean(time.starts_ns, time.interval_s, np.zeros(time.day.size))
    own = light.sum(axis=1)
    lit = own > _LIT_W_M2
    if not lit.any():
        return False
    hour = np.mod(time.starts_ns / 3.6e12 + time.utc_offset_s / 3600.0, 24.0)
    middle = float(np.average(hour[lit], weights=own[lit]))
    return abs(middle - float(hour[lit].mean())) > _LOPSIDED_H


def _beside_sensors(
    by_inputs: tuple[ClockOffset, ...], by_sensors: tuple[ClockOffset, ...]
) -> tuple[str, ...]:
    """Return what the sensors' clock is beside that of the inverters, where both are known."""
    sensed = {own.day: own for own in by_sensors}
    both = [(own, sensed[own.day]) for own in by_inputs if own.day in sensed]
    if not both:
        if by_sensors and not by_inputs:
            return ("The clock was seen by the sensors of light alone.",)
        return ()
    apart = float(np.median([one.minutes - other.minutes for one, other in both]))
    span = float(np.median([one.high - one.low + other.high - other.low for one, other in both]))
    if abs(apart) > max(_SENSORS_APART_MIN, 0.5 * span):
        way = "ahead of" if apart > 0.0 else "behind"
        return (
            f"The inverters' clock is {abs(apart):.0f} min {way} that of the sensors of light: "
            "light and power of a step are not of the same moment.",
        )
    late = [float(np.median([own[at].minutes for own in both])) for at in range(2)]
    if min(abs(own) for own in late) > max(TOLD_MIN, 0.25 * span) and late[0] * late[1] > 0.0:
        return ("The sensors of light share the log's clock: the whole log is off.",)
    return ()


def _input_channels(
    drawn: DrawnInputs, data: xr.Dataset, skies: Skies, usable: BoolArray
) -> Channels:
    """Return what follows the light: at most two inputs of one kind, currents before power."""
    currents = _column(data, "i_dc")
    values, shares, per_light, lost_hot = [], [], [], []
    seen: list[tuple[float, ...]] = []
    for at in range(len(drawn.names)):
        by_current = currents is not None and not drawn.mixed[at]
        share = drawn.by_current[at] if by_current else drawn.by_power[at]
        column = currents if by_current else _column(data, "p_dc")
        if column is None or seen.count(tuple(share)) >= 2:
            continue
        own = np.where(usable[:, at], column[:, at], np.nan)
        if not np.isfinite(own).any():
            continue
        seen.append(tuple(share))
        values.append(own)
        shares.append(share)
        usual = drawn.i_mp[at] if by_current else drawn.i_mp[at] * drawn.v_mp[at]
        per_light.append(usual / 1000.0)
        lost_hot.append(0.0 if by_current else _LOST_HOT)
    if not values:
        empty = np.full((usable.shape[0], 1), np.nan)
        return Channels(empty, np.ones(1), skies.of(drawn.by_power[:1]), np.zeros(1))
    return Channels(
        np.stack(values, axis=1),
        np.array(per_light),
        skies.of(np.array(shares)),
        np.array(lost_hot),
    )


def _column(data: xr.Dataset, name: str) -> FloatArray | None:
    return data[name].to_numpy().astype(float) if name in data else None
