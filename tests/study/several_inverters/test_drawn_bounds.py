"""Bounds lie above what wirings deliver, whatever the inverters share, on sites drawn at random."""

import numpy as np
import pytest

from tests.amounts import amount
from tests.study.several_inverters.drawn_sites import SUBJECTS, drawn_side, drawn_wiring
from tests.study.several_inverters.wide_roofs import space_over
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.study.several_inverters.references import reference_of
from yieldkit.study.several_inverters.search import _even_share
from yieldkit.study.several_inverters.space import touching
from yieldkit.study.simulation.ac_chain import off_fractions

pytestmark = pytest.mark.slow

SITES = amount(40, 2_000)
"""Sites of each subject."""
WIRINGS = 6
"""Wirings of each site; bounds touch the first two, and none."""

MET_KW = 1e-9
"""By how much the connection point may pass an export limit [kW]."""


def by_inverter(space, one, wired):
    """Return what a reference bounds a wiring by, added over inverters [kWh]."""
    found = one.constant_kwh
    for place, rows in enumerate(wired):
        dc, ac = space.side.powers(place, rows)
        drawn = np.where(dc <= 0.0, space.side.limits.night[place], 0.0)
        power = np.minimum(ac, space.caps[place]) - drawn
        found += float((one.weight[place] * power).sum())
    return found


def by_input(space, known, wired):
    """Return what the same reference bounds it by, added over inputs [kWh]."""
    found = known.start(0, space)
    for own, rows in zip(known.inputs[0], wired, strict=True):
        found += float(own.row_kwh[list(rows)].sum()) if rows else own.idle_kwh
    return found


def binds(side, subject, wired):
    """Tell whether what a draw is about holds a wiring back at all."""
    sides = [side.powers(place, rows) for place, rows in enumerate(wired)]
    dc, ac = (np.column_stack(each) for each in zip(*sides, strict=True))
    drawn = side.limits.drawn(dc)
    fed = side.point.fed(ac, drawn)
    if subject == "q-of-u":
        return bool((fed.q != 0.0).any())
    if subject == "amperes":
        return bool((fed.limit == AC_LIMIT["amperes"]).any())
    return bool((off_fractions(side.prepared.site, side.point, drawn, fed) > 0.0).any())


@pytest.mark.parametrize("subject", SUBJECTS)
def test_no_bound_is_below_what_a_drawn_site_delivers(subject):
    bound_at, gaps = 0, []
    for seed in range(SITES):
        rng = np.random.default_rng([SUBJECTS.index(subject), seed])
        side = drawn_side(rng, subject)
        space = space_over(side)
        wirings = [drawn_wiring(rng, side) for _ in range(WIRINGS)]
        exact = [side.delivered(wired).energy_kwh for wired in wirings]
        bound_at += any(binds(side, subject, wired) for wired in wirings)
        references = [reference_of(side, wired, space.caps) for wired in wirings[:2]]
        for one in [_even_share(space), *references]:
            known = touching(space, one)
            for wired, energy in zip(wirings, exact, strict=True):
                outer, inner = by_inverter(space, one, wired), by_input(space, known, wired)
                slack = 1e-9 * max(abs(energy), abs(outer)) + MET_KW * side.lit.size
                told = f"{subject}, seed {seed}: {wired} delivers {energy}, bounds {outer}, {inner}"
                assert outer >= energy - slack, told
                assert inner >= outer - slack, told
        gaps.append(by_inverter(space, references[0], wirings[0]) - exact[0])
    assert bound_at > 0.3 * SITES
    assert np.median(gaps) < 0.05 * np.median(np.abs(exact))
