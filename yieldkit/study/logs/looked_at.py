"""What of a log doesn't count and why, so that it is judged by nothing but what it may be."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.logs.cloudless_light import cloudless_skies
from yieldkit.study.logs.columns import QUANTITIES, own_columns
from yieldkit.study.logs.copied import copied_inputs
from yieldkit.study.logs.drawn_inputs import DrawnInputs, drawn_inputs
from yieldkit.study.logs.fault_remarks import fault_remarks
from yieldkit.study.logs.held_inputs import held_inputs
from yieldkit.study.logs.light_on_inputs import (
    LogTime,
    clear_on_inputs,
    is_night,
    light_on_inputs,
    log_time,
)
from yieldkit.study.logs.log_clock import clock_of_log
from yieldkit.study.logs.plant_log import (
    CLIPPED,
    COPIED,
    DARK,
    FROZEN,
    IMPOSSIBLE,
    LIMITED,
    MISSING,
    NIGHT,
    STANDING,
    PlantLog,
)
from yieldkit.study.logs.repeated import stands_still

_DARK_W_M2 = 50.0
_NOTHING = 0.005
"""Below this share of the current or power at standard test conditions an input gives nothing."""
_NEGATIVE = 0.02
_STANDS_MEASURED, _STANDS_CLOUDLESS = 150.0, 300.0
"""Light in which an inverter should run: measured, or below a cloudless sky, of which clouds
leave a fifth [W/m2]; common practice, no source."""


class _Light(NamedTuple):
    """Light on inputs [W/m2], and where it was measured (step, tracker)."""

    on: FloatArray
    measured: BoolArray


def looked_at(site: Site, wiring: Wiring, log: PlantLog) -> PlantLog:
    """Find what of a log doesn't count, and by how much its clock is ahead.

    Left out are night and dusk, values that can't be, values that stand still, columns that repeat
    another input's, hours at the inverter's AC limit or held back by another limit, and hours in
    which all inputs of an inverter give nothing in good light. An input that gives nothing while
    others of its inverter do counts: its string may be open. What a log leaves out already keeps
    its reason. AC power that is a copy of other AC power is taken out (nan).

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring as drawn.
    log : PlantLog
        The log.

    Returns
    -------
    PlantLog
        With `left_out`, `clock` (a span for every day that tells it) and `remarks`.

    Raises
    ------
    InputError
        For an input that the wiring doesn't have.
    """
    drawn = drawn_inputs(site, wiring, tuple(str(each) for each in log.data["tracker"].to_numpy()))
    time = log_time(log.data)
    skies, sensors = cloudless_skies(site, time.starts, log.weather)
    clear = clear_on_inputs(drawn, skies, time)
    log, copy_remarks, copied = copied_inputs(site, drawn, log, time, clear)
    missing, impossible = _missing(log.data), _impossible(drawn, log.data)
    unusable = missing | impossible | copied | ~log.counted
    still = _standing_still(drawn, log.data, clear, time)
    nothing_ahead = np.zeros(time.day.size)
    both = skies, sensors
    light = _Light(*light_on_inputs(site, drawn, both, time, nothing_ahead, log.weather))
    held = held_inputs(site, drawn, log, time, light.on, unusable | still)
    usable = ~(unusable | still | held.clipped | held.limited)
    offsets, clock, clock_remarks = clock_of_log(drawn, log, time, skies, usable, sensors)
    late = clock.late_min[time.day]
    light = _Light(*light_on_inputs(site, drawn, both, time, late, log.weather))
    night = np.broadcast_to(is_night(site, time, late)[:, None], missing.shape)
    reasons = {
        MISSING: missing,
        IMPOSSIBLE: impossible,
        NIGHT: night,
        DARK: light.on < _DARK_W_M2,
        COPIED: copied,
        STANDING: _standing(drawn, log.data, light, unusable),
        FROZEN: still & ~held.clipped,
        CLIPPED: held.clipped,
        LIMITED: held.limited,
    }
    before = log.counted
    found = log.leaving_out(reasons)
    told = fault_remarks(found, before, drawn, time)
    # Whoever looks twice is told once.
    remarks = dict.fromkeys((*found.remarks, *clock_remarks, *copy_remarks, *told))
    return replace(found, clock=offsets, remarks=tuple(remarks))


def _missing(data: xr.Dataset) -> BoolArray:
    """Return where nothing of an input was written (step, tracker)."""
    found = np.ones(data["left_out"].shape, dtype=bool)
    for name in QUANTITIES:
        if name in data:
            found &= ~np.isfinite(data[name].to_numpy())
    return found


def _impossible(drawn: DrawnInputs, data: xr.Dataset) -> BoolArray:
    """Return where a value is beyond what the wiring can give at any light (step, tracker)."""
    found = np.zeros(data["left_out"].shape, dtype=bool)
    most = {"v_dc": drawn.v_most, "i_dc": drawn.i_most, "p_dc": drawn.p_most}
    with np.errstate(invalid="ignore"):
        for name, limit in most.items():
            if name in data:
                values = data[name].to_numpy()
                found |= (values > limit) | (values < -_NEGATIVE * limit)
    return found


def _standing_still(
    drawn: DrawnInputs, data: xr.Dataset, clear: FloatArray, time: LogTime
) -> BoolArray:
    """Return where a value of an input repeats to the last digit (step, tracker).

    One column alone on a plateau of its own is held, not frozen: it has to stand still below its
    top, or the voltage with it.
    """
    found = np.zeros(clear.shape, dtype=bool)
    for at, mppt in enumerate(drawn.mppts):
        still = {
            name: stands_still(
                data[name].to_numpy()[:, at].astype(float), clear[:, at], follows=name != "v_dc"
            )
            for name in own_columns(data)
        }
        below = np.zeros(time.day.size, dtype=bool)
        for name in ("i_dc", "p_dc"):
            if name in still:
                values = data[name].to_numpy()[:, at]
                with np.errstate(invalid="ignore"):
                    below |= still[name] & (values < 0.97 * np.nanmax(values))
        if "v_dc" in still:
            volts = data["v_dc"].to_numpy()[:, at]
            ends = (mppt.mpp_voltage_min_v, mppt.mpp_voltage_max_v)
            for end in ends:
                with np.errstate(invalid="ignore"):
                    still["v_dc"] &= np.abs(volts - end) > 0.01 * end
            below |= still["v_dc"]
        found[:, at] = below
    return found


def _standing(
    drawn: DrawnInputs, data: xr.Dataset, light: _Light, unusable: BoolArray
) -> BoolArray:
    """Return where all inputs of an inverter give nothing in good light (step, tracker)."""
    giving = np.zeros(unusable.shape, dtype=bool)
    known = np.zeros(unusable.shape, dtype=bool)
    for name, usual in (("i_dc", drawn.i_mp), ("p_dc", drawn.i_mp * drawn.v_mp)):
        if name in data:
            values = data[name].to_numpy()
            known |= np.isfinite(values)
            with np.errstate(invalid="ignore"):
                giving |= values > _NOTHING * usual
    good = light.on > np.where(light.measured, _STANDS_MEASURED, _STANDS_CLOUDLESS)
    found = np.zeros(unusable.shape, dtype=bool)
    for one in np.unique(drawn.inverter):
        own = drawn.inverter == one
        lit, told, runs = (part[:, own].any(axis=1) for part in (good, known, giving))
        stands = np.asarray(lit & told & ~runs)
        found[:, own] = stands[:, None]
    return found
