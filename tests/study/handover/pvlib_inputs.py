"""Operating points of inputs from pvlib's curves, not from this project's circuit."""

from typing import NamedTuple

import numpy as np
import pvlib

from yieldkit.design.equipment.cables import string_resistance
from yieldkit.design.equipment.modules import fit_module_type
from yieldkit.physics.module.datasheet import translation_arguments

_BYPASS_V = -0.4
"""What a bypassed cell group leaves [V]; Schottky diodes, from memory."""
_STEP_V = 0.5


class Points(NamedTuple):
    """Voltage [V], current [A] and open-circuit voltage [V] of an input, each (step,)."""

    volts: np.ndarray
    amperes: np.ndarray
    v_oc: np.ndarray


def group_curves(site, plane, light, heat):
    """Return current [A] and voltage [V] of a cell group along its curve (step, point) each."""
    module = next(own for own in site.module_types if own.name == plane.module_type)
    fit = fit_module_type(module)
    diode = pvlib.pvsystem.calcparams_cec(
        np.maximum(light, 0.5),
        heat,
        Adjust=fit.adjust_percent,
        **translation_arguments(fit.reference),
    )
    v_oc = np.asarray(pvlib.pvsystem.singlediode(*diode)["v_oc"])
    along = np.concatenate([np.linspace(-0.02, 0.6, 60), np.linspace(0.605, 1.1, 340)])
    columns = [np.broadcast_to(np.asarray(own, dtype=float), light.shape)[:, None] for own in diode]
    amperes, volts, _ = pvlib.singlediode.bishop88(v_oc[:, None] * along, *columns)
    return amperes, volts / module.bypass_diodes


def input_points(site, mppt, strings, groups, curves):
    """Return what an input finds without minding its start.

    Parameters
    ----------
    strings : list of WiredString
        For their cables.
    groups : ndarray
        Cell groups of each string on each plane (string, plane).
    curves : list of tuple
        From `group_curves`, for each plane.
    """
    steps = len(curves[0][0])
    volts, amperes, v_oc = np.zeros(steps), np.zeros(steps), np.zeros(steps)
    for step in range(steps):
        here = [(own[0][step], own[1][step]) for own in curves]
        volts[step], amperes[step], v_oc[step] = _one(mppt, strings, groups, here)
    return Points(volts, amperes, v_oc)


def _one(mppt, strings, groups, curves):
    each = [_string(own, made_of, curves) for own, made_of in zip(strings, groups, strict=True)]
    top = max(volts[-1] for _, volts in each)
    grid = np.arange(1.0, top + _STEP_V, _STEP_V)
    total = np.zeros(grid.size)
    for currents, at in each:
        own = np.interp(grid, at, currents)
        total += np.maximum(own, 0.0) if mppt.blocking_diodes else own
    lit = np.flatnonzero(total > 0.0)
    if not lit.size:
        return 0.0, 0.0, 0.0
    v_oc = float(grid[lit[-1]])
    highest = min(mppt.mpp_voltage_max_v, mppt.max_operating_voltage_v or mppt.max_voltage_v)
    allowed = (grid >= mppt.mpp_voltage_min_v) & (grid <= highest) & (total > 0.0)
    if mppt.max_input_current_a is not None:
        allowed &= total <= mppt.max_input_current_a
    if not allowed.any():
        return 0.0, 0.0, v_oc
    power = np.where(allowed, grid * total, -1.0)
    best = int(np.argmax(power))
    volts = grid[best]
    if 0 < best < grid.size - 1 and allowed[best - 1] and allowed[best + 1]:
        before, here, after = power[best - 1 : best + 2]
        volts += _STEP_V * 0.5 * (before - after) / (before - 2.0 * here + after)
    return float(volts), float(np.interp(volts, grid, total)), v_oc


def _string(string, groups, curves):
    """Return current and voltage of a string behind its cable, by rising voltage."""
    used = [at for at, count in enumerate(groups) if count > 0]
    highest = max(curves[at][0].max() for at in used)
    lowest = min(curves[at][0].min() for at in used)
    currents = np.concatenate(
        [np.linspace(highest, 0.0, 700, endpoint=False), np.linspace(0.0, lowest, 150)]
    )
    volts = np.zeros(currents.size)
    for at in used:
        own, at_volts = curves[at]
        order = np.argsort(own)
        each = np.interp(currents, own[order], at_volts[order], right=_BYPASS_V)
        volts += groups[at] * np.maximum(each, _BYPASS_V)
    if string.cable is not None:
        volts = volts - currents * string_resistance(string.cable)
    return currents, np.maximum.accumulate(volts)


def running(points, mppt):
    """Return at which steps an input runs: started at its start voltage, until it has to stop."""
    found, on = np.zeros(points.volts.size, dtype=bool), False
    power = points.volts * points.amperes
    for step in range(found.size):
        if not on:
            on = bool(
                points.v_oc[step] >= mppt.start_voltage_v and power[step] >= mppt.start_power_w
            )
        on = on and power[step] > 0.0 and points.volts[step] >= (mppt.stop_voltage_v or 0.0)
        on = on and power[step] >= mppt.stop_power_w
        found[step] = on
    return found
