"""Voltage at the terminals and what switch-off costs (check-values block 10)."""

import numpy as np
import pytest
from scipy import optimize, signal

from tests.physics.ac.connection_cases import converters
from tests.study.sites import demo, variant, weather
from yieldkit.base.errors import InputError
from yieldkit.config.reading.meanings import meanings
from yieldkit.design.checks.connection import single_network
from yieldkit.design.checks.grid_profiles import grid_profiles, grid_rules
from yieldkit.physics.ac.connection import connection
from yieldkit.physics.ac.connection_state import Branches
from yieldkit.physics.ac.network import Network, lead_loop, terminals
from yieldkit.physics.ac.network_voltage import correlated_noise, window_spread
from yieldkit.physics.ac.voltage_rules import (
    Rules,
    off_fraction,
)
from yieldkit.study.comparison.lead_sizes import lead_options
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.trackers import Solutions

pytestmark = pytest.mark.slow


def one(value):
    """Return an array of one value."""
    return np.array([float(value)])


def rise(power, network, tangent=0.0):
    """Return the rise over a stiff 230 V [V]."""
    found = terminals(one(power), one(230.0), 0.0, network._replace(tangent=tangent))
    return float(found.voltage[0]) - 230.0


# Reference impedance of EN 60725 for one phase, 0.40 + j0.25 ohm: exact rises, computed.
@pytest.mark.parametrize(("power", "volts"), [(3680.0, 6.199), (5000.0, 8.332)])
def test_rise_in_the_reference_impedance(power, volts):
    network = Network(0.0, 0.0, 0.40, 0.25, 1)
    assert rise(power, network) == pytest.approx(volts, abs=2e-3)
    assert rise(power, network) < power * 0.40 / 230.0


def test_reactive_power_lowers_or_raises_it():
    # 0.24 + j0.15, 5 kW per phase: 5.082 V; power factor 0.95 absorbing 4.022, injecting 6.121.
    network = Network(0.0, 0.0, 0.24, 0.15, 1)
    tangent = np.tan(np.arccos(0.95))
    assert rise(5000.0, network) == pytest.approx(5.082, abs=2e-3)
    assert rise(5000.0, network, -tangent) == pytest.approx(4.022, abs=2e-2)
    assert rise(5000.0, network, tangent) == pytest.approx(6.121, abs=2e-2)


@pytest.mark.parametrize("phases", [1, 3])
@pytest.mark.parametrize("power", [-500.0, 0.0, 800.0, 9000.0])
@pytest.mark.parametrize("load", [0.0, 3000.0])
def test_the_voltage_solves_its_own_equation(phases, power, load):
    network = Network(0.12, 0.02, 0.3, 0.2, phases, 0.2)
    found = terminals(one(power), one(236.0), load, network)
    apparent = (power + 1j * 0.2 * power) / phases

    def gaps(x):
        inverter, connection = complex(x[0], x[1]), complex(x[2], x[3])
        current = np.conj(apparent / inverter)
        drawn = np.conj(load / phases / connection)
        outside = 236.0 + complex(0.3, 0.2) * (current - drawn) - connection
        lead = connection + complex(0.12, 0.02) * current - inverter
        return [outside.real, outside.imag, lead.real, lead.imag]

    root = optimize.root(gaps, [236.0, 0.0, 236.0, 0.0], tol=1e-14).x
    assert found.voltage[0] == pytest.approx(abs(complex(root[0], root[1])), abs=1e-9 * 236.0)
    assert found.connection_voltage[0] == pytest.approx(
        abs(complex(root[2], root[3])), abs=1e-9 * 236.0
    )


@pytest.mark.parametrize(("phases", "power"), [(1, 5000.0), (3, 15000.0)])
def test_a_sites_network_impedance_is_the_loop_that_a_phases_current_meets(phases, power):
    # The reference impedance of EN 60725 as the loop of one phase: 5 kW in a phase rise by 8.332 V,
    # whether that is the whole of a single-phase plant or a third of a three-phase one.
    site = variant(
        {
            "inverter.ac.phases": phases,
            "inverter.ac.max_current_a": None,
            "grid.lead": None,
            "grid.network_resistance_ohm": 0.40,
            "grid.network_reactance_ohm": 0.25,
        }
    )
    network = single_network(site)
    assert network.phases == phases
    assert rise(power, network) == pytest.approx(8.332, abs=2e-3)
    meaning = meanings(type(site.grid))["network_resistance_ohm"]
    assert "loop" in meaning
    assert "phase and neutral together in single-phase" in " ".join(meaning.split())


