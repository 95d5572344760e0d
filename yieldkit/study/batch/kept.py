"""What a plan may keep of a run for every step of the weather, and how large that is."""

from __future__ import annotations

from yieldkit.base.errors import nearest
from yieldkit.config.plan.file import PlanFile
from yieldkit.config.reading.wording import one_of, shown

HOURLY = (
    "poa_global",
    "temp_cell",
    "temp_air",
    "temp_inlet",
    "v_dc",
    "i_dc",
    "p_dc",
    "p_dc_available",
    "binding_limit",
    "i_string",
    "p_cable_loss",
    "p_ac_unlimited",
    "p_ac_cap",
    "p_held_back",
    "p_ac",
    "q_ac",
    "ac_limit",
    "v_ac",
    "v_connection",
    "off_fraction",
    "p_lead_loss",
    "p_delivered",
    "p_load",
    "p_self_use",
    "p_export",
    "p_import",
)
"""Variables of a result that may be kept for every step of the weather."""


def refuse_unknown_hourly(told: PlanFile) -> None:
    """Refuse variables that no result has.

    Parameters
    ----------
    told : PlanFile
        The plan.

    Raises
    ------
    InputError
        With the line; the nearest variable is suggested.
    """
    for number, name in enumerate(told.plan.keep.hourly):
        if name not in HOURLY:
            close = nearest(name, HOURLY)
            told.refuse(
                ("keep", "hourly", number),
                f"the variable {shown(name)}",
                one_of(HOURLY),
                f"Did you mean '{close}'?" if close else "",
            )
