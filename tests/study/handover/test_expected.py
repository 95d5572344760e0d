"""What should be read, against pvlib's single diode and the circuit of the whole input."""

from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pvlib
import pytest

from tests.study.sites import demo
from yieldkit.design.equipment.modules import fit_module_type
from yieldkit.physics.circuit.api import Run, StringCircuit, string_current, string_voltage
from yieldkit.physics.module.datasheet import translation_arguments
from yieldkit.study.handover.beside_expected import uneven
from yieldkit.study.handover.expected import (
    BAND,
    Conditions,
    cloudless_conditions,
    expected_readings,
)
from yieldkit.study.handover.module_tables import cell_groups, module_table
from yieldkit.study.handover.reading import Reading
from yieldkit.study.handover.slips import Drawn
from yieldkit.study.handover.string_model import mixed_current
from yieldkit.study.simulation.plane_sky import cloudless, plane_sky

NOON = pd.Timestamp("2026-06-21T12:10+01:00")
MORNING = pd.Timestamp("2026-06-21T08:20+01:00")


def readings(moment=NOON, wiring=0, light=(780.0, 820.0, 840.0), heat=(57.0, 59.0, 60.0)):
    """Return what should be read of the demonstration, by subject and quantity."""
    own = Conditions(moment, np.array(light), np.array(heat), True)
    found = expected_readings(demo(), demo().wirings[wiring], own)
    return {(each.subject, each.quantity): each for each in found}


def library(light, heat):
    """Return a module's open-circuit voltage and short-circuit current by pvlib."""
    fit = fit_module_type(demo().module_types[0])
    found = pvlib.pvsystem.calcparams_cec(
        light, heat, Adjust=fit.adjust_percent, **translation_arguments(fit.reference)
    )
    curve = pvlib.pvsystem.singlediode(*found)
    return float(curve["v_oc"]), float(curve["i_sc"])


def in_cells(plane, light, heat, moment):
    """Return light in the cells and their temperature, the glass and the plane's mounting told."""
    passed = plane_sky(demo(), demo().planes[plane], cloudless(demo(), pd.DatetimeIndex([moment])))
    return light * float(passed.passed[0]), heat + 1.0 * light / 1000.0


@pytest.mark.parametrize(
    ("string", "plane", "modules", "light", "heat"),
    [
        ("MPPT 1, string 1", 0, 14, 780.0, 57.0),
        ("MPPT 1, string 2", 0, 13, 780.0, 57.0),
        ("MPPT 2, string 1", 1, 14, 820.0, 59.0),
        ("MPPT 3, string 1", 2, 7, 840.0, 60.0),
    ],
)
def test_even_strings_read_what_pvlib_says_of_their_modules(string, plane, modules, light, heat):
    # Close to a roof cells are 1 K above the back at 1000 W/m2: King et al. (2004), table 1.
    volts, amperes = library(*in_cells(plane, light, heat, NOON))
    found = readings()
    assert found[string, "v_oc"].value == pytest.approx(modules * volts, rel=1e-6)
    assert found[string, "i_sc"].value == pytest.approx(amperes, rel=1e-5)


def test_light_on_the_glass_is_not_light_in_the_cells():
    site, lit = demo(), cloudless(demo(), pd.DatetimeIndex([MORNING]))
    west = plane_sky(site, site.planes[0], lit)
    assert west.passed[0] < 0.9  # the sun stands 60 degrees and more off the west roof
    found = readings(MORNING, light=(300.0, 800.0, 500.0))["MPPT 1, string 1", "i_sc"].value
    behind, naive = (library(own, 57.0 + 0.3)[1] for own in (300.0 * west.passed[0], 300.0))
    assert found == pytest.approx(behind, rel=1e-4)
    assert naive > 1.1 * found


def test_strings_in_parallel_meet_at_one_voltage_below_the_sum_of_their_maxima():
    both = readings()["MPPT 1", "p_dc"].value
    alone = 0.0
    for modules in (14, 13):
        light, heat = in_cells(0, 780.0, 57.0, NOON)
        fit = fit_module_type(demo().module_types[0])
        found = pvlib.pvsystem.calcparams_cec(
            light, heat, Adjust=fit.adjust_percent, **translation_arguments(fit.reference)
        )
        alone += modules * float(pvlib.pvsystem.singlediode(*found)["p_mp"])
    assert 0.96 * alone < both < 0.9985 * alone


