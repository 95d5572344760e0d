"""Connection points drawn without choosing: the equations, the rules, and a second road."""

import numpy as np
import pytest

from tests.amounts import amount
from tests.physics.ac.bisected_connection import bisected
from tests.physics.ac.drawn_connections import draw, rules_missed, sharing_missed, voltages
from yieldkit.physics.ac.connection_state import ExportLimit

pytestmark = pytest.mark.slow

HOURS = 50


@pytest.mark.parametrize("first", range(0, 400, 100))
def test_twenty_thousand_hours_are_solved_whatever_the_start(first):
    met, held = 0, np.zeros(8, dtype=int)
    for seed in range(first, first + 100):
        rng = np.random.default_rng(seed)
        case = draw(rng, HOURS)
        state = case.solved()
        assert state.solved.all(), seed
        assert state.residual.max() <= 1e-7, seed
        nodes = np.abs(voltages(case, state.p, state.q))
        assert np.abs(nodes[:, 0] - state.v_meter).max() <= 1e-7, seed
        assert np.abs(nodes[:, 1:] - state.v_ac).max() <= 1e-7, seed
        assert rules_missed(case, state).max() <= 1e-3, seed
        other = case.solved(case.stiff_v * rng.uniform(0.85, 1.2, HOURS))
        assert np.abs(other.v_ac - state.v_ac).max() <= 1e-7, seed
        if np.isfinite(case.limit.power):
            assert (state.p_export - case.limit.power).max() <= 1e-4, seed
            assert sharing_missed(case, state).max() <= 1e-9, seed
            limited = (state.limit == 4).any(axis=1)
            assert np.abs(state.p_export[limited] - case.limit.power).max(initial=0.0) <= 1e-4, seed
            met += limited.sum()
        held += np.bincount(state.limit.ravel(), minlength=8)
    # Every limit of theirs has held somewhere.
    assert (held[[0, 2, 3, 4, 6]] > 0).all()
    assert met > 100


@pytest.mark.parametrize("seed", range(amount(6, 60)))
def test_sweeps_of_bisections_find_the_same(seed):
    rng = np.random.default_rng(9000 + seed)
    case = draw(rng, 8)._replace(limit=ExportLimit())
    case = case.of(list(range(min(case.offer.shape[1], 3))))
    p, q, volts = bisected(case, 60)
    state = case.solved()
    assert np.abs(state.v_ac - volts).max() < 1e-6
    assert np.abs(state.p - p).max() < 0.01
    assert np.abs(state.q - q).max() < 0.01
