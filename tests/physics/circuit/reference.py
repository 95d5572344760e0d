"""Independent ways to solve the same circuits: bisection on the full equations, and netlists.

Nothing here shares code with the engine: voltages are found by bisection of the diode equation
with the bypass diode's own equation, maxima by a dense grid refined by golden sections.
"""

from __future__ import annotations

import numpy as np

from yieldkit.physics.circuit.api import CellConditions, StringCircuit, default_bypass

KB, Q = 1.380649e-23, 1.602176634e-19


def cell_current(vd, il, i0, rsh, a, breakdown=None):
    """Single-diode current at a junction voltage, Bishop's term included."""
    shunt = vd / rsh
    if breakdown is not None:
        shunt = shunt * (
            1.0
            + breakdown.factor
            * np.maximum(1.0 - vd / breakdown.voltage, 1e-3) ** (-breakdown.exponent)
        )
    return il - i0 * np.expm1(np.minimum(vd / a, 600.0)) - shunt


def group_voltage(current, il, i0, rs, rsh, a, bypass, breakdown=None):
    """Voltage of a group with its bypass diode at currents, by bisection on the junction."""
    current = np.asarray(current, dtype=float)
    high = np.full_like(current, a * np.log1p((il + 5.0) / i0) + 5.0)
    low = np.full_like(current, -60.0 * bypass.n_vth - 20.0 * (il + 5.0) * rs)
    for _ in range(64):  # of 100 V at most: below 1e-16 V
        middle = 0.5 * (low + high)
        cells = cell_current(middle, il, i0, rsh, a, breakdown)
        volts = middle - cells * rs
        carried = cells + bypass.saturation_current * np.expm1(
            np.minimum(-volts / bypass.n_vth, 600.0)
        )
        above = carried > current
        low = np.where(above, middle, low)
        high = np.where(above, high, middle)
    return middle - cell_current(middle, il, i0, rsh, a, breakdown) * rs


def string_voltage(current, here, string: StringCircuit, bypass=None, breakdown=None):
    """Voltage of a string behind its cable at currents; `here` is (condition, 5)."""
    bypass = bypass or default_bypass()
    total = -string.resistance * np.asarray(current, dtype=float)
    for run in string.runs:
        total = total + run.count * group_voltage(current, *here[run.condition], bypass, breakdown)
    return total


def string_current(voltage, here, string, bypass=None, breakdown=None):
    """Current of a string at voltages, by bisection on the current."""
    voltage = np.asarray(voltage, dtype=float)
    top = max(here[run.condition][0] for run in string.runs)
    low = np.full_like(voltage, -40.0 * top - 1.0)
    high = np.full_like(voltage, 1.5 * top + 1.0)
    for _ in range(60):  # of 1,000 A at most: below 1e-15 A
        middle = 0.5 * (low + high)
        above = string_voltage(middle, here, string, bypass, breakdown) > voltage
        low = np.where(above, middle, low)
        high = np.where(above, high, middle)
    found = 0.5 * (low + high)
    return np.maximum(found, 0.0) if string.blocking_diode else found


def maximum_of_string(here, string, bypass=None, breakdown=None, points=2001):
    """Maximum power of one string, by a grid of currents refined round its best points."""
    top = max(here[run.condition][0] for run in string.runs)
    grid = np.linspace(0.0, 1.02 * top, points)

    def power(current):
        return current * string_voltage(current, here, string, bypass, breakdown)

    return _refine(grid, power)


def maximum_of_tracker(here, strings, bypass=None, breakdown=None, points=400):
    """Maximum power of strings in parallel, by a grid of voltages refined round its best."""
    highest = max(
        float(string_voltage(np.zeros(1), here, s, bypass, breakdown)[0]) for s in strings
    )
    grid = np.linspace(0.0, highest, points)

    def power(volts):
        return volts * sum(string_current(volts, here, s, bypass, breakdown) for s in strings)

    return _refine(grid, power)


def _refine(grid, power):
    values = power(grid)
    peaks = [
        i
        for i in range(1, grid.size - 1)
        if values[i] >= values[i - 1] and values[i] >= values[i + 1]
    ]
    best = 0.0
    for peak in sorted(peaks, key=lambda i: -values[i])[:3]:
        low, high = grid[peak - 1], grid[peak + 1]
        for _ in range(4):
            fine = np.linspace(low, high, 41)
            found = power(fine)
            at = int(np.clip(np.argmax(found), 1, 39))
            low, high = fine[at - 1], fine[at + 1]
            best = max(best, float(found.max()))
    return best


def conditions_at(irradiance, temp_cell, groups=3):
    """Conditions of one cell group of the reference module M60 (time, condition).

    M60: De Soto set of pvlib's own test of its fit (60 cells), read.
    """
    light = np.atleast_2d(np.asarray(irradiance, dtype=float))
    kelvin = np.atleast_2d(np.asarray(temp_cell, dtype=float)) + 273.15
    ratio = kelvin / 298.15
    gap_ref = 1.121
    gap = gap_ref * (1.0 - 0.0002677 * (kelvin - 298.15))
    kb_ev = KB / Q
    il = light / 1000.0 * (9.45232 + 0.005658 * (kelvin - 298.15))
    i0 = 3.2246e-10 * ratio**3 * np.exp(gap_ref / (kb_ev * 298.15) - gap / (kb_ev * kelvin))
    with np.errstate(divide="ignore"):
        rsh = 125.798 * 1000.0 / np.where(light > 0.0, light, np.nan)
    rsh = np.where(np.isnan(rsh), np.inf, rsh)
    rs = np.full(light.shape, 0.297814)
    a = 1.59128 * ratio
    shape = np.broadcast_shapes(light.shape, kelvin.shape)
    parts = (il, i0, rs / groups, rsh / groups, a / groups)
    return CellConditions(*(np.array(np.broadcast_to(part, shape)) for part in parts))


def rows_of(conditions: CellConditions, step: int = 0):
    """The conditions of one step as (condition, 5)."""
    return np.array([part[step] for part in conditions]).T