def test_a_string_over_two_planes_has_the_brighter_ones_current_less_what_diodes_take():
    site, light, heat = demo(), np.array([[0.0, 820.0, 640.0]]), np.array([[20.0, 58.0, 50.0]])
    groups = np.array([0.0, 42.0, 21.0])
    found = mixed_current(site, groups, light, heat)[0]
    bright = library(820.0, 58.0)[1]
    assert 0.99 * bright < found < bright
    whole = readings(wiring=3, light=(780.0, 820.0, 640.0), heat=(57.0, 58.0, 50.0))
    volts = whole["MPPT 2, string 1", "v_oc"].value
    by_planes = [
        (14, library(*in_cells(1, 820.0, 58.0, NOON))[0]),
        (7, library(*in_cells(2, 640.0, 50.0, NOON))[0]),
    ]
    assert volts == pytest.approx(sum(count * own for count, own in by_planes), rel=1e-6)


def test_tables_of_modules_are_what_the_circuit_says():
    rng, site = np.random.default_rng(1), demo()
    light, heat = rng.uniform(60, 1400, 300), rng.uniform(-20, 90, 300)
    table, alone = module_table(site, site.planes[0]), StringCircuit((Run(0, 1),), 0.0, False)
    conditions, nothing = cell_groups(site, site.planes[0], light, heat), np.zeros(300)
    volts, *by = table.open_circuit(light, heat)
    np.testing.assert_allclose(volts, string_voltage(conditions, alone, nothing), rtol=1e-8)
    amperes, *_ = table.short_circuit(light, heat)
    np.testing.assert_allclose(amperes, string_current(conditions, alone, nothing), rtol=1e-7)
    warmer = table.open_circuit(light, heat + 0.01)[0]
    np.testing.assert_allclose((warmer - volts) / 0.01, by[1], rtol=1e-3)


def test_bands_are_the_errors_of_the_table():
    found = readings()["MPPT 3, string 1", "i_sc"]
    # meter 1.5, reading 0.8, modules 1.5, sensor 3, the plane's own light 1.5 %
    expected = np.sqrt(1.5**2 + 0.8**2 + 1.5**2 + 3.0**2 + 1.5**2)
    assert 100 * (found.high / found.value - 1) / BAND == pytest.approx(expected, rel=0.02)


def test_without_sensors_a_cloudless_sky_is_taken_with_larger_errors():
    own = cloudless_conditions(demo(), NOON)
    assert not own.sensed
    assert own.poa_global == pytest.approx([777.0, 816.0, 839.0], abs=3.0)
    found = expected_readings(demo(), demo().wirings[0], own)
    read = expected_readings(demo(), demo().wirings[0], own._replace(sensed=True))
    for wide, narrow in zip(found, read, strict=True):
        assert wide.high - wide.low > 1.2 * (narrow.high - narrow.low)


def reading(subject, quantity, value, light=800.0):
    """Return a reading at noon."""
    return Reading(subject, quantity, value, datetime(2026, 6, 21, 11, tzinfo=UTC), light, 55.0)


@pytest.mark.parametrize(
    ("values", "lights", "said"),
    [
        ((9.0, 9.3), (800, 800), False),
        ((9.0, 9.6), (800, 800), True),
        ((9.0, 9.6), (800, 853), False),
    ],
)
def test_like_strings_in_like_light_differ_by_five_per_cent_at_most(values, lights, said):
    drawn = Drawn(("A", "B"), ("x", "x"), ("roof",), np.array([[9.0], [9.0]]), np.array([3.0]))
    own = [
        reading(name, "i_sc", value, light)
        for name, value, light in zip("AB", values, lights, strict=True)
    ]
    found = uneven(drawn, own)
    assert bool(found) == said
    if said:
        assert "A and B are drawn alike, yet their currents differ by 6.5 %" in found[0]


def test_strings_of_other_lengths_are_not_compared():
    drawn = Drawn(("A", "B"), ("x", "x"), ("roof",), np.array([[9.0], [8.0]]), np.array([3.0]))
    assert not uneven(drawn, [reading("A", "v_oc", 350.0), reading("B", "v_oc", 310.0)])
