"""The best wirings over two inverters: those that plain enumeration finds, and bounds above all."""

from typing import NamedTuple

import numpy as np
import pytest

from tests.study.every_key_sites import listed_rows
from tests.study.several_inverters.plain_enumeration import Enumerated, OwnList, enumerated
from tests.study.several_inverters.wide_roofs import (
    WITHIN,
    days,
    kind,
    roofs,
    side_of,
    silent,
    space_over,
)
from yieldkit.config.site.site import Group, TrackerStrings, WiredString
from yieldkit.design.permitted import completions
from yieldkit.design.permitted.wiring_count import wiring_count
from yieldkit.study.several_inverters.own_wirings import totals_of
from yieldkit.study.several_inverters.references import reference_of
from yieldkit.study.several_inverters.search import (
    Found,
    _even_share,
    search,
)
from yieldkit.study.several_inverters.solved_wirings import Wanted, each_wiring, every_wiring
from yieldkit.study.several_inverters.space import Space, Touching, touching

pytestmark = pytest.mark.slow

BEST = 100
TWO_INPUTS = kind("two inputs (invented)", 10e3, 2)
TABLE = {
    "kind": "table",
    "loads": (0.05, 0.1, 0.2, 0.3, 0.5, 0.75, 1.0),
    "voltages_v": (250.0, 450.0, 700.0),
    "values": (
        (0.88, 0.93, 0.955, 0.962, 0.967, 0.966, 0.963),
        (0.90, 0.945, 0.966, 0.973, 0.977, 0.976, 0.974),
        (0.89, 0.94, 0.962, 0.969, 0.974, 0.973, 0.971),
    ),
}
"""An efficiency that depends on the voltage (figures of no real inverter)."""


class Case(NamedTuple):
    """A site, every wiring of it by plain enumeration, and what the search finds.

    Parameters
    ----------
    space : Space
        What is to be wired.
    every : Enumerated
        Every wiring.
    found : Found
        The best.
    """

    space: Space
    every: Enumerated
    found: Found


def case(modules, inverters, grid=None, constraints=WITHIN, leave_at_most=0):
    """Return a case."""
    side = side_of(roofs(modules, inverters, grid), days(), constraints)
    space = space_over(side, leave_at_most)
    limit = (grid or {}).get("export_limit_w", np.inf)
    every = enumerated(side, space.left, leave_at_most, limit)
    found = search(space, Wanted(BEST, each_wiring, every_wiring), silent)
    return Case(space, every, found)


def nothing_shared():
    """Two equal inverters, each under limits of its own only."""
    return case((24, 24, 24), [(TWO_INPUTS, {})] * 2)


def limit_at_the_meter():
    """Two equal inverters behind an export limit."""
    return case((20, 20, 20), [(TWO_INPUTS, {})] * 2, {"export_limit_w": 12e3})


def unequal():
    """Two inverters of different size."""
    large, small = (kind(f"{watts} W (invented)", watts, n) for watts, n in ((10e3, 3), (6e3, 2)))
    return case((19, 15), [(large, {}), (small, {})], {"export_limit_w": 9e3})


def some_left_over():
    """Up to three modules may stay unwired."""
    return case((15, 14), [(TWO_INPUTS, {})] * 2, leave_at_most=3)


def one_idle():
    """So few modules that one inverter may stay idle, and draws its night power by day."""
    hungry = kind("hungry (invented)", 5e3, 2, night_power_w=90.0, auxiliary_power_w=20.0)
    return case((14, 9), [(hungry, {})] * 2)


def listed():
    """Inverters from the bundled list, by coefficients that depend on the voltage."""
    row = listed_rows("cecinverter", Paco=(9_900, 10_100), Vdco=(600, 700))[0]
    own = kind("listed (invented)", 10e3, 2, efficiency={"kind": "sandia-list", "row": row})
    return case((18, 16), [(own, {})] * 2, {"export_limit_w": 9e3})


def by_voltage():
    """An efficiency that depends on the voltage, so that inputs are weighted by their power."""
    own = kind("table (invented)", 8e3, 2, efficiency=TABLE)
    return case((18, 16), [(own, {})] * 2, {"export_limit_w": 10e3})


