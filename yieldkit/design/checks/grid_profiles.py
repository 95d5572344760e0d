"""Network rule profiles: numbers from the data table, in volts of the site's nominal voltage."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from yieldkit.base.errors import nearest, refuse
from yieldkit.config.site.site import Site
from yieldkit.design.checks.rules import Rule
from yieldkit.design.standards import standard_table
from yieldkit.physics.ac.voltage_rules import Rules


def grid_profiles() -> tuple[str, ...]:
    """Return the names of the network rule profiles."""
    return tuple(dict.fromkeys(standard_table("grid_profiles")["profile"]))


def grid_profile(name: str) -> pd.DataFrame:
    """Return a profile's rows: quantity, value, unit, edition, clause, status.

    Raises
    ------
    InputError
        If there is no such profile; the nearest name is suggested.
    """
    table = standard_table("grid_profiles")
    rows = table[table["profile"] == name]
    if rows.empty:
        close = nearest(name, grid_profiles())
        refuse(
            "grid.profile",
            f"'{name}'",
            "one of " + ", ".join(grid_profiles()),
            remedy=f"Did you mean '{close}'?" if close else "",
        )
    return rows


@cache
def grid_rules(name: str | None, nominal_v: float) -> Rules:
    """Return the rules of a profile in volts; no profile means no switch-off is modelled.

    Parameters
    ----------
    name : str or None
        The profile's name.
    nominal_v : float
        Nominal voltage, phase to neutral [V].
    """
    if name is None:
        return Rules()
    values: dict[str, float] = {}
    rows = grid_profile(name)
    for quantity, unit, value in zip(rows["quantity"], rows["unit"], rows["value"], strict=True):
        values[quantity] = float(value) * (nominal_v if unit == "of nominal" else 1.0)
    return Rules(
        mean_limit_v=values.get("mean_limit", np.nan),
        stage_limit_v=values.get("stage_limit", np.nan),
        reconnect_below_v=values.get("reconnect_below", np.nan),
        reconnect_delay_s=values.get("reconnect_delay", 60.0),
        ramp_s=values.get("ramp", 0.0),
        watt_start_v=values.get("watt_start", np.nan),
        watt_end_v=values.get("watt_end", np.nan),
        watt_end_share=values.get("watt_end_share", 1.0),
    )


def site_rules(site: Site) -> Rules:
    """Return the rules of a site's profile, with what its maker says of the ten-minute mean."""
    rules = grid_rules(site.grid.profile, site.nominal_voltage_v)
    return rules._replace(mean_cleared=site.grid.ten_minute_mean == "cleared")


@cache
def profile_rule(name: str | None, quantity: str) -> Rule | None:
    """Return a number of a profile with its clause; None where it has no such rule.

    Shares of the nominal voltage are given in percent, volts as they are.
    """
    if name is None:
        return None
    rows = grid_profile(name)
    rows = rows[rows["quantity"] == quantity]
    if rows.empty:
        return None
    row = rows.iloc[0]
    value = 100.0 * float(row["value"]) if row["unit"] == "of nominal" else float(row["value"])
    return Rule(value, f"{row['edition']}, {row['clause']} ({row['status']})")
