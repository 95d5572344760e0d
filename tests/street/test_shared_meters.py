"""Houses of several inverters behind one meter: equal ones, unequal ones, a weak network."""

import numpy as np
import pytest

from tests.street.joint_checks import JOINT_CHECKS, inverters
from tests.street.page_checks import the_comparison_has_its_page
from yieldkit.physics.ac.limits import AC_LIMIT

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("folder", ["twin_roofs", "three_sheds", "valley_dairy"])
@pytest.mark.parametrize("check", JOINT_CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))


def test_a_house_has_its_page(street):
    the_comparison_has_its_page(street("three_sheds"))


def held_hours(result, limit):
    """Return the hours in which a limit holds each inverter (inverter,)."""
    return (result["ac_limit"].to_numpy() == AC_LIMIT[limit]).sum(axis=0)


def test_each_house_meets_what_it_was_built_for(street):
    twins = street("twin_roofs").results["a side each"]
    lost = np.nansum(twins["off_fraction"].to_numpy(), axis=0)
    assert (lost > 5.0).all(), lost
    assert abs(lost[0] - lost[1]) > 1.0, "the longer lead and the other roof switch off otherwise"
    sheds = street("three_sheds").results["all of it"]
    kiln, saw, office = held_hours(sheds, "export")
    assert kiln < 30 < saw < office, "the first listed keeps its power longest"
    assert held_hours(sheds, "derating")[0] > 50
    assert held_hours(sheds, "amperes")[2] == 0
    assert float(sheds["loss_budget"].sel(loss_step="maximum input power")) > 5.0
    dairy = street("valley_dairy").results["exchanged"]
    for limit in ("export", "voltage-dependent power", "amperes"):
        assert held_hours(dairy, limit).sum() > 5, limit
    twins = street("twin_roofs").results["both sides in number 7"]
    assert held_hours(twins, "apparent power")[0] > 100


def test_an_idle_inverter_still_stands_at_a_voltage_and_draws_its_night(street):
    walk = street("three_sheds")
    office = inverters(walk).index("office")
    result = walk.results["office not yet"]
    assert (result["q_ac"].to_numpy()[:, office] == 0.0).all()
    assert (result["p_held_back"].to_numpy()[:, office] == 0.0).all()
    bright = result["p_ac"].to_numpy() > 8000.0
    volts, meter = result["v_ac"].to_numpy()[:, office], result["v_connection"].to_numpy()
    assert (volts[bright] > meter[bright] + 0.2).all(), "it hangs on the common lead"
