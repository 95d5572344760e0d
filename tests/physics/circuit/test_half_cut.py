"""Half-cut modules: two parallel halves under each bypass diode.

Each half has half the photocurrent and saturation current, twice the group's resistances (2/3 of
a three-diode module's) and the group's voltage scale. Shaded halves: practice.md T35, from memory.
"""

import numpy as np
import pytest

from tests.physics.circuit.reference import cell_current, conditions_at, rows_of
from yieldkit.physics.circuit.api import (
    CellConditions,
    Run,
    StringCircuit,
    default_bypass,
    operating_point,
    string_voltage,
)

pytestmark = pytest.mark.slow


def lit_and_dark(share=0.0, temp_cell=25.0):
    """Return groups in full light and in a share of it."""
    return conditions_at([1000.0, 1000.0 * share], [temp_cell, temp_cell])


def power(conditions, *runs):
    """Return the best power of one string."""
    return operating_point(conditions, (StringCircuit(runs),)).p_dc[0]


def test_a_dark_lower_half_leaves_half_the_power():
    lights = lit_and_dark()
    share = power(lights, Run(0, 3, 1)) / power(lights, Run(0, 3))
    assert share == pytest.approx(0.5, abs=0.02)


def test_half_a_string_in_the_dark_likewise():
    lights = lit_and_dark()
    share = power(lights, Run(0, 30, 1)) / power(lights, Run(0, 30))
    assert share == pytest.approx(0.5, abs=0.02)


def test_full_cells_in_portrait_are_bypassed():
    # The lower row of cells crosses all three groups: the module gives nothing.
    lights = lit_and_dark()
    assert power(lights, Run(1, 3)) == 0.0
    nine, module = power(lights, Run(0, 27)), power(lights, Run(0, 3))
    shaded = power(lights, Run(0, 27), Run(1, 3))
    assert shaded < nine
    assert nine - shaded < 0.06 * module


def test_equal_halves_are_the_whole_group():
    lights = lit_and_dark(1.0)
    assert power(lights, Run(0, 3, 1)) == power(lights, Run(0, 3))


@pytest.mark.parametrize("share", [0.0, 0.1, 0.6])
def test_two_halves_meet_their_equations(share):
    lights = lit_and_dark(share, 50.0)
    string = StringCircuit((Run(0, 1, 1),))
    rows = rows_of(lights)
    for current in (0.0, 2.0, 4.6, 6.0, 9.0, 12.0):
        volts = float(string_voltage(lights, string, np.array([current]))[0])
        total = sum(half_current(volts, rows[k]) for k in (0, 1))
        diode = default_bypass()
        total += diode.saturation_current * np.expm1(-volts / diode.n_vth)
        assert total == pytest.approx(current, abs=1e-8)


def half_current(volts, row):
    """Current of half a group at a voltage, by bisection on its junction."""
    il, i0, rs, rsh, a = row * np.array([0.5, 0.5, 2.0, 2.0, 1.0])
    low, high = volts - 5.0, volts + 30.0 * rs + 5.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle - cell_current(middle, il, i0, rsh, a) * rs < volts:
            low = middle
        else:
            high = middle
    return float(cell_current(middle, il, i0, rsh, a))


def test_the_order_of_the_halves_is_the_same_thing():
    lights = lit_and_dark(0.4)
    assert power(lights, Run(0, 5), Run(0, 7, 1)) == power(lights, Run(1, 7, 0), Run(0, 5))


def test_one_shaded_half_costs_less_than_its_whole_group():
    lights = lit_and_dark(0.2)
    halves = power(lights, Run(0, 27), Run(0, 3, 1))
    groups = power(lights, Run(0, 27), Run(1, 3))
    assert groups < halves < power(lights, Run(0, 30))


def test_a_missing_half_makes_the_step_missing():
    lights = CellConditions(*(np.repeat(part, 2, axis=0) for part in lit_and_dark(0.4)))
    lights.photocurrent[0, 1] = np.nan
    found = operating_point(lights, (StringCircuit((Run(0, 3, 1),)),))
    assert np.isnan(found.p_dc[0])
    assert found.p_dc[1] > 0.0
