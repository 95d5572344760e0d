"""Thin air: derating of the inverter, and what is not known of it above 2,000 m."""

import numpy as np
import pytest

from tests.config.small import mapping
from tests.study.sites import NO_LOSSES_BEHIND, ac_held_at, run, variant, weather
from yieldkit.config.site.files import site_from_mapping
from yieldkit.design.checks.limits import check
from yieldkit.study.simulation.prepare import prepare

pytestmark = pytest.mark.slow

ALPINE = {"above_m": 1000.0, "percent_per_100_m": 4.0}


def at_altitude(height=40, **inverter):
    """Return the two findings about altitude of a small site, clearances first."""
    content = mapping()
    content["site"]["altitude_m"] = height
    content["inverter"].update(inverter)
    found = check(site_from_mapping(content))
    return [each for each in found if each.check.startswith("altitude")]


def test_below_2000_m_clearances_hold_and_no_loss_is_applied():
    clearance, derating = at_altitude()
    assert (clearance.verdict, clearance.value, clearance.limit) == ("passes", 40.0, 2000.0)
    assert clearance.rule == "IEC 62109-1:2010, clearances for use up to 2,000 m (from memory)"
    assert derating.verdict == "passes"
    assert derating.advice == "No loss in thin air is given, and none is applied."


def test_above_2000_m_neither_clearances_nor_derating_are_checked():
    clearance, derating = at_altitude(2200)
    assert clearance.verdict == derating.verdict == "NOT CHECKED"
    assert clearance.advice == (
        "At 2200 m air insulates less than at the 2000 m that clearances are made for: the highest "
        "altitude the maker allows (inverter.max_altitude_m) is not known."
    )
    assert derating.advice == (
        "What 2200 m take of the power (inverter.altitude_derating) is not known."
    )


def test_the_makers_word_decides_above_2000_m():
    clearance, derating = at_altitude(2200, altitude_derating=ALPINE, max_altitude_m=3000)
    assert (clearance.verdict, clearance.rule) == ("passes", "maker's manual")
    assert (derating.verdict, derating.value) == ("costs yield", pytest.approx(52.0))
    clearance, _ = at_altitude(2200, max_altitude_m=2100)
    assert clearance.verdict == "not permitted"
    assert clearance.advice == "Take an inverter that its maker allows at this altitude."


def test_derating_by_altitude_needs_no_temperature_curve():
    # 4 % per 100 m above 1,000 m at 1,900 m: 64 % of nominal power are left.
    high = NO_LOSSES_BEHIND | ac_held_at(12_000.0) | {"site.altitude_m": 1900}
    low, thin = run(variant(high)), run(variant(high | {"inverter.altitude_derating": ALPINE}))
    assert float(low["p_ac"].max()) == pytest.approx(12_000.0, rel=1e-9)
    assert float(thin["p_ac"].max()) == pytest.approx(7680.0, rel=1e-9)
    lost = np.maximum(low["p_ac"].to_numpy() - 7680.0, 0.0).sum() / 1000.0
    gap = low.attrs["energy_kwh"] - thin.attrs["energy_kwh"]
    # A lower power costs what lies above it; the trackers' other voltage costs a little more.
    assert gap == pytest.approx(lost, rel=2e-3)
    assert gap > 100.0
    told = prepare(variant(high | {"inverter.altitude_derating": ALPINE}), weather()).assumptions
    assert (
        "Altitude: 1900 m leave 64 % of nominal power (4 % per 100 m above 1000 m); the loss is "
        "booked with temperature derating."
    ) in told
