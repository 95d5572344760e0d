"""Mismatch against published formulas and computed tables (check-values block 6).

Rows marked computed were solved there with constant bypass drops; the diode below meets them.
"""

import numpy as np
import pytest

from tests.physics.circuit.reference import conditions_at, maximum_of_tracker, rows_of
from yieldkit.physics.circuit.api import (
    Bypass,
    CellConditions,
    Run,
    StringCircuit,
    currents_at_open_circuit,
    group_maxima,
    operating_point,
    tracker_maxima,
)

pytestmark = pytest.mark.slow

# 0.5 V at about 9 A and 25 degC.
HALF_VOLT = Bypass(3.5e-8, 0.025693)


def modules(count, condition=0):
    """Return modules of three groups in series."""
    return StringCircuit((Run(condition, 3 * count),))


def two_lights(share, *, shunt_follows):
    """Return reference modules at full light and at a share of it."""
    full = conditions_at(1000.0, 25.0)
    part = conditions_at(1000.0 * share, 25.0)
    if not shunt_follows:
        part = full._replace(photocurrent=share * full.photocurrent)
    return CellConditions(*(np.hstack(pair) for pair in zip(full, part, strict=True)))


# Second module at a share of the photocurrent: power, voltage, loss in percent (computed).
@pytest.mark.parametrize(
    ("share", "power", "volts", "loss"),
    [
        (1.0, 540.017, 62.000, 0.0),
        (0.99, 537.204, 62.022, 0.023),
        (0.95, 523.572, 62.331, 0.566),
        (0.9, 502.628, 62.886, 2.023),
        (0.8, 454.148, 63.876, 6.495),
        (0.5, 288.002, 65.776, 28.39),
    ],
)
def test_two_modules_in_series(share, power, volts, loss):
    lights = two_lights(share, shunt_follows=False)
    point = operating_point(lights, (StringCircuit((Run(0, 3), Run(1, 3))),), bypass=HALF_VOLT)
    alone = 3.0 * group_maxima(lights, HALF_VOLT).sum()
    assert point.p_dc[0] == pytest.approx(power, rel=2e-5)
    assert point.v_dc[0] == pytest.approx(volts, rel=2e-4)
    assert 100.0 * (1.0 - point.p_dc[0] / alone) == pytest.approx(loss, abs=0.006)


@pytest.mark.parametrize("share", [0.3, 0.0])
def test_the_weak_module_is_bypassed(share):
    lights = two_lights(share, shunt_follows=False)
    string = StringCircuit((Run(0, 3), Run(1, 3)))
    point = operating_point(lights, (string,), bypass=HALF_VOLT)
    assert point.p_dc[0] == pytest.approx(256.962, rel=2e-3)
    assert point.v_dc[0] == pytest.approx(29.585, rel=5e-3)
    if share:
        found = tracker_maxima(lights, (string,), HALF_VOLT)[0]
        assert found.shape[0] == 2
        assert found[1] == pytest.approx([66.29, 168.81], rel=1e-3)


# Two equal modules in parallel, the second at a share of the light: loss in percent (computed).
@pytest.mark.parametrize(
    ("share", "loss"), [(0.9, 0.0012), (0.8, 0.0037), (0.5, 0.0029), (0.2, 0.0496), (0.1, 0.211)]
)
def test_two_strings_in_parallel(share, loss):
    lights = two_lights(share, shunt_follows=True)
    point = operating_point(lights, (modules(1), modules(1, 1)))
    alone = 3.0 * group_maxima(lights).sum()
    assert 100.0 * (1.0 - point.p_dc[0] / alone) == pytest.approx(loss, abs=3e-4, rel=5e-3)


# Lengths in parallel in the same light: loss in percent (computed).
@pytest.mark.parametrize(
    ("long", "short", "loss"),
    [
        (20, 19, 0.572),
        (12, 11, 1.559),
        (10, 9, 2.206),
        (12, 10, 5.520),
        (10, 8, 7.472),
        (10, 5, 30.216),
    ],
)
def test_unequal_lengths_in_parallel(long, short, loss):
    light = conditions_at(1000.0, 25.0)
    point = operating_point(light, (modules(long), modules(short)))
    alone = 3.0 * (long + short) * group_maxima(light)[0, 0]
    assert 100.0 * (1.0 - point.p_dc[0] / alone) == pytest.approx(loss, abs=2e-3)


