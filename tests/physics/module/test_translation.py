"""Curves carried over by IEC 60891, against a worked example.

The module is that of `test_published_modules`; its curve at 800 W/m2 and 45 degC is carried over
to standard test conditions. Equations from memory; the figures were computed apart from this code.
"""

import numpy as np
import pvlib
import pytest

from tests.physics.module.test_published_modules import M60
from yieldkit.physics.module.datasheet import diode_parameters
from yieldkit.physics.module.translation import (
    STC,
    Coefficients,
    State,
    procedure_1,
    procedure_2,
)

pytestmark = pytest.mark.slow

WARM = State(800.0, 45.0)
FIRST = Coefficients(alpha=0.005658, beta=-0.13788, r_s=0.2978)
SECOND = Coefficients(alpha=0.005658 / 9.43, beta=-0.13788 / 38.3, r_s=0.2978, a=0.04149)


@pytest.fixture(scope="module")
def measured():
    """Return voltages, currents, short circuit and open circuit of the module at 800 and 45."""
    diode = [float(each[0]) for each in diode_parameters(M60, *map(np.atleast_1d, WARM))]
    whole = pvlib.pvsystem.singlediode(*diode)
    v = np.linspace(0.0, whole["v_oc"], 20_001)
    return v, pvlib.pvsystem.i_from_v(v, *diode), whole["i_sc"], whole["v_oc"]


def test_the_curve_to_start_from(measured):
    v, i, i_sc, v_oc = measured
    assert [i_sc, v_oc, (v * i).max()] == pytest.approx([7.63792, 35.15571, 198.4094], rel=1e-4)


def test_procedure_1(measured):
    v, i, i_sc, _ = measured
    volts, amperes = procedure_1(v, i, i_sc, FIRST, WARM, STC)
    assert amperes[0] == pytest.approx(9.43424, rel=1e-4)
    assert (volts * amperes).max() == pytest.approx(268.975, rel=1e-4)
    # The last measured point, at open circuit, becomes one with current.
    assert [amperes[-1], volts[-1]] == pytest.approx([1.796, 37.378], rel=2e-4)


def test_procedure_2(measured):
    v, i, _, v_oc = measured
    volts, amperes = procedure_2(v, i, v_oc, SECOND, WARM, STC)
    found = [amperes[0], volts[-1], (volts * amperes).max()]
    assert found == pytest.approx([9.43283, 38.0124, 265.564], rel=1e-4)
    assert amperes[-1] == pytest.approx(0.0, abs=1e-9)


def test_resistance_that_grows_with_temperature_takes_voltage(measured):
    v, i, i_sc, v_oc = measured
    for carried, at, own in ((procedure_1, i_sc, FIRST), (procedure_2, v_oc, SECOND)):
        plain, amperes = carried(v, i, at, own, WARM, STC)
        grown, same = carried(v, i, at, own._replace(kappa=0.001), WARM, STC)
        assert (same == amperes).all()
        # Twenty kelvin less: that much less of kappa's drop.
        assert grown - plain == pytest.approx(0.001 * 20.0 * amperes)


def test_nothing_changes_under_the_same_conditions(measured):
    v, i, i_sc, v_oc = measured
    for found in (
        procedure_1(v, i, i_sc, FIRST, WARM, WARM),
        procedure_2(v, i, v_oc, SECOND, WARM, WARM),
    ):
        np.testing.assert_allclose(found, (v, i), rtol=1e-12, atol=1e-12)


# 9.43 A x 0.7 x (1 + 0.0006 x 25) by hand.
def test_the_expected_short_circuit_current():
    shorted = np.zeros(1), np.array([9.43])
    _, found = procedure_2(*shorted, 38.3, SECOND, STC, State(700.0, 50.0))
    assert found[0] == pytest.approx(6.7000, abs=5e-5)
