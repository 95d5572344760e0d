"""What every cross-section of the AC lead would mean through the weather's period."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from yieldkit.base.errors import refuse
from yieldkit.config.site.site import Wiring
from yieldkit.design.checks.connection import design_current
from yieldkit.design.checks.grid_profiles import grid_rules
from yieldkit.design.equipment.cables import ac_lead_table
from yieldkit.study.simulation.ac_side import alternating_side
from yieldkit.study.simulation.dc_side import direct_side
from yieldkit.study.simulation.loss_budget import AC_STEPS
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import Solutions


def lead_options(prepared: Prepared, wiring: Wiring, solutions: Solutions) -> pd.DataFrame:
    """Return volts, losses, switch-off and ampacity of every cross-section of the AC lead.

    Parameters
    ----------
    prepared : Prepared
        The site; its lead names material, length and laying.
    wiring : Wiring
        The wiring that feeds the lead.
    solutions : Solutions
        Circuits solved so far; the direct-current side is solved once for all sections.

    Returns
    -------
    DataFrame
        The table of `ac_lead_table`, and per cross-section the energy lost in the lead and to
        switch-off or voltage-dependent power [kWh], the hours whose voltage at the terminals
        exceeds the 10-minute limit, and the energy delivered [kWh].

    Raises
    ------
    InputError
        Where no AC lead is described.
    """
    site = prepared.site
    lead = site.grid.lead
    if lead is None:
        refuse("grid.lead", "no AC lead", "its length and cross-section")
    ac = site.inverter.ac
    direct = direct_side(prepared, wiring, solutions)
    limit = grid_rules(site.grid.profile, ac.nominal_voltage_v).mean_limit_v
    rows = []
    drawn = None
    table = ac_lead_table(
        lead, ac.phases, ac.nominal_voltage_v, design_current(site), ac.power_factor
    )
    for section in table["cross_section_mm2"]:
        other = site.variant({"grid.lead.cross_section_mm2": float(section)})
        side = alternating_side(replace(prepared, site=other), direct)
        before, after = dict(zip(AC_STEPS, side.chain[:-1], strict=True)), side.chain[1:]
        lost = {
            name: prepared.total(before[name] - end)
            for name, end in zip(AC_STEPS, after, strict=True)
        }
        # The lead's own step, and what the voltage it causes costs.
        rows.append(
            {
                "lead_kwh": prepared.total(side.p_lead_loss),
                "switched_off_kwh": lost["network voltage"],
                "hours_above_limit": prepared.hours(side.v_ac > limit),
                "delivered_kwh": prepared.total(side.chain.available),
            }
        )
        if section == lead.cross_section_mm2:
            drawn = rows[-1]["delivered_kwh"]
    found = pd.concat([table.drop(columns="kwh"), pd.DataFrame(rows)], axis=1)
    found["gain_kwh"] = found["delivered_kwh"] - (np.nan if drawn is None else drawn)
    return found
