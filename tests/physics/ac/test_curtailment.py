"""The search for the common share that meets a cap: exact, and few conversions for it."""

import numpy as np
import pytest

from yieldkit.physics.ac.curtailment import curtail

P_DC = np.array([[6000.0, 4000.0], [3000.0, 2000.0], [8000.0, 1000.0], [0.0, 5000.0]])


def converted(p_dc):
    """Return AC power [W] of an inverter whose losses bend, as they do over load and voltage."""
    total = p_dc.sum(axis=1)
    return total - 30.0 - 0.01 * total - 2.5e-6 * total**2


def limited(cap):
    """Return what the search finds, and how often it had to convert."""
    calls = []

    def convert(bound, steps):
        calls.append(steps.size)
        return converted(bound)

    found = curtail(P_DC, converted(P_DC), np.full(4, cap), convert)
    return found, len(calls)


@pytest.mark.parametrize("cap", [1000.0, 3000.0, 4500.0, 8000.0])
def test_the_cap_is_met_by_one_share_of_all_inputs(cap):
    found, _calls = limited(cap)
    assert found.met.all()
    assert found.steps.tolist() == np.flatnonzero(converted(P_DC) > cap).tolist()
    assert converted(found.bound) == pytest.approx(np.full(found.steps.size, cap), rel=1e-10)
    share = found.bound.sum(axis=1) / P_DC[found.steps].sum(axis=1)
    assert found.bound == pytest.approx(share[:, None] * P_DC[found.steps], rel=1e-12)


def test_five_conversions_are_enough():
    assert limited(4500.0)[1] <= 5


def test_a_cap_of_nothing_needs_no_conversion():
    found, calls = limited(0.0)
    assert calls == 0
    assert found.met.all()
    assert (found.bound == 0.0).all()


def test_an_input_that_drops_out_leaves_its_cap_unmet_and_ends():
    # Below 60 % of its power the plant is off: no share gives half of it.
    def convert(bound, steps):
        whole = P_DC[steps].sum(axis=1)
        return np.where(bound.sum(axis=1) < 0.6 * whole, 0.0, converted(bound))

    found = curtail(P_DC, converted(P_DC), np.full(4, 2400.0), convert)
    assert not found.met[0]
    # What is left lies below the cap, never above it.
    assert (found.p_ac <= 2400.0 * (1.0 + 1e-9)).all()
    assert found.p_ac[0] == 0.0