def test_without_power_there_is_no_rise():
    assert rise(0.0, Network(0.5, 0.1, 0.4, 0.25, 1)) == 0.0


def test_a_load_relieves_the_network_and_not_the_lead():
    network = Network(0.2, 0.0, 0.4, 0.25, 1)
    without = terminals(one(5000.0), one(230.0), 0.0, network)
    with_load = terminals(one(5000.0), one(230.0), 3000.0, network)
    upstream = [each.connection_voltage[0] - 230.0 for each in (without, with_load)]
    lead = [each.voltage[0] - each.connection_voltage[0] for each in (without, with_load)]
    assert upstream[1] < 0.5 * upstream[0]
    assert lead[1] == pytest.approx(lead[0], rel=0.03)


def test_leads_of_one_phase_go_out_and_back():
    assert lead_loop(0.003, 8e-5, 20.0, 1) == (0.12, pytest.approx(0.0032))
    assert lead_loop(0.003, 8e-5, 20.0, 3) == (0.06, pytest.approx(0.0016))


def falling(rules, power, volts, network):
    """Return what an inverter of 5 kW feeds in where its power falls with the voltage [W]."""
    lead = complex(network.lead_resistance, network.lead_reactance)
    outside = complex(network.network_resistance, network.network_reactance)
    branches = Branches(outside, lead, np.zeros(1, dtype=complex), network.phases)
    own = converters(
        1,
        nominal_power=5000.0,
        watt_start_v=rules.watt_start_v,
        watt_end_v=rules.watt_end_v,
        watt_end_share=rules.watt_end_share,
    )
    return connection(power[:, None], np.zeros((power.size, 1)), volts, 0.0, branches, own).p[:, 0]


def test_volt_watt_points():
    # AS/NZS 4777.2 region A: 253 V 100 %, 256.5 V 60 %, 260 V 20 %; from memory, linear.
    rules = grid_rules("as-nzs-4777-2-a", 230.0)
    volts = np.array([252.0, 256.5, 260.0, 270.0])
    found = falling(rules, np.full(4, 6000.0), volts, Network(0.0, 0.0, 0.0, 0.0, 1))
    assert found == pytest.approx([6000.0, 3000.0, 1000.0, 1000.0])


def test_volt_watt_meets_the_voltage_it_causes():
    rules = grid_rules("as-nzs-4777-2-a", 230.0)
    network = Network(0.3, 0.0, 0.4, 0.25, 1)
    cap = falling(rules, one(5000.0), one(250.0), network)
    assert 0.0 < cap[0] < 5000.0
    volts = float(terminals(cap, one(250.0), 0.0, network).voltage[0])
    assert 5000.0 * np.interp(volts, [253.0, 260.0], [1.0, 0.2]) == pytest.approx(cap[0], rel=1e-9)


MEAN_253 = Rules(mean_limit_v=253.0, reconnect_below_v=253.0)


def test_a_constant_voltage_above_the_limit_loses_everything_below_it_nothing():
    assert off_fraction(one(255.0), one(2.0), 0.0, MEAN_253)[0] == 1.0
    assert off_fraction(one(240.0), one(2.0), 0.0, MEAN_253)[0] == 0.0
    assert off_fraction(one(255.0), one(0.0), 0.0, MEAN_253)[0] == 0.0


def test_the_own_rise_makes_it_trip_and_return():
    # 250 V and 5 V of its own: trips, the window decays, it waits, returns.
    share = off_fraction(one(250.0), one(5.0), 0.0, MEAN_253)[0]
    assert 0.0 < share < 1.0
    assert off_fraction(one(252.0), one(5.0), 0.0, MEAN_253)[0] > share


def test_spread_within_the_hour_smooths_the_limit():
    volts = np.linspace(240.0, 258.0, 73)
    sharp = off_fraction(volts, np.full(73, 3.0), 0.0, MEAN_253)
    smooth = off_fraction(volts, np.full(73, 3.0), 2.0, MEAN_253)
    assert (np.diff(smooth) >= -1e-9).all()
    assert smooth[30] > sharp[30] == 0.0


def test_the_windows_spread_depends_on_the_correlation_time():
    # Independent within seconds: nothing is left of it; over hours: all of it.
    assert window_spread(3.0, 0.05) < 0.5
    assert window_spread(3.0, 600.0) == pytest.approx(3.0, rel=0.02)


