"""Which steps of a log lie below a clear sky, told by what the inputs gave."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
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
_CALM_S = 2400.0
"""A step is clear if nothing bends more for so long before and after it [s]."""
_LEAST_SMOOTH = 3
"""Of the steps of that time so many have to tell that they hardly bend."""
_DIMMED = 0.5
"""Steps with less than this share of the day's best, beside a cloudless sky, lie below clouds."""
_LEAST = 0.2
"""Steps with less than this share of a day's most don't tell how bright it was [1]."""
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
    rough, even = np.zeros(steps, dtype=bool), np.zeros(steps, dtype=bool)
    enough = np.zeros(steps, dtype=bool)
    given, cloudless = np.zeros(steps), np.zeros(steps)
    apart = max(1, round(_BENT_WITHIN_S / table.interval_s))
    most_bent = _ROUGH + _ROUGH_BY_HOUR * (apart * table.interval_s / 3600.0) ** 2
    for at, name in enumerate(table.names):
        signal = _signal(site, drawn, table, sky, at, name)
        if signal is None:
            continue
        held, most = signal
        for day in np.unique(table.day):
            there = table.day == day
            high = float(np.nanmax(held[there], initial=0.0))
            if high <= 0.0:  # it gives nothing, and tells nothing of the sky
                continue
            bend = _bend(held[there], apart)
            told = np.isfinite(bend)
            rough[there] |= told & (bend >= most_bent * high)
            even[there] |= told & (bend < most_bent * high)
            top = float(most[there].max())
            enough[there] |= high >= _OVERCAST * top
            share = np.isfinite(held[there]) / max(top, 1e-9)
            given[there] += np.nan_to_num(held[there]) * share
            cloudless[there] += most[there] * share
    found = enough & _bright(given, cloudless, table.day)
    calm = max(1, round(_CALM_S / table.interval_s))
    for day in np.unique(table.day):
        there = table.day == day
        found[there] &= _near(rough[there], calm) == 0
        found[there] &= _near(even[there], calm) >= min(_LEAST_SMOOTH, 2 * calm)
    return found


def _signal(
    site: Site, drawn: Drawn, table: LogTable, sky: FloatArray, at: int, name: str
) -> tuple[FloatArray, FloatArray] | None:
    """Return an input's current, or power, and what a cloudless sky gives it about (step,)."""
    own = [place for place, each in enumerate(drawn.inputs) if each == name]
    if not own:
        return None
    amperes, watts = _rated(site)
    lit = [(drawn.modules[place] > 0.0) * amperes * sky / 1000.0 for place in own]
    current = np.sum([each.max(axis=1) for each in lit], axis=0)
    power = (drawn.modules[own].sum(axis=0) * watts * sky / 1000.0).sum(axis=1)
    for quantity, most in (("i_dc", current), ("p_dc", power)):
        values = table.values.get(quantity)
        if values is not None and np.isfinite(values[:, at]).any():
            return np.where(table.counted[:, at], values[:, at], np.nan), most
    return None


def _bright(given: FloatArray, cloudless: FloatArray, day: IntArray) -> BoolArray:
    """Return steps that aren't much darker, beside a cloudless sky, than a day's best (step,)."""
    share = np.divide(given, cloudless, out=np.zeros(given.size), where=cloudless > 0.0)
    best = np.zeros(given.size)
    for own in np.unique(day):
        there = (day == own) & (cloudless > _LEAST * cloudless[day == own].max(initial=0.0))
        best[day == own] = np.quantile(share[there], 0.9) if there.any() else 0.0
    found: BoolArray = share >= _DIMMED * best
    return found


def _bend(values: FloatArray, apart: int) -> FloatArray:
    """Return how far each value lies off the line between its neighbours, nan untold (step,)."""
    bend = np.full(values.size, np.nan)
    if values.size > 2 * apart:
        bend[apart:-apart] = np.abs(
            values[2 * apart :] - 2.0 * values[apart:-apart] + values[: -2 * apart]
        )
    return bend


def _near(there: BoolArray, within: int) -> IntArray:
    """Return how many steps of a kind lie near each step (step,)."""
    count = np.concatenate([[0], np.cumsum(there)])
    at = np.arange(there.size)
    last, first = np.minimum(at + within + 1, there.size), np.maximum(at - within, 0)
    found: IntArray = count[last] - count[first]
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
