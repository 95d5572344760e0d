"""Plausible but wrong searches over several inverters: each must lose against plain enumeration."""

from functools import cache
from itertools import combinations_with_replacement

import numpy as np
import pytest

from tests.study.several_inverters.plain_enumeration import enumerated
from tests.study.several_inverters.wide_roofs import (
    WITHIN,
    days,
    kind,
    roofs,
    side_of,
    silent,
    space_over,
)
from yieldkit.design.permitted.wiring_count import wiring_count
from yieldkit.study.several_inverters import references, whole_wirings
from yieldkit.study.several_inverters import search as search_room
from yieldkit.study.several_inverters.search import search
from yieldkit.study.several_inverters.solved_wirings import Wanted, each_wiring, every_wiring

pytestmark = pytest.mark.slow

BEST, LIMIT_W = 40, 5e3
TWO_INPUTS = kind("two inputs (invented)", 10e3, 2)
HUGE = 377_113_891_020
"""Sixty modules on each of three planes, two inverters of three inputs (computed independently
beforehand, by a polynomial in whole numbers)."""


@cache
def side():
    """Return two equal inverters behind an export limit."""
    site = roofs((17, 15), [(TWO_INPUTS, {})] * 2, {"export_limit_w": LIMIT_W})
    return side_of(site, days(), WITHIN)


@cache
def best():
    """Return the best energies by plain enumeration [kWh]."""
    return enumerated(side(), np.array([17, 15]), 0, LIMIT_W).best(BEST)


def found(of=None):
    """Return the best energies that the search finds [kWh], and how many it solved."""
    wanted = Wanted(BEST, each_wiring, every_wiring)
    result = search(space_over(side() if of is None else of), wanted, silent)
    return np.array([each.energy_kwh for _, each in result.best]), result.solved


def agrees():
    """Tell whether the search finds what there is."""
    energies, _ = found()
    return energies.shape == best().shape and np.allclose(energies, best(), rtol=1e-9, atol=0.0)


def test_the_search_itself_agrees():
    assert agrees()


def test_bounds_that_are_too_low_lose_wirings(monkeypatch):
    right = references.reference

    def too_low(*given):
        touching = right(*given)
        return touching._replace(weight=touching.weight * np.linspace(0.0, 1.0, side().lit.size))

    monkeypatch.setattr(references, "reference", too_low)
    monkeypatch.setattr(search_room, "reference", too_low)
    assert not agrees()


def test_a_shared_limit_that_is_ignored_gives_other_energies():
    free = side()
    unlimited = free.point._replace(limit=free.point.limit._replace(power=np.inf))
    energies, _ = found(references_without(free, unlimited))
    assert (energies[: best().size] > best() * (1.0 + 1e-6)).all()


def references_without(of, point):
    """Return the same inverters at another connection point."""
    return type(of)(of.prepared, of.kinds, of.kind_of, of.lit, point, of.limits, of.dark_kwh)


def test_without_the_mask_of_limited_hours_more_must_be_solved(monkeypatch):
    _, before = found()
    right = references.reference

    def unmasked(of, *given):
        free = of.point._replace(limit=of.point.limit._replace(power=np.inf))
        return right(references_without(of, free), *given)

    monkeypatch.setattr(references, "reference", unmasked)
    energies, after = found()
    assert np.allclose(energies, best(), rtol=1e-9, atol=0.0), "too loose is not wrong"
    assert after > 2 * before


def test_equal_inverters_that_are_not_exchanged_give_wirings_twice(monkeypatch):
    right = whole_wirings.combinations

    def apart(kinds, choices, bounds, *given, **more):
        doubled = choices._replace(
            kind_begin=np.array([0, choices.kind_begin[-1], choices.kind_begin[-1]])
        )
        assert kinds.tolist() == [0, 0]
        one = right(kinds, doubled, bounds, *given, **more)
        other = one.chosen[:, ::-1]
        return one._replace(
            chosen=np.vstack([one.chosen, other]), bound=np.concatenate([one.bound, one.bound])
        )

    monkeypatch.setattr(whole_wirings, "combinations", apart)
    assert not agrees()


def usages(modules, planes=3, lengths=range(6, 23)):
    """Return what one or two strings of one plane each take (set, plane)."""
    strings = [(plane, length) for plane in range(planes) for length in lengths]
    taken = []
    for number in (1, 2):
        for chosen in combinations_with_replacement(strings, number):
            own = [sum(n for plane, n in chosen if plane == at) for at in range(planes)]
            if max(own) <= modules:
                taken.append(own)
    return np.array(taken)


def test_hundreds_of_thousands_of_millions_are_counted():
    counted = wiring_count([[usages(60)]], [[3]], [2], np.array([60] * 3), 0)
    assert counted == HUGE


def test_one_big_inverter_or_inverters_kept_apart_count_otherwise():
    of, modules = [usages(24)], np.array([24] * 3)
    assert wiring_count([of], [[2]], [2], modules, 0) == 410_703
    assert wiring_count([of], [[4]], [1], modules, 0) == 137_840
    assert wiring_count([of, of], [[2], [2]], [1, 1], modules, 0) > 410_703