# Blocking diodes move the maximum of very unequal pairs only. The check values say 17 and 46 %
# without their conditions; at STC the bisection says the figures here, as the engine does.
@pytest.mark.parametrize(
    ("long", "short", "gain"), [(12, 10, 0.0), (12, 8, 0.0), (12, 5, 0.145), (12, 4, 0.4295)]
)
def test_blocking_matters_for_very_unequal_pairs(long, short, gain):
    light = conditions_at(1000.0, 25.0)
    pair = (modules(long), modules(short))
    kept = operating_point(light, pair).p_dc[0]
    blocked = operating_point(light, [each._replace(blocking_diode=True) for each in pair]).p_dc[0]
    assert blocked / kept - 1.0 == pytest.approx(gain, abs=1e-3 if gain else 1e-9)
    expected = maximum_of_tracker(rows_of(light), pair, points=120)
    assert kept == pytest.approx(expected, rel=1e-7)


# Strings of given lengths at open circuit, 1000 W/m2: current into the shortest (computed).
@pytest.mark.parametrize(
    ("lengths", "amps"),
    [
        ((10, 9), 4.14),
        ((10, 8), 7.61),
        ((10, 5), 9.26),
        ((10, 10, 9), 5.96),
        ((10, 10, 8), 12.36),
        ((10, 10, 5), 18.49),
    ],
)
def test_reverse_current_when_nothing_is_drawn(lengths, amps):
    light = conditions_at(1000.0, 25.0)
    found = currents_at_open_circuit(light, [modules(length) for length in lengths])
    assert found[0, -1] == pytest.approx(-amps, abs=0.006)
    assert -found[0, -1] <= (len(lengths) - 1) * 9.43
    assert found.sum() == pytest.approx(0.0, abs=1e-9)


DIODE = {"il": 9.0, "i0": 9.0e-10, "a": 1.5}
POINT = 19.98
DRAWS = 1500


def drawn(modules_drawn, sd_current, sd_voltage):
    """Return ideal modules whose currents and voltages scatter (draw, module)."""
    rng = np.random.default_rng(20)
    shape = (DRAWS, modules_drawn)
    amps = 1.0 + sd_current * rng.standard_normal(shape)
    volts = 1.0 + sd_voltage * rng.standard_normal(shape)
    return CellConditions(
        DIODE["il"] * amps,
        DIODE["i0"] * amps,
        np.full(shape, 1e-9),
        np.full(shape, 1e9),
        DIODE["a"] * volts,
    )


def bucciarelli(length, parallel, sd_current, sd_voltage):
    """Return the relative loss, Bucciarelli (1979), finite-size term 1 - 1/T, one block."""
    total = length * parallel
    spread = sd_current**2 * (1.0 - 1.0 / total)
    relief = (sd_current**2 - sd_voltage**2) * (parallel - 1.0) / total
    return 0.5 * (POINT + 2.0) * (spread - relief)


# Ideal diodes with I_0 = 1e-10 I_L: C = 19.98; the published formula within 8 %.
@pytest.mark.parametrize(
    ("length", "parallel", "sd_current", "sd_voltage"),
    [
        (10, 1, 0.01, 0.0),
        (5, 1, 0.01, 0.0),
        (2, 1, 0.01, 0.0),
        (1, 4, 0.0, 0.01),
        (5, 4, 0.01, 0.01),
        (5, 4, 0.01, 0.0),
        (10, 2, 0.01, 0.005),
    ],
)
def test_scattered_modules_lose_what_bucciarelli_says(length, parallel, sd_current, sd_voltage):
    lights = drawn(length * parallel, sd_current, sd_voltage)
    strings = [
        StringCircuit(tuple(Run(s * length + m, 1) for m in range(length))) for s in range(parallel)
    ]
    found = operating_point(lights, strings).p_dc.sum()
    loss = 1.0 - found / group_maxima(lights).sum()
    expected = bucciarelli(length, parallel, sd_current, sd_voltage)
    assert loss == pytest.approx(expected, rel=0.08)
    if (length, parallel, sd_voltage) == (5, 4, 0.01):
        # The variant with 1 - 1/L gives 8.79e-4 and is wrong.
        assert abs(loss - expected) < abs(loss - 8.79e-4)
