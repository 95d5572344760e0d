"""What every cross-section of the AC lead would mean through the weather's period."""

from __future__ import annotations

import numpy as np
import pandas as pd

from yieldkit.config.site.site import Wiring
from yieldkit.design.checks.connection_point import branches
from yieldkit.design.checks.grid_profiles import grid_rules
from yieldkit.design.checks.leads import Stretch, stretches
from yieldkit.design.equipment.cables import ac_lead_table
from yieldkit.study.simulation.ac_side import alternating_side
from yieldkit.study.simulation.budget_steps import AC_STEPS
from yieldkit.study.simulation.connection_point import ConnectionPoint, connection_point
from yieldkit.study.simulation.dc_side import DirectSide, direct_sides
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import Solutions


def lead_options(prepared: Prepared, wiring: Wiring, solutions: Solutions) -> pd.DataFrame | None:
    """Return volts, losses, switch-off and ampacity of every cross-section of every AC lead.

    Parameters
    ----------
    prepared : Prepared
        The site; its leads name material, length and laying.
    wiring : Wiring
        The wiring that feeds the leads.
    solutions : Solutions
        Circuits solved so far; the direct-current side is solved once for all sections.

    Returns
    -------
    DataFrame or None
        For each lead that is described, called by `lead`: the table of `ac_lead_table`, and per
        cross-section, the other leads as drawn, the energy lost in all leads and to switch-off or
        voltage-dependent power [kWh], the hours in which a voltage at any terminals exceeds the
        10-minute limit, and the energy delivered [kWh]. None where no lead is described.
    """
    site = prepared.site
    described = [stretch for stretch in stretches(site) if stretch.lead is not None]
    if not described:
        return None
    directs = direct_sides(prepared, wiring, solutions)
    # Load and network voltage are read once: only impedances differ between the sections.
    point = connection_point(prepared)
    tables = [_options(prepared, directs, point, stretch) for stretch in described]
    return pd.concat(tables, ignore_index=True)


def _options(
    prepared: Prepared, directs: tuple[DirectSide, ...], point: ConnectionPoint, stretch: Stretch
) -> pd.DataFrame:
    site, lead = prepared.site, stretch.lead
    if lead is None:
        raise TypeError(f"{stretch.subject} is not described")
    limit = grid_rules(site.grid.profile, site.nominal_voltage_v).mean_limit_v
    factor = 1.0 if stretch.ac is None else stretch.ac.power_factor
    table = ac_lead_table(lead, site.phases, site.nominal_voltage_v, stretch.current, factor)
    rows, drawn = [], None
    for section in table["cross_section_mm2"]:
        other = site.variant({f"{stretch.key}.cross_section_mm2": float(section)})
        side = alternating_side(prepared, directs, point._replace(branches=branches(other)))
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
                "hours_above_limit": prepared.hours(side.fed.v_ac.max(axis=1) > limit),
                "delivered_kwh": prepared.total(side.chain.fluctuating),
            }
        )
        if section == lead.cross_section_mm2:
            drawn = rows[-1]["delivered_kwh"]
    found = pd.concat([table.drop(columns="kwh"), pd.DataFrame(rows)], axis=1)
    found["gain_kwh"] = found["delivered_kwh"] - (np.nan if drawn is None else drawn)
    found.insert(0, "lead", stretch.subject)
    return found
