"""Wirings that nothing beats, against comparing every pair."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tests.study.sites import demo, weather
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.study.ranking.alternatives import alternative_ranks, beaten
from yieldkit.study.ranking.proposal import weigh
from yieldkit.study.ranking.propose import propose

pytestmark = pytest.mark.slow


def beaten_pair_by_pair(energy, costs):
    """Tell which are beaten by looking at every pair."""
    values = np.column_stack([-energy, costs])
    return [any((other <= own).all() and (other < own).any() for other in values) for own in values]


@given(st.integers(1, 40).flatmap(lambda n: arrays(np.int64, (n, 4), elements=st.integers(0, 4))))
def test_beaten_is_what_pairs_say(drawn):
    energy, costs = drawn[:, 0].astype(float), drawn[:, 1:].astype(float)
    assert beaten(energy, costs).tolist() == beaten_pair_by_pair(energy, costs)


@pytest.fixture(scope="module")
def ranking():
    """Return a small ranking with modules left out."""
    return propose(demo(), Constraints(leave_at_most=8, shortest=7, longest=20), weather())


def cost(wiring):
    """Return a wiring's strings, conductor [m] and modules."""
    strings = [each for tracker in wiring.trackers for each in tracker.strings]
    metres = sum(2.0 * each.cable.length_m for each in strings)
    return len(strings), metres, -sum(group.modules for each in strings for group in each.groups)


def test_alternatives_are_those_that_no_other_beats(ranking):
    energy = ranking.energy_kwh[ranking.order]
    costs = np.array([cost(ranking.wiring(rank)) for rank in range(ranking.order.size)])
    expected = ~np.array(beaten_pair_by_pair(np.round(energy / energy[0], 9), costs))
    found = alternative_ranks(ranking)
    assert found[0] == 0
    assert expected[found].all()
    # Every combination that nothing beats is there once.
    kinds = {
        (round(energy[rank] / energy[0], 9), *costs[rank]) for rank in np.flatnonzero(expected)
    }
    assert len(found) == len(kinds)


def test_the_table_shows_them_below_the_best(ranking):
    proposal = weigh(ranking, 3, draws=0)
    names = list(proposal.table["name"])
    assert names[:3] == ["proposed 1", "proposed 2", "proposed 3"]
    alternatives = [name for name in names if name.startswith("alternative")]
    assert alternatives
    assert names[3 : 3 + len(alternatives)] == alternatives
    assert [each.name for each in proposal.best] == names[: 3 + len(alternatives)]
    first = proposal.table.iloc[0]
    for _, row in proposal.table[proposal.table["name"].isin(alternatives)].iterrows():
        assert row["energy_kwh"] < first["energy_kwh"]
        assert row["strings"] < first["strings"] or row["cable_m"] < first["cable_m"]
        assert "fewer" in row["words"] or "less" in row["words"]
