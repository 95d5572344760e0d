"""Every lit hour of a real year against dense grids and bisection on the full equations.

The grids are refined round their best places; nothing is shared with the engine. The bypass
diode's leakage is in the equations.
"""

from functools import cache
from typing import NamedTuple

import numpy as np
import pytest

import yieldkit
from tests.amounts import amount
from tests.physics.circuit.reference import maximum_of_string, maximum_of_tracker, rows_of
from yieldkit.physics.circuit.api import (
    CellConditions,
    Run,
    StringCircuit,
    default_bypass,
    operating_point,
    string_current,
)
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.weather import site_weather

pytestmark = pytest.mark.slow

STC_MODULE_W = 430.0
STEPS = 45
BYPASS = default_bypass()


class Lit(NamedTuple):
    """Junction parameters of one plane's groups, each (time,)."""

    il: np.ndarray
    i0: np.ndarray
    rs: np.ndarray
    rsh: np.ndarray
    a: np.ndarray


@cache
def lit_year():
    """Return the cell groups of the demonstration site in every hour with light on a plane."""
    site = yieldkit.load_site()
    conditions = prepare(site, site_weather(site)).conditions
    lit = (conditions.photocurrent > 0.0).any(axis=1)
    return CellConditions(*(np.ascontiguousarray(part[lit]) for part in conditions))


def plane(conditions, column):
    """Return one plane's groups."""
    return Lit(*(part[:, column] for part in conditions))


def state(vd, cells):
    """Current and voltage of a group under its bypass diode at a junction voltage."""
    current = cells.il - cells.i0 * np.expm1(vd / cells.a) - vd / cells.rsh
    volts = vd - current * cells.rs
    bypass = BYPASS.saturation_current * np.expm1(np.clip(-volts / BYPASS.n_vth, -700.0, 90.0))
    return current + bypass, volts


def solved(fits, low, high, cells):
    """Return state where `fits` turns false, by bisection on the junction voltage."""
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        below = fits(*state(middle, cells))
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return state(0.5 * (low + high), cells)


def junctions(shape, cells):
    """Return bounds of the junction voltage, for up to 400 A fed backwards."""
    high = cells.a * np.log1p((cells.il + 400.0) / cells.i0)
    return np.full(shape, -1.0), np.broadcast_to(high, shape).copy()


def string_amps(volts, cells, groups):
    """Current of an evenly lit string of groups at voltages (place, time)."""
    bounds = junctions(volts.shape, cells)
    return solved(lambda _amps, own: groups * own < volts, *bounds, cells)[0]


def string_volts(amps, cells, groups):
    """Voltage of evenly lit groups in series at currents (place, time)."""
    bounds = junctions(amps.shape, cells)
    return groups * solved(lambda own, _volts: own > amps, *bounds, cells)[1]


def refined(power, low, high, grid=121, rounds=5):
    """Return the greatest power between two bounds (time,), by grids drawn ever closer."""
    at = low + np.linspace(0.0, 1.0, grid)[:, None] * (high - low)
    found = power(at)
    best = found.max(axis=0)
    order = np.argsort(np.where(peaks(found), found, -1.0), axis=0)
    for rank in (-1, -2):
        place = order[rank]
        span = [
            np.take_along_axis(at, np.clip(place + k, 0, grid - 1)[None], 0)[0] for k in (-1, 1)
        ]
        for _ in range(rounds):
            near = span[0] + np.linspace(0.0, 1.0, 13)[:, None] * (span[1] - span[0])
            values = power(near)
            best = np.maximum(best, values.max(axis=0))
            place = values.argmax(axis=0)
            span = [
                np.take_along_axis(near, np.clip(place + k, 0, 12)[None], 0)[0] for k in (-1, 1)
            ]
    return best


def peaks(values):
    """Tell which places of a grid (place, time) are no lower than their neighbours."""
    padded = np.pad(values, ((1, 1), (0, 0)), constant_values=-np.inf)
    return (values >= padded[:-2]) & (values >= padded[2:])


