"""Every wiring that no limit forbids against a brute force, and questions without an answer."""

import json
from collections import Counter
from itertools import combinations_with_replacement, permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.study.sites import demo_mapping, string, variant
from yieldkit.base.errors import InputError, NothingPermitted
from yieldkit.config.site.site import TrackerStrings, WiredString, Wiring
from yieldkit.design.checks.findings import NOT_PERMITTED
from yieldkit.design.checks.limits import check
from yieldkit.design.permitted.arrangements import _pieces
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.wirings import possible_wirings

pytestmark = pytest.mark.slow


def laid_on(content):
    """Return strings on an input from plain content."""
    return TrackerStrings.model_validate_json(json.dumps(content))


OF_THE_PART = {"DC isolator category", "DC isolator poles"}


def small(planes, connectors, max_voltage=420.0, **changes):
    """Return a small site: planes as (name, modules, azimuth), one input per connector count."""
    base = demo_mapping()
    drawn = [
        dict(base["planes"][0], name=name, modules=modules, azimuth_deg=azimuth, horizon=())
        for name, modules, azimuth in planes
    ]
    inputs = [
        dict(
            base["inverter"]["mppts"][0],
            name=f"MPPT {number}",
            connectors=count,
            max_voltage_v=max_voltage,
            mpp_voltage_min_v=60.0,
            mpp_voltage_max_v=240.0,
            full_power_voltage_min_v=None,
            full_power_voltage_max_v=None,
            start_voltage_v=70.0,
            stop_voltage_v=60.0,
        )
        for number, count in enumerate(connectors, start=1)
    ]
    first = planes[0][0]
    wired = [{"name": "w", "trackers": [{"mppt": "MPPT 1", "strings": [string((first, 3))]}]}]
    return variant({"inverter.mppts": inputs} | changes, wired, drawn)


FEWEST = 3
"""Modules to start up at 70 V: in full sun at 37 degC, close to a roof with 1 m/s, the cells have
37 + 1000 / (19.3 + 1.26) = 85.6 degC and a module 38.9 V x (1 - 0.0026 x 60.6) = 32.8 V."""
MOST = {420.0: 9, 260.0: 5}
"""Modules by an input's highest voltage [V]: at -14 degC, 3 % above its datasheet, a module has
38.9 V x (1 + 0.0026 x 39) x 1.03 = 44.1 V."""


def brute_force(site, leave, crossing=False):
    """Return all permitted wirings as canonical keys, by trying everything."""
    names = [plane.name for plane in site.planes]
    drawn = {plane.name: plane.modules for plane in site.planes}
    inputs = site.inverter.mppts

    def strings_of(mppt):
        found = []
        most = MOST[mppt.max_voltage_v]
        for name in names:
            for count in range(FEWEST, min(most, drawn[name]) + 1):
                found.append(((name, count),))
        if crossing:
            for a in range(1, drawn[names[0]] + 1):
                for b in range(1, drawn[names[1]] + 1):
                    if FEWEST <= a + b <= most:
                        found.append(((names[0], a), (names[1], b)))
        return found

    per_input = []
    for mppt in inputs:
        options = [()]
        for number in range(1, mppt.connectors + 1):
            options += list(combinations_with_replacement(sorted(strings_of(mppt)), number))
        per_input.append(options)
    found = set()
    for chosen in product(*per_input):
        used = Counter()
        for strings in chosen:
            for piece in strings:
                for name, count in piece:
                    used[name] += count
        if not used or any(used[name] > drawn[name] for name in drawn):
            continue
        if sum(drawn.values()) - sum(used.values()) > leave:
            continue
        key = canonical(site, chosen)
        if key in found:
            continue
        if forbidden(site, inputs, chosen):
            continue
        found.add(key)
    return found