def test_noise_is_seeded_and_correlated():
    noise = correlated_noise(20_000, 600.0, 2.0, 60.0, 7)
    assert (noise == correlated_noise(20_000, 600.0, 2.0, 60.0, 7)).all()
    assert noise.std() == pytest.approx(2.0, rel=0.05)
    drive = np.random.default_rng(7).standard_normal(20_000)
    drive[1:] *= np.sqrt(1.0 - np.exp(-10 / 60) ** 2)
    filtered = signal.lfilter([2.0], [1.0, -np.exp(-10 / 60)], drive)
    np.testing.assert_allclose(noise, filtered, rtol=1e-12)
    assert np.corrcoef(noise[:-1], noise[1:])[0, 1] == pytest.approx(np.exp(-10 / 60), abs=0.03)


@pytest.mark.parametrize("profile", grid_profiles())
def test_every_profile_has_a_limit_in_volts(profile):
    rules = grid_rules(profile, 230.0)
    limits = [rules.mean_limit_v, rules.stage_limit_v]
    assert 240.0 < np.nanmin(limits) < 280.0
    assert rules.reconnect_delay_s > 0.0


# 230 V: EN 50549-1 and VDE 253 V ten-minute mean; G98 262.2 V; AS/NZS 258 V; from memory.
@pytest.mark.parametrize(
    ("profile", "limit"),
    [
        ("en-50549-1", 253.0),
        ("vde-ar-n-4105-2018", 253.0),
        ("g98-g99", 262.2),
        ("as-nzs-4777-2-a", 258.0),
    ],
)
def test_limits_of_the_profiles(profile, limit):
    rules = grid_rules(profile, 230.0)
    assert np.nanmin([rules.mean_limit_v, rules.stage_limit_v]) == pytest.approx(limit)


def test_an_unknown_profile_is_refused():
    with pytest.raises(InputError, match="grid") as refused:
        grid_rules("en-50549", 230.0)
    assert "Did you mean 'en-50549-1'?" in str(refused.value)


WEAK = {
    "grid.lead.length_m": 60.0,
    "grid.network_voltage": {"kind": "constant", "voltage_v": 250.2},
    "grid.network_resistance_ohm": 0.0,
    "grid.network_reactance_ohm": 0.0,
}


def options(changes):
    """Return the table of cross-sections for a network."""
    site = variant(changes)
    return lead_options(prepare(site, weather()), site.wirings[0], Solutions()).set_index(
        "cross_section_mm2"
    )


def test_a_thicker_lead_is_switched_off_less():
    off = options(WEAK)["switched_off_kwh"]
    assert off[4.0] > off[6.0] > off[10.0]
    assert off[10.0] >= off[16.0] >= 0.0
    assert off[4.0] > 10.0
    higher = dict(WEAK, **{"grid.network_voltage": {"kind": "constant", "voltage_v": 251.5}})
    assert (options(higher)["switched_off_kwh"] >= off).all()
    assert options(higher)["switched_off_kwh"][16.0] > off[16.0]


def test_the_table_is_what_a_simulation_of_each_section_says():
    table = options(WEAK)
    for section in (4.0, 16.0):
        site = variant(WEAK | {"grid.lead.cross_section_mm2": section})
        result = simulate_prepared(prepare(site, weather()), site.wirings[0], Solutions())
        assert table["delivered_kwh"][section] == pytest.approx(
            result.attrs["energy_kwh"], rel=1e-12
        )


def lost(changes):
    """Return what lead and network take of the first wiring [kWh]."""
    site = variant(changes)
    steps = simulate_prepared(prepare(site, weather()), site.wirings[0], Solutions())["loss_budget"]
    return [float(steps.sel(loss_step=name)) for name in ("AC lead", "network voltage")]


def test_a_stiff_network_and_no_lead_lose_exactly_nothing():
    stiff = {"grid.network_resistance_ohm": 0.0, "grid.network_reactance_ohm": 0.0}
    assert lost(stiff | {"grid.lead": None}) == [0.0, 0.0]


def test_a_constant_255_volts_loses_everything_and_240_nothing():
    high = {"grid.network_voltage": {"kind": "constant", "voltage_v": 255.0}}
    low = {"grid.network_voltage": {"kind": "constant", "voltage_v": 240.0}}
    site = variant(high)
    result = simulate_prepared(prepare(site, weather()), site.wirings[0], Solutions())
    assert result.attrs["energy_kwh"] <= 0.0
    assert lost(low)[1] == 0.0
    assert demo().grid.profile == "en-50549-1"