def assert_within(found, expected, modules):
    """Hold the engine to the accuracy that is asked of it."""
    assert (found.status == 0).all()
    allowed = 1e-6 * expected + 1e-9 * modules * STC_MODULE_W
    worst = np.argmax(np.abs(found.p_dc - expected) / allowed)
    assert (np.abs(found.p_dc - expected) <= allowed).all(), (
        f"hour {worst}: {found.p_dc[worst]} against {expected[worst]}"
    )


@pytest.mark.parametrize(
    ("first", "second", "blocked"),
    [(36, 36, False), (36, 30, False), (36, 15, False), (36, 15, True)],
)
def test_strings_in_parallel_in_every_lit_hour(first, second, blocked):
    year = lit_year()
    east, west = plane(year, 0), plane(year, 1)

    def power(volts):
        amps = [string_amps(volts, cells, n) for cells, n in ((east, first), (west, second))]
        return volts * sum(np.maximum(a, 0.0) if blocked else a for a in amps)

    highest = max(first, second) * np.maximum(
        *(cells.a * np.log1p(cells.il / cells.i0) for cells in (east, west))
    )
    expected = refined(power, 0.0 * highest, highest)
    strings = tuple(
        StringCircuit((Run(column, groups),), blocking_diode=blocked)
        for column, groups in ((0, first), (1, second))
    )
    assert_within(operating_point(year, strings), expected, (first + second) / 3)


@pytest.mark.parametrize(("first", "second"), [(18, 18), (30, 6), (3, 33)])
def test_mixed_string_in_every_lit_hour(first, second):
    year = lit_year()
    east, west = plane(year, 0), plane(year, 1)

    def power(amps):
        volts = string_volts(amps, east, first) + string_volts(amps, west, second)
        return amps * volts

    highest = 1.01 * np.maximum(east.il, west.il)
    expected = refined(power, 0.0 * highest, highest)
    string = StringCircuit((Run(0, first), Run(1, second)))
    assert_within(operating_point(year, (string,)), expected, (first + second) / 3)


@pytest.mark.parametrize(
    "strings",
    [
        (StringCircuit((Run(0, 20), Run(1, 10), Run(2, 6)), 0.4),),
        (StringCircuit((Run(0, 20), Run(1, 10))), StringCircuit((Run(2, 24),), 0.3)),
        (StringCircuit((Run(0, 9), Run(2, 9))), StringCircuit((Run(1, 18),))),
    ],
)
def test_sampled_hours_of_other_trackers(strings):
    year = lit_year()
    chosen = range(7, year.photocurrent.shape[0], amount(2200, 900))
    found = operating_point(year, strings)
    for hour in chosen:
        here = rows_of(year, hour)
        if len(strings) == 1:
            expected = maximum_of_string(here, strings[0], points=401)
        else:
            expected = maximum_of_tracker(here, strings, points=160)
        assert found.p_dc[hour] == pytest.approx(expected, rel=1e-6, abs=1e-5)
        assert found.status[hour] == 0


def test_equations_are_met_at_low_light():
    # 10 to 100 W/m2, where a logarithmic iteration stalls in the shunt's range.
    year = lit_year()
    faint = np.flatnonzero((year.photocurrent[:, 0] > 0.1) & (year.photocurrent[:, 0] < 1.4))
    some = CellConditions(*(part[faint[::25]] for part in year))
    cells = plane(some, 0)
    groups = 36
    open_volts = groups * cells.a * np.log1p(cells.il / cells.i0)
    for share in np.linspace(0.0, 0.99, 50):
        volts = share * open_volts
        found = string_current(some, StringCircuit((Run(0, groups),)), volts)
        expected = string_amps(volts[None], cells, groups)[0]
        assert (np.abs(found - expected) <= 1e-9 * cells.il).all()
