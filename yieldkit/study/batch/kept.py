"""What a plan may keep of a run for every step of the weather, and how large that is."""

from __future__ import annotations

from yieldkit.base.errors import nearest
from yieldkit.config.plan.file import PlanFile
from yieldkit.config.reading.wording import one_of, shown
from yieldkit.study.batch.combined import Runs
from yieldkit.study.simulation.weather import site_weather

HOURLY = (
    "poa_global",
    "effective_irradiance",
    "temp_cell",
    "p_mp_module",
    "weather_state",
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
    "voltage_clamped",
    "off_fraction",
    "p_lead_loss",
    "p_delivered",
    "p_load",
    "p_self_use",
    "p_export",
    "p_import",
)
"""Variables of a result that may be kept for every step of the weather."""
_ALONG = {
    **dict.fromkeys(("poa_global", "effective_irradiance", "temp_cell", "p_mp_module"), "plane"),
    **dict.fromkeys(("v_dc", "i_dc", "p_dc", "p_dc_available"), "tracker"),
    **dict.fromkeys(("binding_limit", "p_cable_loss"), "tracker"),
    "i_string": "string",
    **dict.fromkeys(("temp_inlet", "p_ac_cap", "p_held_back", "q_ac"), "inverter"),
    **dict.fromkeys(("ac_limit", "v_ac", "off_fraction"), "inverter"),
}
"""What else than time a variable runs along."""
_BYTES = 8


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


def hourly_bytes(runs: Runs) -> int:
    """Return about how many bytes the series take that a plan keeps of all its runs.

    Parameters
    ----------
    runs : Runs
        The plan's runs. The first site and its weather speak for all.

    Raises
    ------
    InputError
        If the weather can't be read.
    """
    site = runs.bases[0].site
    counts = {
        "plane": len(site.planes),
        "tracker": len(site.inputs()),
        "string": max(
            sum(len(tracker.strings) for tracker in wiring.trackers) for wiring in site.wirings
        ),
        "inverter": len(site.each_inverter()),
    }
    columns = sum(counts[_ALONG[name]] if name in _ALONG else 1 for name in runs.keep.hourly)
    return len(runs) * site_weather(site).sizes["time"] * columns * _BYTES
