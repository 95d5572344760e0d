"""Draws of the inverter's efficiency: its level, its slope over voltage and over load."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.study.sites import NO_LOSSES_BEHIND, ac_held_at, demo, string, variant, weather, wiring
from yieldkit.physics.ac.conversion import ac_power
from yieldkit.physics.ac.conversion_change import EfficiencyChange, changed_conversion
from yieldkit.physics.ac.conversion_curves import (
    curve_from_list_row,
    curve_from_table,
    curve_from_weighted,
)
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.uncertainty.draws import draw_energies
from yieldkit.study.uncertainty.unknowns import unknowns
from yieldkit.study.uncertainty.verdict import BETTER, NOT_SETTLED, judge
from yieldkit.study.wiring_energies.energies import wiring_energies

pytestmark = pytest.mark.slow

ROW = "ABB__MICRO_0_25_I_OUTD_US_208__208V_"
WEIGHTED = {"kind": "weighted", "european": 0.972, "maximum": 0.98}
LOADS = np.array([0.05, 0.1, 0.2, 0.3, 0.5, 0.75, 1.0])


def curves():
    """Return a table's, weighted figures' and a list row's conversion, power and span."""
    table = curve_from_table(
        LOADS,
        np.array([300.0, 600.0]),
        np.array([[0.92, 0.95, 0.965, 0.97, 0.972, 0.97, 0.967]] * 2),
        9000.0,
    )
    weighted = curve_from_weighted(0.972, None, 0.98, 0.5, 9000.0, None)
    row = curve_from_list_row(ROW)
    return (
        (table, 9000.0, 200.0, 800.0),
        (weighted, 9000.0, 200.0, 800.0),
        (row, row.pdco, row.v_low, row.v_high),
    )


@pytest.mark.parametrize("which", [0, 1, 2], ids=["table", "weighted", "row"])
def test_an_efficiency_moves_by_what_is_asked(which):
    curve, power, low, high = curves()[which]
    middle = curve.vdco if which == 2 else 0.5 * (low + high) if which else 450.0
    off = 0.5 * min(high - middle, middle - low)
    volts = np.array([middle - off, middle, middle + off])

    def efficiency(change, load):
        p_dc = np.full((3, 1), load * power)
        changed = changed_conversion(curve, change, low, high)
        return ac_power(changed, p_dc, volts[:, None]).p_ac / p_dc[:, 0]

    before = efficiency(EfficiencyChange(), 0.6)
    lower = efficiency(EfficiencyChange(level=-0.004), 0.6)
    assert lower - before == pytest.approx(-0.004, abs=3e-4)
    sloping = efficiency(EfficiencyChange(per_100_v=-0.003), 0.6)
    assert sloping - before == pytest.approx(-0.003 * np.array([-off, 0.0, off]) / 100, abs=4e-4)
    steep = EfficiencyChange(per_load=-0.006)
    gaps = [(efficiency(steep, x) - efficiency(EfficiencyChange(), x))[1] for x in (0.3, 0.5, 0.9)]
    assert gaps == pytest.approx([0.0012, 0.0, -0.0024], abs=4e-4)
    # However much is drawn, nothing comes out that didn't go in.
    assert (efficiency(EfficiencyChange(0.05, 0.03, 0.02), 0.5) < 1.0).all()


def spread(efficiency):
    """Return spread and source of the slope over voltage on the site with an efficiency."""
    site = variant({"inverter.efficiency": efficiency})
    found = next(each for each in unknowns(site) if each.name.endswith("by DC voltage"))
    return found.spread, found.source


def test_the_slope_is_drawn_widely_where_no_voltages_are_stated():
    stated = demo().inverter.efficiency.model_dump()
    one = {**stated, "voltages_v": (580.0,), "values": stated["values"][1:2]}
    assert spread(stated) == (0.3, "table of voltages given; assumed")
    for entry in (WEIGHTED, one, {"kind": "sandia-list", "row": ROW}):
        assert spread(entry) == (0.8, "no table of voltages given; assumed")


@cache
def two_lengths(volts=None, lost=None):
    """Return four strings of 12 and three of 16 modules on cables that favour the long ones.

    With voltages and what is lost there [1], the inverter's true efficiencies.
    """
    entry = WEIGHTED
    if volts:
        curve = curve_from_weighted(0.972, None, 0.98, 0.5, 25_000.0, None)
        c0, c1, c2 = curve.coefficients[0]
        flat = LOADS / (LOADS + c0 + c1 * LOADS + c2 * LOADS**2)
        rows = tuple(tuple(float(e) for e in flat - each) for each in lost)
        entry = {"kind": "table", "loads": tuple(LOADS), "voltages_v": volts, "values": rows}
    plane = dict(demo().model_dump()["planes"][0], modules=48, positions=(), drawing=())
    plane["cable_exit"] = None
    short, long = (string(("west roof", n), length_m=55.0) for n in (12, 16))
    site = variant(
        NO_LOSSES_BEHIND | ac_held_at(25_000.0) | {"inverter.efficiency": entry},
        [
            wiring("long", MPPT_1=[long, long], MPPT_2=[long]),
            wiring("short", MPPT_1=[short, short], MPPT_2=[short, short]),
        ],
        [plane],
    )
    return prepare(site, weather().isel(time=slice(3600, 3720)))


def gain(prepared):
    """Return by how much long strings yield more [%]."""
    long, short = wiring_energies(prepared, prepared.site.wirings)
    return 100.0 * (long / short - 1.0)


def test_a_plausible_slope_over_voltage_lies_inside_the_span():
    flat = gain(two_lengths())
    falling = gain(two_lengths((360.0, 480.0), (0.002, 0.010)))
    # Half a percent of gain on cables, of which falling efficiency leaves little or nothing.
    assert 0.3 < flat < 0.7
    assert falling < flat - 0.25
    drawn = draw_energies(two_lengths(), two_lengths().site.wirings, 32)
    found = judge(drawn, "long", "short")
    assert found.low_percent < falling < found.high_percent
    assert found.low_percent < flat < found.high_percent
    assert found.verdict == NOT_SETTLED != BETTER
    assert found.decided_by[0][0] == "inverter efficiency by DC voltage"
    assert "Knowing the inverter efficiency by DC voltage better would settle it." in (
        found.sentence()
    )


def test_ranking_and_simulation_use_the_changed_conversion_alike():
    prepared = two_lengths()
    change = EfficiencyChange(0.001, -0.004, 0.002)
    changed = changed_conversion(prepared.conversion, change, 160, 850)
    other = replace(prepared, conversions=(changed,))
    for wired, energy in zip(
        other.site.wirings, wiring_energies(other, other.site.wirings), strict=True
    ):
        found = simulate_prepared(other, wired, Solutions()).attrs["energy_kwh"]
        assert found == pytest.approx(energy, rel=1e-9)
    assert gain(other) < gain(prepared) - 0.1
