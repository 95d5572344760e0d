"""Currents over the whole curve, and the best power, against the circuit simulator ngspice."""

import numpy as np
import pytest

from tests.amounts import amount
from tests.oracles import require
from tests.physics.circuit.drawn import drawn_tracker, repeated
from tests.physics.circuit.netlist import sweep
from tests.physics.circuit.reference import rows_of
from yieldkit.physics.circuit.api import operating_point, tracker_current

pytestmark = pytest.mark.slow

CIRCUITS = amount(100, 320)
HALF_CUT = amount(20, 40)
PER_TEST = 20
POINTS = 800
FINE_POINTS = 60
# Twenty cells at -10 degC in full light stay below this open-circuit voltage [V].
HIGHEST_OF_A_GROUP = 15.0


def compare(seed, folder, half_cut):
    """Return the greatest gap of current over Isc and the gap of the best power."""
    ngspice = require("ngspice")
    drawn = drawn_tracker(seed, half_cut=half_cut)
    found = operating_point(drawn.conditions, drawn.strings, breakdown=drawn.breakdown)
    assert found.status[0] == 0
    circuit = (rows_of(drawn.conditions), drawn.strings, drawn.breakdown)
    longest = max(sum(run.count for run in string.runs) for string in drawn.strings)
    span = (0.0, HIGHEST_OF_A_GROUP * longest)
    volts, amps = sweep(ngspice, *circuit, span, POINTS, folder)
    ours = tracker_current(
        repeated(drawn.conditions, volts.size), drawn.strings, volts, breakdown=drawn.breakdown
    )
    until = volts <= 1.02 * volts[np.nonzero(amps > 0.0)[0].max()]
    gap = float(np.abs(ours - amps)[until].max()) / float(amps[0])
    peak, step = volts[np.argmax(volts * amps)], volts[1]
    near = (max(peak - step, 0.0), peak + step)
    volts, amps = sweep(ngspice, *circuit, near, FINE_POINTS, folder)
    return gap, float(found.p_dc[0]) / float((volts * amps).max()) - 1.0


@pytest.mark.parametrize("first", range(0, CIRCUITS, PER_TEST))
def test_random_trackers_agree_with_the_simulator(first, tmp_path):
    for seed in range(first, first + PER_TEST):
        gap, power = compare(seed, tmp_path, half_cut=False)
        assert gap <= 1e-4, f"circuit {seed}: currents differ by {gap:.1e} of Isc"
        assert abs(power) <= 1e-5, f"circuit {seed}: power differs by {power:.1e}"


@pytest.mark.parametrize("first", range(1000, 1000 + HALF_CUT, PER_TEST))
def test_half_cut_trackers_agree_with_the_simulator(first, tmp_path):
    for seed in range(first, first + PER_TEST):
        gap, power = compare(seed, tmp_path, half_cut=True)
        assert gap <= 1e-4, f"circuit {seed}: currents differ by {gap:.1e} of Isc"
        assert abs(power) <= 1e-5, f"circuit {seed}: power differs by {power:.1e}"
