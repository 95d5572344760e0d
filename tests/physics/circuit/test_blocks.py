"""The same answer whatever the block, the order or the number of threads."""

from functools import cache
from itertools import pairwise

import numpy as np
import pytest

import yieldkit
from yieldkit.physics.circuit.api import (
    CellConditions,
    Run,
    StringCircuit,
    TrackerLimits,
    operating_point,
)
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.weather import site_weather

pytestmark = pytest.mark.slow

TRACKERS = {
    "parallel": (StringCircuit((Run(0, 36),), 0.3), StringCircuit((Run(1, 36),), 0.5)),
    "mixed": (StringCircuit((Run(0, 15), Run(1, 15), Run(2, 6)), 0.3),),
    "general": (StringCircuit((Run(0, 12), Run(2, 12))), StringCircuit((Run(1, 24),), 0.4)),
}
LIMITS = {
    "window": TrackerLimits(v_mpp_min=200.0, v_mpp_max=480.0, i_max=15.0, p_max=8000.0),
    "started": TrackerLimits(
        v_mpp_min=200.0,
        v_start=300.0,
        p_start=60.0,
        start_delay_s=400.0,
        v_stop=180.0,
        p_stop=30.0,
        restart_delay_s=900.0,
    ),
    "local": TrackerLimits(
        v_mpp_min=150.0, v_mpp_max=700.0, v_start=250.0, start_delay_s=300.0, global_search=False
    ),
}


@cache
def year():
    """Return the conditions of the demonstration site's year."""
    site = yieldkit.load_site()
    return prepare(site, site_weather(site)).conditions


def some(conditions, chosen):
    """Return some steps."""
    return CellConditions(*(np.ascontiguousarray(part[chosen]) for part in conditions))


def outcome(point):
    """Return everything of a point as bytes."""
    return [part.tobytes() for part in point]


def joined(points):
    """Return blocks' points as one."""
    return [np.concatenate(parts).tobytes() for parts in zip(*points, strict=True)]


def cuts(number):
    """Return edges of blocks that begin in the dark."""
    dark = np.flatnonzero(~(year().photocurrent > 0.0).any(axis=1))
    aimed = np.linspace(0, year().photocurrent.shape[0], number + 1)[1:-1]
    inner = dark[np.searchsorted(dark, aimed).clip(max=dark.size - 1)]
    return [0, *np.unique(inner), year().photocurrent.shape[0]]


@pytest.mark.parametrize("tracker", TRACKERS)
@pytest.mark.parametrize("limits", LIMITS)
@pytest.mark.parametrize("number", [7, 365])
def test_a_year_in_blocks_is_the_same_year(tracker, limits, number):
    strings, allowed = TRACKERS[tracker], LIMITS[limits]
    whole = operating_point(year(), strings, allowed)
    assert (whole.status == 0).all()
    edges = cuts(number)
    assert len(edges) > number
    blocks = [
        operating_point(some(year(), slice(begin, end)), strings, allowed)
        for begin, end in pairwise(edges)
    ]
    assert joined(blocks) == outcome(whole)


@pytest.mark.parametrize("tracker", TRACKERS)
@pytest.mark.parametrize("workers", [2, 8])
def test_threads_change_no_bit(tracker, workers):
    strings, allowed = TRACKERS[tracker], LIMITS["window"]
    alone = operating_point(year(), strings, allowed)
    shared = operating_point(year(), strings, allowed, workers=workers)
    assert outcome(alone) == outcome(shared)


@pytest.mark.parametrize("tracker", TRACKERS)
def test_an_hour_depends_on_nothing_but_itself(tracker):
    strings, allowed = TRACKERS[tracker], LIMITS["window"]
    whole = operating_point(year(), strings, allowed)
    order = np.random.default_rng(3).permutation(whole.p_dc.size)
    shuffled = operating_point(some(year(), order), strings, allowed)
    assert [part[order].tobytes() for part in whole] == outcome(shuffled)
    for hour in range(9, whole.p_dc.size, 1501):
        alone = operating_point(some(year(), [hour]), strings, allowed)
        assert alone.p_dc[0] == whole.p_dc[hour]
        assert alone.v_dc[0] == whole.v_dc[hour]