def asked_for():
    """One input wired already and one to be kept free, on inverters that are equal otherwise."""
    nine = WiredString(groups=(Group(plane="plane 1", modules=9),))
    fixed = TrackerStrings(inverter="inverter 1", mppt="MPPT 1", strings=(nine,))
    wish = WITHIN._replace(keep_free=("inverter 2 / MPPT 2",), fixed=(fixed,))
    three = kind("three inputs (invented)", 9e3, 3)
    return case((24, 13), [(three, {})] * 2, {"export_limit_w": 8e3}, wish)


def few_amperes():
    """The inverter allows less short-circuit current than its inputs together."""
    own = kind("few amperes (invented)", 10e3, 3, max_dc_short_circuit_a=45.0)
    return case((22, 18), [(own, {})] * 2)


SMALL = {
    each.__name__: each
    for each in (unequal, some_left_over, one_idle, listed, by_voltage, asked_for, few_amperes)
}
COUNTS = {"nothing_shared": 410_703, "limit_at_the_meter": 58_326}
"""How many wirings there are (computed by plain enumeration)."""


@pytest.fixture(scope="module")
def wide():
    """Return the two cases with wide roofs."""
    return {each.__name__: each() for each in (nothing_shared, limit_at_the_meter)}


@pytest.fixture(scope="module", params=SMALL)
def small(request):
    """Return a small case."""
    return SMALL[request.param]()


def counted(space):
    """Return how many wirings there are, without listing them."""
    classes = [own.kind.classes for own in space.side.kinds]
    return wiring_count(
        [[np.array([sets.usage for sets in own.arrangements]) for own in each] for each in classes],
        [[len(own.mppts) for own in each] for each in classes],
        [len(own.kind.names) for own in space.side.kinds],
        space.left,
        space.leave_at_most,
    )


def bounds_by_input(space, known, every):
    """Return what each reference bounds each wiring by, added over inputs (wiring, reference)."""
    found = []
    for one in range(len(known.references)):
        total = np.full(len(every.chosen), known.start(one, space))
        for place, own in enumerate(every.own):
            added = np.append(known.inputs[one][place].row_kwh, 0.0)[own.rows].sum(axis=1)
            if not space.side.solved(place).fixed_rows.size:
                idle = (own.rows < 0).all(axis=1)
                added = np.where(idle, known.inputs[one][place].idle_kwh, added)
            total += added[every.chosen[:, place]]
        found.append(total)
    return np.column_stack(found)


def bounds_by_inverter(space, known, every):
    """Return what each reference bounds each wiring by, added over inverters."""
    total = np.array([one.constant_kwh for one in known.references])
    total = np.repeat(total[None], len(every.chosen), axis=0)
    for place, own in enumerate(every.own):
        at = int(space.side.kind_of[place])
        role = int(np.searchsorted(space.inverters_of(at), place))
        totals = totals_of(space, known.references, at, own.rows)
        total += totals[every.chosen[:, place], :, role]
    return total


def references_of(case, seed=17):
    """Return bounds that touch the best wiring, two drawn ones and none."""
    rng = np.random.default_rng(seed)
    drawn = [case.every.wired(int(at)) for at in rng.integers(0, len(case.every.chosen), 2)]
    known = touching(case.space, _even_share(case.space))
    first = Touching(known.references, known.inputs, known.rows)
    parts = [first]
    for rows in [case.found.best[0][0], *drawn]:
        one = reference_of(case.space.side, rows, case.space.caps)
        parts.append(touching(case.space, one))
    return Touching(
        tuple(one for part in parts for one in part.references),
        tuple(one for part in parts for one in part.inputs),
        known.rows,
    )


def alone(case, wired):
    """Return one wiring as if it were all that there is."""
    lists = []
    for place, rows in enumerate(wired):
        inputs = case.every.own[place].rows.shape[1]
        every = np.array([[*rows, *[-1] * (inputs - len(rows))]])
        lists.append(OwnList(every, np.empty((1, 0))))
    return Enumerated((lists[0], lists[1]), np.zeros((1, 2), dtype=int), np.empty(1))