def forbidden(site, inputs, chosen):
    """Tell whether a check forbids a wiring."""
    trackers = tuple(
        TrackerStrings(
            mppt=mppt.name,
            strings=tuple(
                WiredString.model_validate_json(json.dumps(string(*piece))) for piece in strings
            ),
        )
        for mppt, strings in zip(inputs, chosen, strict=True)
        if strings
    )
    findings = check(site, Wiring(name="x", trackers=trackers))
    always = {
        each.check
        for each in check(site, site.wirings[0])
        if each.verdict == NOT_PERMITTED and each.subject in ("AC lead", "inverter", "connectors")
    }
    return any(
        each.verdict == NOT_PERMITTED and each.check not in OF_THE_PART | always
        for each in findings
    )


def canonical(site, chosen):
    """Return a wiring's key: inputs of one rating and planes that agree are interchangeable."""
    ratings = [mppt.model_dump_json(exclude={"name"}) for mppt in site.inverter.mppts]
    alike = {}
    for plane in site.planes:
        alike.setdefault(plane.model_dump_json(exclude={"name"}), []).append(plane.name)
    keys = []
    for orders in product(*(permutations(names) for names in alike.values())):
        swap = {
            a: b
            for names, order in zip(alike.values(), orders, strict=True)
            for a, b in zip(names, order, strict=True)
        }
        keys.append(
            tuple(
                sorted(
                    (
                        rating,
                        tuple(
                            sorted(
                                tuple(sorted((swap[n], c) for n, c in piece)) for piece in strings
                            )
                        ),
                    )
                    for rating, strings in zip(ratings, chosen, strict=True)
                )
            )
        )
    return min(keys)


def keys_of(possible):
    """Return the canonical keys of what was found, as a list."""
    site = possible.site
    found = []
    for candidate in possible.candidates:
        wiring = possible.wiring(candidate, "x")
        by_name = {
            tracker.mppt: tuple(
                tuple((group.plane, group.modules) for group in each.groups)
                for each in tracker.strings
            )
            for tracker in wiring.trackers
        }
        chosen = [by_name.get(mppt.name, ()) for mppt in site.inverter.mppts]
        found.append(canonical(site, chosen))
    return found


CASES = {
    "two planes, two alike inputs": (
        (("a", 7, 90.0), ("b", 6, 270.0)),
        (2, 2),
        1,
        False,
    ),
    "two inputs of two ratings": ((("a", 8, 90.0), ("b", 5, 270.0)), (1, 2), 2, False),
    "planes that agree": ((("a", 6, 90.0), ("b", 6, 90.0)), (2, 1), 0, False),
    "three planes, three inputs": (
        (("a", 5, 90.0), ("b", 4, 180.0), ("c", 4, 270.0)),
        (1, 1, 2),
        0,
        False,
    ),
    "crossing": ((("a", 5, 90.0), ("b", 4, 270.0)), (1, 1), 0, True),
}


@pytest.mark.parametrize("name", CASES)
def test_the_same_wirings_as_by_trying_everything(name):
    planes, connectors, leave, crossing = CASES[name]
    site = small(planes, connectors)
    constraints = Constraints(leave_at_most=leave, crossing=(("a", "b"),) if crossing else ())
    found = keys_of(possible_wirings(site, constraints))
    assert len(found) == len(set(found)), "duplicates"
    assert set(found) == brute_force(site, leave, crossing)


@given(
    st.lists(st.tuples(st.integers(3, 8), st.sampled_from([90.0, 180.0])), min_size=1, max_size=2),
    st.lists(st.integers(1, 2), min_size=1, max_size=2),
    st.integers(0, 3),
    st.sampled_from([260.0, 420.0]),
)
@settings(max_examples=25)
def test_random_inverters_and_planes(planes, connectors, leave, max_voltage):
    drawn = [(f"p{number}", *plane) for number, plane in enumerate(planes)]
    site = small(drawn, connectors, max_voltage)
    expected = brute_force(site, leave)
    if not expected:
        with pytest.raises(InputError, match="none that is permitted"):
            possible_wirings(site, Constraints(leave_at_most=leave))
        return
    found = keys_of(possible_wirings(site, Constraints(leave_at_most=leave)))
    assert len(found) == len(set(found))
    assert set(found) == expected


