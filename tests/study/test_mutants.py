"""Plausible but wrong tools: each is put in place of the right one and must fail a check."""

import numpy as np
import pytest

from tests.study import checks, sites
from yieldkit.base.errors import InputError
from yieldkit.physics.circuit import api as circuit
from yieldkit.physics.circuit import components
from yieldkit.physics.circuit import layout as circuit_layout
from yieldkit.study.simulation import dc_side as direct
from yieldkit.study.simulation import loss_budget as losses
from yieldkit.study.simulation import offer, trackers, under_sky

pytestmark = pytest.mark.slow


def sum_of_single_maxima(patch):
    """Take the strings' own maxima for a tracker's."""
    right = circuit.operating_point

    def wrong(conditions, strings, *args, **kwargs):
        if len(strings) == 1:
            return right(conditions, strings, *args, **kwargs)
        each = [right(conditions, (string,), *args, **kwargs) for string in strings]
        whole = right(conditions, strings, *args, **kwargs)
        return whole._replace(p_dc=sum(one.p_dc for one in each))

    patch.setattr(circuit, "operating_point", wrong)


def mean_irradiance_of_the_tracker(patch):
    """Light every group of a tracker with the mean of the site's planes."""
    right = circuit.operating_point

    def wrong(conditions, strings, *args, **kwargs):
        used = sorted({run.condition for string in strings for run in string.runs})
        mean = conditions._replace(photocurrent=conditions.photocurrent.copy())
        mean.photocurrent[:, used] = mean.photocurrent[:, used].mean(axis=1, keepdims=True)
        return right(mean, strings, *args, **kwargs)

    patch.setattr(circuit, "operating_point", wrong)


def no_bypass(patch):
    """Leave the bypass diodes out."""
    patch.setattr(circuit_layout, "default_bypass", lambda: components.Bypass(1e-30, 10.0))


def clipped_at_a_share_of_the_ac_limit(patch):
    """Give each tracker its share of the AC limit, whatever the others do."""
    right = direct.input_power_bound

    def wrong(tracked, names, inverter):
        share = (inverter.ac.max_power_w or inverter.ac.nominal_power_w) / len(names)
        return np.minimum(right(tracked, names, inverter), share)

    patch.setattr(direct, "input_power_bound", wrong)


def auxiliary_power_of_every_tracker(patch):
    """Book the night power once per tracker."""
    right = offer._own_consumption
    patch.setattr(
        offer, "_own_consumption", lambda chosen, p_dc: p_dc.shape[1] * right(chosen, p_dc)
    )


def remainder_on_the_last_step(patch):
    """Forget the conversion and book what is missing as availability."""
    right = losses.loss_budget

    def wrong(*args):
        found = right(*args)
        steps = {**found.steps, "conversion": 0.9 * found.steps["conversion"]}
        end = found.nameplate_kwh - sum(steps.values())
        steps["availability"] += end - found.delivered_kwh
        return found._replace(steps=steps)

    from yieldkit.study.simulation import simulate

    patch.setattr(simulate, "loss_budget", wrong)


def two_trackers_swapped(patch):
    """Give the first tracker's points the second's name."""
    right = direct.direct_side

    def wrong(*args):
        side = right(*args)
        names = (side.names[1], side.names[0], *side.names[2:])
        return direct.DirectSide(**{**vars(side), "names": names})

    patch.setattr(direct, "direct_side", wrong)


def sun_at_the_label(patch):
    """Take the sun at the label instead of where the values hold."""
    patch.setattr(under_sky, "sun_instants", lambda starts, *rest: starts)


MUTANTS = {
    sum_of_single_maxima: (
        checks.parallel_strings_of_unequal_length_lose_percents,
        "10 beside 12 lose 6 %",
    ),
    # The product sees for itself that an input gives more than its strings have.
    mean_irradiance_of_the_tracker: (
        checks.two_planes_in_parallel_are_not_their_mean,
        "got nan kWh delivered; expected a finite energy",
    ),
    no_bypass: (
        checks.bypass_diodes_limit_what_a_dark_plane_costs,
        "dark modules are bypassed",
    ),
    clipped_at_a_share_of_the_ac_limit: (
        checks.no_tracker_is_clipped_while_the_others_leave_room,
        "one plane may use the whole AC limit",
    ),
    auxiliary_power_of_every_tracker: (
        checks.the_inverter_draws_its_night_power_once,
        "night power is drawn once",
    ),
    remainder_on_the_last_step: (
        checks.every_step_is_a_loss_of_its_own,
        "no step is a remainder",
    ),
    two_trackers_swapped: (
        checks.trackers_keep_their_own_planes,
        "a tracker has its own plane",
    ),
    sun_at_the_label: (
        checks.east_over_west_of_the_shipped_year,
        "the sun stands where values hold",
    ),
}
"""Each mutant with the check it must fail, and the words of the assertion that catches it."""


@pytest.fixture
def forgetful():
    """Forget cached results before and after a mutant."""
    sites.demo_results.cache_clear()
    yield
    sites.demo_results.cache_clear()


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.__name__)
@pytest.mark.usefixtures("forgetful")
def test_a_wrong_tool_fails(mutant, monkeypatch):
    check, words = MUTANTS[mutant]
    mutant(monkeypatch)
    with pytest.raises((AssertionError, InputError), match=words):
        check()


def test_every_check_has_a_mutant_or_guards_a_limit():
    assert {check for check, _ in MUTANTS.values()} <= set(checks.CHECKS)
    assert trackers.circuit is circuit
