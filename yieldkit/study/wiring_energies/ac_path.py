"""What the trackers' power of one inverter passes on its way to the network."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import IntArray
from yieldkit.design.checks.connection import single_network
from yieldkit.design.checks.connection_point import (
    branches,
    converters,
    export_limit,
    least_load,
)
from yieldkit.design.checks.grid_profiles import site_rules
from yieldkit.design.checks.mounting import inlet_offset_k
from yieldkit.physics.ac import many_wirings
from yieldkit.physics.ac.connection import most_power
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.ac.network import terminals
from yieldkit.physics.ac.voltage_rules import cycle_losses, spread_nodes
from yieldkit.physics.module import temperature as heat
from yieldkit.study.simulation.network_voltage import network_voltage, within_step_spread
from yieldkit.study.simulation.offer import derated_power
from yieldkit.study.simulation.prepare import Prepared


def ac_path(
    prepared: Prepared, curve: ConversionCurve | ListedConversion, steps: IntArray
) -> many_wirings.AcPath:
    """Return what the trackers' power passes on its way to the network, at some steps.

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    curve : ConversionCurve or ListedConversion
        The inverter's conversion.
    steps : ndarray of int
        Positions in time.
    """
    site = prepared.site
    chosen = site.single_inverter
    stiff_v = network_voltage(prepared)
    network = single_network(site)
    temp_inlet = heat.inlet_temperature(
        prepared.weather.variables["temp_air"].to_numpy(), inlet_offset_k(site)[0]
    )
    rated = chosen.ac.max_power_w or chosen.ac.nominal_power_w
    load = least_load(site)
    nothing = np.zeros_like(stiff_v)
    v_without = terminals(nothing, stiff_v, load, network).voltage
    listed = curve if isinstance(curve, ListedConversion) else None
    rules = site_rules(site)
    ohms = branches(site)
    # One inverter's own lead and the common one are one lead.
    lines = ohms._replace(
        common_lead=ohms.common_lead + ohms.own_leads[0], own_leads=np.zeros(1, dtype=complex)
    )
    converter = converters(site.each_inverter())
    cap = most_power(
        np.minimum(rated, derated_power(site, nothing, temp_inlet)),
        chosen.auxiliary_power_w,
        stiff_v,
        load,
        lines,
        converter,
        export_limit(site),
    )
    return many_wirings.AcPath(
        kind=many_wirings.LOSSES if listed is None else many_wirings.LISTED,
        curve_nominal=curve.p_nominal if isinstance(curve, ConversionCurve) else 0.0,
        least_dc=0.0 if listed is None else listed.pso,
        paco=0.0 if listed is None else listed.paco,
        dc_limit=np.inf if chosen.max_dc_power_w is None else chosen.max_dc_power_w,
        cap=cap[steps],
        auxiliary=chosen.auxiliary_power_w,
        night=chosen.night_power_w,
        stiff_v=stiff_v[steps],
        v_without=v_without[steps],
        load=load,
        network=network.numbers,
        ohms=lines.table,
        converter=converter,
        rules=rules.numbers,
        cycles=cycle_losses(rules),
        spread=spread_nodes(within_step_spread(site.grid)),
        availability=site.grid.availability_percent / 100.0,
    )
