"""Residual current monitor, AC surge device, NOCT: what each word and number of the file says."""

import pytest

from yieldkit.config.site.files import load_site
from yieldkit.design.checks.built_in import AC_SURGE, MONITOR
from yieldkit.design.checks.cell_temperature import CHECK, open_rack_temperature
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    NOT_APPLICABLE,
    NOT_CHECKED,
    NOT_PERMITTED,
    PASSES,
)
from yieldkit.design.checks.limits import check

pytestmark = pytest.mark.slow


def found(changes, name):
    """Return a finding of the changed demonstration by its name."""
    site = load_site().variant(changes)
    return next(each for each in check(site) if each.check == name)


@pytest.mark.parametrize(
    ("monitor", "device", "topology", "verdict", "said"),
    [
        (True, None, "transformerless", PASSES, ""),
        (False, None, "transformerless", NOT_PERMITTED, "Without a transformer a monitor is"),
        (False, "type-a", "transformerless", NOT_PERMITTED, "or a type B device in the AC lead"),
        (False, "type-b", "transformerless", PASSES, "the type B device in the AC lead watches"),
        (None, None, "transformerless", NOT_CHECKED, "Whether the inverter has a residual"),
        (False, None, "transformer", NOT_APPLICABLE, "A transformer separates."),
        (True, None, None, NOT_CHECKED, "The inverter's topology is not known."),
    ],
)
def test_without_a_transformer_somebody_watches_the_residual_current(
    monitor, device, topology, verdict, said
):
    each = found(
        {
            "inverter.residual_current_monitor": monitor,
            "grid.residual_current_device": device,
            "inverter.topology": topology,
        },
        MONITOR,
    )
    assert each.verdict == verdict
    assert said in each.advice


@pytest.mark.parametrize(
    ("devices", "verdict", "said"),
    [
        (None, NOT_CHECKED, "Whether surge protective devices are fitted is not known."),
        ({"dc_type": "type-2", "ac_type": "type-1-2"}, PASSES, "One of type 1 2 is drawn."),
        ({"dc_type": "type-2"}, NOT_CHECKED, "whether the board has one is not known."),
        ({"dc_type": "none"}, NOT_APPLICABLE, "None is drawn on either side"),
    ],
)
def test_the_ac_sides_surge_device_is_told(devices, verdict, said):
    each = found({"inverter.surge_protection": devices}, AC_SURGE)
    assert each.verdict == verdict
    assert said in each.advice


def test_hot_cells_by_their_datasheet_cost_yield():
    # Open rack: 20 degC + 0.9 x 800 W/m2 over u0 + u1 x 1 m/s, about 42 to 46 degC.
    simulated = open_rack_temperature()
    assert 40.0 < simulated < 48.0
    assert found({}, CHECK).verdict == NOT_APPLICABLE
    assert found({"module_types.0.noct_c": 44.0}, CHECK).verdict == PASSES
    hot = found({"module_types.0.noct_c": 52.0}, CHECK)
    assert hot.verdict == COSTS_YIELD
    assert hot.advice.startswith(f"An open rack is simulated with {simulated:.1f} degC")
    assert "the energy takes the mounting's own coefficients, not NOCT" in hot.rule


def test_the_bonding_conductor_is_told_with_its_rule():
    for section, verdict in ((6.0, PASSES), (4.0, NOT_PERMITTED), (None, NOT_CHECKED)):
        each = found({"grid.bonding_conductor_mm2": section}, "bonding conductor")
        assert each.verdict == verdict
        assert each.rule.startswith("IEC 60364-7-712:2017, 712.542")
