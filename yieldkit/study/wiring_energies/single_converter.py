"""A site's only inverter as the physics of a connection point wants it."""

from __future__ import annotations

import numpy as np

from yieldkit.config.models.inverters import Inverter
from yieldkit.physics.ac.connection_state import Branches
from yieldkit.physics.ac.network import Network
from yieldkit.physics.ac.reactive import FIXED, Converters
from yieldkit.physics.ac.voltage_rules import Rules


def single_branches(network: Network) -> Branches:
    """Return the impedances between the inverter and the stiff network."""
    lead = complex(network.lead_resistance, network.lead_reactance)
    outside = complex(network.network_resistance, network.network_reactance)
    return Branches(outside, lead, np.zeros(1, dtype=complex), network.phases)


def single_converter(chosen: Inverter, network: Network, rules: Rules) -> Converters:
    """Return what a site's only inverter must do at the voltage of its terminals."""
    nominal = chosen.ac.nominal_power_w
    one = [
        nominal,
        nominal,
        np.inf,
        np.inf,
        rules.watt_start_v,
        rules.watt_end_v,
        rules.watt_end_share,
        FIXED,
        network.tangent,
        [0.0],
        [0.0],
        1,
    ]
    return Converters(*(np.array([part]) for part in one)).numbers