def asleep_kwh(space, wired):
    """Return what inverters draw by day without any power, which no bound takes off [kWh]."""
    side = space.side
    dark = [(side.powers(place, rows)[0] <= 0.0).sum() for place, rows in enumerate(wired)]
    night = sum(side.limits.night[place] * hours for place, hours in enumerate(dark))
    return night * side.prepared.step_hours / 1000.0


def agree(case):
    """Compare the best with plain enumeration, and what is told about the rest."""
    best = case.every.best(BEST)
    found = np.array([delivered.energy_kwh for _wired, delivered in case.found.best])
    assert found.shape == best.shape
    np.testing.assert_allclose(found, best, rtol=1e-9)
    wirings = [wired for wired, _delivered in case.found.best]
    assert len(set(wirings)) == len(wirings)
    if len(case.every.chosen) > BEST:
        following = float(case.every.best(BEST + 1)[-1])
        assert case.found.bound_kwh > following * (1.0 - 1e-9)


def bounded(case):
    """See that no bound lies below any wiring, and that bounds touch what they are made from."""
    known, exact = references_of(case), case.every.energy_kwh
    tolerance = 1e-9 * np.abs(exact).max()
    inner = bounds_by_input(case.space, known, case.every)
    outer = bounds_by_inverter(case.space, known, case.every)
    assert (outer >= exact[:, None] - tolerance).all()
    assert (inner >= outer - tolerance).all()
    rows, best = case.found.best[0]
    touching = float(bounds_by_inverter(case.space, known, alone(case, rows))[0, 1])
    most = best.energy_kwh + asleep_kwh(case.space, rows)
    assert best.energy_kwh * (1.0 - 1e-9) < touching < most * (1.0 + 1e-9)


@pytest.mark.parametrize("name", COUNTS)
def test_the_best_of_a_wide_roof_are_those_of_plain_enumeration(wide, name):
    each = wide[name]
    assert counted(each.space) == len(each.every.chosen) == COUNTS[name]
    agree(each)
    assert each.found.solved <= 0.03 * COUNTS[name]


@pytest.mark.parametrize("name", COUNTS)
def test_no_bound_is_below_any_wiring_of_a_wide_roof(wide, name):
    bounded(wide[name])


def test_the_best_are_those_of_plain_enumeration(small):
    agree(small)
    if small.space.side.kinds[0].short_circuit_left_a == np.inf:
        assert counted(small.space) == len(small.every.chosen)
    else:
        assert counted(small.space) > len(small.every.chosen) > BEST


def test_no_bound_is_below_any_wiring(small):
    bounded(small)


def test_the_limit_binds_and_an_inverter_idles_where_it_should(wide):
    held = [delivered.limited_kwh for _wired, delivered in wide["limit_at_the_meter"].found.best]
    assert min(held) > 10.0
    idle = [() in wired for wired, _delivered in one_idle().found.best]
    assert any(idle)
    assert not all(idle)


def test_planes_counted_together_lead_to_the_same_best(wide, monkeypatch):
    right = wide["limit_at_the_meter"]
    assert right.space.states.number == 21**3
    monkeypatch.setattr(completions, "MOST_STEPS", 100_000)
    coarse = space_over(right.space.side)
    assert coarse.states.number < 21**3
    found = search(coarse, Wanted(BEST, each_wiring, every_wiring), silent)
    assert [delivered.energy_kwh for _wired, delivered in found.best] == pytest.approx(
        [delivered.energy_kwh for _wired, delivered in right.found.best], rel=1e-9
    )
    # Equal wirings may be named in another order.
    least = right.found.best[-1][1].energy_kwh * (1.0 + 1e-9)
    assert above(found, least) == above(right.found, least)


def above(found, least):
    """Return the wirings above an energy, whatever order their inputs and inverters come in."""
    return {
        tuple(sorted(tuple(sorted(rows)) for rows in wired))
        for wired, delivered in found.best
        if delivered.energy_kwh > least
    }
