"""What physics guarantees, on circuits that hypothesis draws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.physics.circuit.drawn import repeated
from tests.physics.circuit.reference import conditions_at
from yieldkit.physics.circuit.api import (
    Run,
    StringCircuit,
    TrackerLimits,
    dissipation,
    group_maxima,
    operating_point,
    tracker_current,
)

pytestmark = pytest.mark.slow

LIGHTS = 3


@st.composite
def lit(draw):
    """Draw three lights with their cell temperatures."""
    irradiance = draw(st.lists(st.floats(0.5, 1300.0), min_size=LIGHTS, max_size=LIGHTS))
    warm = draw(st.lists(st.floats(-20.0, 85.0), min_size=LIGHTS, max_size=LIGHTS))
    return conditions_at(irradiance, warm)


@st.composite
def trackers(draw, max_strings=3, halves=True):
    """Draw strings in parallel."""
    runs = st.builds(
        Run,
        st.integers(0, LIGHTS - 1),
        st.integers(1, 40),
        st.one_of(st.none(), st.integers(0, LIGHTS - 1)) if halves else st.none(),
    )
    blocked = draw(st.booleans())
    strings = draw(
        st.lists(
            st.builds(
                StringCircuit,
                st.lists(runs, min_size=1, max_size=3).map(tuple),
                st.sampled_from([0.0, 0.2, 1.1]),
                st.just(blocked),
            ),
            min_size=1,
            max_size=max_strings,
        )
    )
    return tuple(strings)


@given(lit(), trackers())
@settings(max_examples=150)
def test_current_falls_with_voltage(conditions, strings):
    volts = np.linspace(0.0, 15.0 * max(sum(r.count for r in s.runs) for s in strings), 60)
    amps = tracker_current(repeated(conditions, volts.size), strings, volts)
    assert np.isfinite(amps).all()
    assert (np.diff(amps) <= 1e-9 * (1.0 + np.abs(amps[1:]))).all()


@given(lit(), trackers())
@settings(max_examples=150)
def test_a_tracker_never_gives_more_than_its_groups_alone(conditions, strings):
    alone = group_maxima(conditions)[0]
    most = sum(
        run.count
        * (
            alone[run.condition]
            if run.partner is None
            else 0.5 * (alone[run.condition] + alone[run.partner])
        )
        for string in strings
        for run in string.runs
    )
    found = operating_point(conditions, strings)
    assert found.status[0] == 0
    assert 0.0 <= found.p_dc[0] <= most * (1.0 + 1e-9)


@given(lit(), trackers(), st.randoms(use_true_random=False))
@settings(max_examples=150)
def test_the_order_of_groups_and_strings_changes_no_bit(conditions, strings, random):
    order = list(range(len(strings)))
    random.shuffle(order)
    shuffled = []
    for place in order:
        runs = [
            part
            for run in strings[place].runs
            for part in (
                (run._replace(count=run.count - 1), run._replace(count=1))
                if run.count > 1
                else (run,)
            )
        ]
        random.shuffle(runs)
        shuffled.append(strings[place]._replace(runs=tuple(runs)))
    one, other = operating_point(conditions, strings), operating_point(conditions, shuffled)
    assert one.p_dc[0] == other.p_dc[0]
    assert one.v_dc[0] == other.v_dc[0]
    assert (one.i_string[0, order] == other.i_string[0]).all()


@given(lit(), trackers(max_strings=1), st.integers(2, 5))
@settings(max_examples=100)
def test_equal_strings_in_parallel_lose_exactly_nothing(conditions, strings, number):
    one = operating_point(conditions, strings)
    several = operating_point(conditions, strings * number)
    assert abs(several.v_dc[0] / one.v_dc[0] - 1.0) <= 4e-16  # halves go another way
    assert np.abs(several.i_string[0] / one.i_string[0] - 1.0).max() <= 4e-16
    assert abs(several.p_dc[0] - number * one.p_dc[0]) <= 4e-16 * several.p_dc[0]


@given(lit(), st.integers(1, 60))
@settings(max_examples=100)
def test_equal_groups_in_series_lose_nothing(conditions, count):
    found = operating_point(conditions, (StringCircuit((Run(0, count),)),)).p_dc[0]
    alone = count * group_maxima(conditions)[0, 0]
    assert abs(found - alone) <= 4e-16 * alone


@given(lit(), trackers(), st.floats(0.2, 5.0))
@settings(max_examples=100)
def test_cells_of_another_area(conditions, strings, area):
    # The bypass diode and the cable keep their size, so they are scaled along.
    from yieldkit.physics.circuit.api import default_bypass

    diode = default_bypass()
    wide = conditions._replace(
        photocurrent=area * conditions.photocurrent,
        saturation_current=area * conditions.saturation_current,
        resistance_series=conditions.resistance_series / area,
        resistance_shunt=conditions.resistance_shunt / area,
    )
    scaled = [string._replace(resistance=string.resistance / area) for string in strings]
    one = operating_point(conditions, strings, bypass=diode)
    other = operating_point(
        wide, scaled, bypass=diode._replace(saturation_current=area * diode.saturation_current)
    )
    assert abs(other.p_dc[0] - area * one.p_dc[0]) <= 1e-8 * other.p_dc[0]


@st.composite
def limits(draw):
    """Draw what an input allows."""
    low = draw(st.floats(0.0, 400.0))
    # With a power limit and a maximum voltage together a tracker may have no point left and is
    # off: then one limit less can be less power, and that is reported as it is.
    v_max, p_max = draw(
        st.sampled_from([(np.inf, np.inf), (600.0, np.inf), (np.inf, 500.0), (np.inf, 3000.0)])
    )
    return TrackerLimits(
        v_mpp_min=low,
        v_mpp_max=low + draw(st.floats(1.0, 600.0)),
        v_max=v_max,
        i_max=draw(st.sampled_from([np.inf, 4.0, 9.0, 14.0])),
        p_max=p_max,
    )


@given(lit(), trackers(halves=False), limits())
@settings(max_examples=200)
def test_a_limit_never_raises_the_power(conditions, strings, allowed):
    free = operating_point(conditions, strings)
    held = operating_point(conditions, strings, allowed)
    top = free.p_dc[0] * (1.0 + 1e-9)
    assert held.p_dc[0] <= top
    assert abs(held.p_dc[0] + held.p_lost_to_limit[0] - free.p_dc[0]) <= 1e-9 * top
    if held.p_dc[0] > 0.0:
        assert held.i_dc[0] <= allowed.i_max * (1.0 + 1e-9)
        assert held.p_dc[0] <= allowed.p_max * (1.0 + 1e-12)
        assert allowed.v_mpp_min * (1.0 - 1e-12) <= held.v_dc[0] <= allowed.v_max
    for name in ("i_max", "v_mpp_max", "v_mpp_min", "p_max"):
        freed = allowed._replace(**{name: getattr(TrackerLimits(), name)})
        less_held = operating_point(conditions, strings, freed)
        assert held.p_dc[0] <= less_held.p_dc[0] * (1.0 + 1e-9) + 1e-9


@given(lit(), trackers(halves=False), limits())
@settings(max_examples=150)
def test_a_global_search_is_never_beaten_by_a_local_one(conditions, strings, allowed):
    best = operating_point(conditions, strings, allowed)
    climbed = operating_point(conditions, strings, allowed._replace(global_search=False))
    assert climbed.p_dc[0] <= best.p_dc[0] * (1.0 + 1e-9) + 1e-9


@given(lit(), trackers(), st.floats(0.05, 0.99))
@settings(max_examples=150)
def test_a_power_bound_is_met_towards_open_circuit(conditions, strings, share):
    free = operating_point(conditions, strings)
    bound = share * free.p_dc
    held = operating_point(conditions, strings, power_bound=bound)
    assert held.p_dc[0] == bound[0]
    assert held.v_dc[0] > free.v_dc[0]
    assert abs(held.v_dc[0] * held.i_string[0].sum() - bound[0]) <= 1e-9 * bound[0]


@given(lit(), trackers())
@settings(max_examples=150)
def test_what_the_light_gives_is_delivered_or_turned_into_heat(conditions, strings):
    point = operating_point(conditions, strings)
    ledger = dissipation(conditions, strings, point.i_string)
    source = ledger.source[0]
    assert abs(source - point.p_dc[0] - ledger.heat()[0]) <= 1e-9 * abs(source) + 1e-9
    assert min(part[0] for part in ledger[1:]) >= -1e-9 * abs(source)