def test_constraints_are_kept():
    site = small((("a", 8, 90.0), ("b", 6, 270.0)), (2, 2, 1))
    free = possible_wirings(site, Constraints(leave_at_most=2, keep_free=("MPPT 3",)))
    assert all(
        tracker.mppt != "MPPT 3"
        for candidate in free.candidates
        for tracker in free.wiring(candidate, "x").trackers
    )
    short = possible_wirings(site, Constraints(leave_at_most=2, shortest=4, longest=5))
    for candidate in short.candidates:
        for tracker in short.wiring(candidate, "x").trackers:
            for each in tracker.strings:
                assert 4 <= sum(group.modules for group in each.groups) <= 5
    single = possible_wirings(site, Constraints(leave_at_most=2, strings_per_tracker=1))
    assert all(
        len(tracker.strings) == 1
        for candidate in single.candidates
        for tracker in single.wiring(candidate, "x").trackers
    )


def test_a_string_over_two_planes_keeps_the_narrower_span_of_lengths():
    # 3 to 9 modules of the first, 4 to 5 of the second: together 4 or 5.
    site = small((("a", 8, 90.0), ("b", 6, 270.0)), (1,))
    pieces = list(_pieces(site, {"a": (3, 9), "b": (4, 5)}, {(0, 1)}))
    mixed = [(piece[0][1], piece[1][1]) for piece in pieces if len(piece) == 2]
    assert mixed == [(1, 3), (1, 4), (2, 2), (2, 3), (3, 1), (3, 2), (4, 1)]
    assert [piece[0][1] for piece in pieces if len(piece) == 1] == [3, 4, 5, 6, 7, 8, 4, 5]


def test_what_is_laid_already_stays():
    site = small((("a", 8, 90.0), ("b", 6, 270.0)), (2, 2))
    laid = laid_on({"mppt": "MPPT 1", "strings": [string(("b", 6))]})
    found = possible_wirings(site, Constraints(fixed=(laid,)))
    for candidate in found.candidates:
        trackers = {each.mppt: each for each in found.wiring(candidate, "x").trackers}
        assert trackers["MPPT 1"] == laid
        assert sum(g.modules for s in trackers["MPPT 2"].strings for g in s.groups) == 8


@pytest.mark.parametrize(
    ("constraints", "sentence"),
    [
        (Constraints(keep_free=("MPPT 9",)), "Did you mean 'MPPT"),
        (Constraints(crossing=(("a", "bb"),)), "one of 'a', 'b'"),
        (Constraints(shortest=9, longest=4), "9 to 4 modules"),
        (Constraints(leave_at_most=-1), "zero or more"),
        (Constraints(keep_free=("MPPT 1", "MPPT 2")), "none that is permitted"),
        (Constraints(longest=2), "none that is permitted"),
    ],
)
def test_constraints_without_an_answer_are_told_why(constraints, sentence):
    site = small((("a", 8, 90.0), ("b", 6, 270.0)), (2, 2))
    with pytest.raises(InputError, match="expected") as refused:
        possible_wirings(site, constraints)
    assert sentence in str(refused.value)
    # There would be wirings but for the constraints: the question is at fault, not a limit.
    assert not isinstance(refused.value, NothingPermitted)


def test_more_modules_laid_than_drawn_are_refused():
    site = small((("a", 8, 90.0), ("b", 6, 270.0)), (2, 2))
    laid = laid_on({"mppt": "MPPT 1", "strings": [string(("b", 7))]})
    with pytest.raises(InputError, match="7 modules wired already"):
        possible_wirings(site, Constraints(fixed=(laid,)))


def test_the_smallest_change_that_opens_it_is_named():
    # 22 modules on one input of one string of at most 10 or so.
    site = small((("a", 22, 90.0),), (1,))
    with pytest.raises(InputError, match="none that is permitted") as refused:
        possible_wirings(site)
    assert "Allow 1" in str(refused.value)
    assert "modules to stay unwired: then there is one." in str(refused.value)
    odd = small((("a", 10, 90.0),), (1,))
    with pytest.raises(InputError, match=r"Allow 1 module to stay unwired: then there is one\."):
        possible_wirings(odd)


