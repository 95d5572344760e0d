"""Which steps of a log lie below a clear sky, told by what the inputs gave."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.site.site import Site
from yieldkit.study.handover.log_table import LogTable
from yieldkit.study.handover.module_tables import module_table
from yieldkit.study.handover.slips import Drawn

_ROUGH, _ROUGH_BY_HOUR = 0.03, 0.08
"""A cloudless day's current bends from step to step by less than this share of the day's most; by
so much more for steps an hour apart, by the square of time."""
_OVERCAST = 0.6
"""A day that stays below this share of a cloudless day's power has no clear steps."""
_BENT_WITHIN_S = 600.0
"""Between steps so far apart [s]."""
_AT_MPP = (0.94, 0.76)
"""Current and power at the maximum over short circuit and open circuit, about [1]."""


def clear_steps(site: Site, drawn: Drawn, table: LogTable, sky: FloatArray) -> BoolArray:
    """Return steps below a clear sky (step,): currents or powers change smoothly, and are enough.

    Parameters
    ----------
    site : Site
        The site.
    drawn : Drawn
        The wiring.
    table : LogTable
        The log.
    sky : ndarray
        Light of a cloudless sky [W/m2] (step, plane).
    """
    steps = len(table.moments)
    smooth, seen = np.ones(steps, dtype=bool), np.zeros(steps, dtype=bool)
    enough = np.zeros(steps, dtype=bool)
    apart = max(1, round(_BENT_WITHIN_S / table.interval_s))
    rough = _ROUGH + _ROUGH_BY_HOUR * (apart * table.interval_s / 3600.0) ** 2
    amperes, watts_each = _rated(site)
    for at, name in enumerate(table.names):
        own = [place for place, each in enumerate(drawn.inputs) if each == name]
        if not own:
            continue
        watts = (drawn.modules[own].sum(axis=0) * watts_each * sky / 1000.0).sum(axis=1)
        each = [
            ((drawn.modules[place] > 0.0) * amperes * sky / 1000.0).max(axis=1) for place in own
        ]
        current = np.sum(each, axis=0)
        for quantity, most in (("i_dc", current), ("p_dc", watts)):
            values = table.values.get(quantity)
            if values is None or not np.isfinite(values[:, at]).any():
                continue
            held = np.where(table.counted[:, at], values[:, at], np.nan)
            for day in np.unique(table.day):
                there = table.day == day
                told, even = _even(held[there], apart, rough)
                seen[there] |= told
                smooth[there] &= even | ~told
                high = np.nanmax(held[there], initial=0.0)
                enough[there] |= bool(high >= _OVERCAST * most[there].max())
            break
    return smooth & seen & enough


def _even(values: FloatArray, apart: int, rough: float) -> tuple[BoolArray, BoolArray]:
    """Return where bends can be told, and where values hardly bend (step,)."""
    bend = np.full(values.size, np.nan)
    if values.size > 2 * apart:
        bend[apart:-apart] = np.abs(
            values[2 * apart :] - 2.0 * values[apart:-apart] + values[: -2 * apart]
        )
    each = [_moved(bend, by) for by in (-apart, 0, apart)]
    told = np.isfinite(each).any(axis=0)
    least = np.min([np.where(np.isfinite(own), own, np.inf) for own in each], axis=0)
    highest = np.nanmax(values, initial=0.0)
    return told & np.isfinite(values), least < rough * max(highest, 1e-9)


def _moved(values: FloatArray, by: int) -> FloatArray:
    """Return values moved along by some steps, nan where there are none."""
    found = np.full(values.size, np.nan)
    if by == 0:
        return values
    if by > 0:
        found[by:] = values[:-by]
    else:
        found[:by] = values[-by:]
    return found


def _rated(site: Site) -> tuple[FloatArray, FloatArray]:
    """Return a module's current [A] and power [W] on each plane at 1000 W/m2, about (plane,)."""
    groups = {own.name: own.bypass_diodes for own in site.module_types}
    light, heat = np.array([1000.0]), np.array([45.0])
    amperes, watts = [], []
    for plane in site.planes:
        table = module_table(site, plane)
        shorted = float(table.short_circuit(light, heat)[0][0])
        opened = float(table.open_circuit_voltage(light, heat)[0]) * groups[plane.module_type]
        amperes.append(_AT_MPP[0] * shorted)
        watts.append(_AT_MPP[1] * shorted * opened)
    return np.array(amperes), np.array(watts)