def test_more_than_the_bound_is_refused():
    site = small((("a", 8, 90.0), ("b", 6, 270.0)), (2, 2))
    with pytest.raises(InputError, match="more than 3 with nothing forbidden") as refused:
        possible_wirings(site, Constraints(leave_at_most=3), most=3)
    assert "a higher bound" in str(refused.value)


def test_the_lengths_that_every_input_allows_are_told():
    site = small([("a", 5, 90.0), ("b", 2, 270.0)], [2])
    said = possible_wirings(site, Constraints(leave_at_most=2)).sentences()[0]
    # Two modules of the second plane, 2 x 32.8 V when hot, don't reach the start-up voltage, 70 V.
    assert said.startswith("Strings on MPPT 1: 3 to 5 of a, none of b; fewer modules stay")
    assert "below the start-up voltage" in said
    assert "exceed the cold open-circuit voltage" in said


def test_what_was_dropped_is_counted():
    site = small((("a", 12, 90.0), ("b", 6, 270.0)), (2, 2), **{"module_types.0.max_ocpr_a": 8.0})
    found = possible_wirings(site, Constraints(leave_at_most=8))
    assert any("dropped" in sentence for sentence in found.sentences())


def test_without_a_lowest_ambient_the_voltage_at_25_degc_bounds_the_string():
    site = small((("a", 8, 90.0), ("b", 6, 270.0)), (2, 2))
    content = {"site.design_temperatures.lowest_ambient_c": None}
    unknown = small((("a", 8, 90.0), ("b", 6, 270.0)), (2, 2), **content)
    # 38.9 V with 3 % tolerance at 25 degC: ten modules stay below 420 V, eleven don't; at -14 degC
    # nine do.
    found = possible_wirings(unknown, Constraints(leave_at_most=1))
    assert found.classes[0].lengths == {"a": (3, 10), "b": (3, 10)}
    assert "is NOT CHECKED" in found.sentences()[-1]
    assert "stay below the limits at 25 degC" in found.sentences()[-1]
    own = possible_wirings(unknown, Constraints(leave_at_most=1, longest=8))
    assert own.classes[0].lengths == {"a": (3, 8), "b": (3, 8)}
    cold = possible_wirings(site, Constraints(leave_at_most=1))
    assert cold.classes[0].lengths == {"a": (3, 9), "b": (3, 9)}
    assert not any("NOT CHECKED" in sentence for sentence in cold.sentences())


def test_strings_above_a_limit_at_25_degc_are_not_proposed():
    # 27 modules of 38.9 V: 1,050 V at 25 degC on inputs of 1,000 V; no temperature is known.
    content = {
        "site.design_temperatures.lowest_ambient_c": None,
        "site.design_temperatures.highest_ambient_c": None,
        "module_types.0.v_oc_tolerance_percent": None,
    }
    site = small((("a", 27, 90.0),), (1,), 1000.0, **content)
    with pytest.raises(NothingPermitted, match="none that is permitted"):
        possible_wirings(site)
    shorter = possible_wirings(site, Constraints(leave_at_most=2))
    wired = [shorter.wiring(each, "x").trackers[0].strings[0] for each in shorter.candidates]
    assert {string.groups[0].modules for string in wired} == {25}
    # A module of 900 V forbids more than the input does.
    low = small(
        (("a", 27, 90.0),), (1,), 1000.0, **content | {"module_types.0.max_system_voltage_v": 900}
    )
    most = possible_wirings(low, Constraints(leave_at_most=26))
    assert (
        max(
            group.modules
            for each in most.candidates
            for tracker in most.wiring(each, "x").trackers
            for string in tracker.strings
            for group in string.groups
        )
        == 23
    )


def test_laid_strings_that_are_not_permitted_are_refused():
    site = small((("a", 14, 90.0), ("b", 6, 270.0)), (2, 2))
    laid = laid_on({"mppt": "MPPT 1", "strings": [string(("a", 12))]})
    with pytest.raises(InputError, match="strings that are not permitted") as refused:
        possible_wirings(site, Constraints(fixed=(laid,)))
    assert "cold open-circuit voltage" in str(refused.value)
