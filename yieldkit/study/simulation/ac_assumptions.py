"""What the AC side of a result rests on, in sentences for the report."""

from __future__ import annotations

import math

from yieldkit.config.models.grid import Load
from yieldkit.config.models.inverters import WeightedEfficiency
from yieldkit.config.site.site import OneInverter, Site
from yieldkit.design.checks.altitude import altitude_factor
from yieldkit.design.checks.connection_point import curve_source, export_limit
from yieldkit.design.checks.grid_profiles import site_rules
from yieldkit.design.checks.mounting import inlet_offset_k


def ac_sentences(site: Site) -> tuple[str, ...]:
    """Return what was chosen or assumed of inverters, leads, load and network.

    Parameters
    ----------
    site : Site
        The site.
    """
    each = site.each_inverter()
    named = [f"{one.name}: " if site.several_inverters else "" for one in each]
    of_inverters = [
        name + sentence
        for name, one in zip(named, each, strict=True)
        for sentence in (*_inverter_sentences(one.site), *_reactive_sentences(one))
    ]
    return (*of_inverters, *_meter_sentences(site), *_grid_sentences(site))


def _reactive_sentences(one: OneInverter) -> list[str]:
    reactive, ac = one.reactive, one.site.single_inverter.ac
    if reactive is None:
        return []
    first = "reactive power is kept" if reactive.priority == "reactive" else "active power is kept"
    kept = f"{first} where apparent power or current is at its limit."
    if reactive.kind == "fixed":
        return [f"Reactive power by a displacement factor of {ac.power_factor:g}; {kept}"]
    by = "the voltage at its terminals" if reactive.kind == "q-of-u" else "its power"
    source = (
        "of the site file"
        if reactive.points
        else curve_source(one.site.grid.profile, reactive.kind)
    )
    return [f"Reactive power follows {by}, curve {source}; {kept}"]


def _meter_sentences(site: Site) -> list[str]:
    sentences = []
    limit = export_limit(site)
    if math.isfinite(limit.power):
        how = ""
        if site.several_inverters and limit.in_order:
            how = "; the inverters listed first keep their power longest"
        elif site.several_inverters:
            how = "; each inverter gives way by the same share of the power it could give"
        sentences.append(f"Export limit: {limit.power:g} W at the meter{how}.")
    load = site.grid.load
    if load is not None and load.kind != "constant":
        sentences.append(
            f"Consumption behind the meter: {_laid(load)}, unity power factor; finer than the "
            "weather's steps it is taken in parts of the step, with power and weather constant in "
            "the step."
        )
    if site.several_inverters and site.grid.profile is not None:
        sentences.append(
            "Each inverter switches off for itself; the rise that counts is what its own power "
            "makes while the others feed in."
        )
    return sentences


def _laid(load: Load) -> str:
    """Return how a load is laid on the weather's steps."""
    if load.kind == "series":
        return f"{load.file}, by its dates, moved by up to three days to days of the same name"
    by = ", by the clock on the wall" if load.clock == "wall" else ""
    if load.kind == "day":
        return f"24 values, every day alike{by}"
    return (
        f"{load.kwh_per_year:,.0f} kWh a year laid on hours by an invented shape of a "
        f"{load.shape}{by}, so that what comes from the plant is a rough figure"
    )


def _lead_sentences(site: Site) -> list[str]:
    own = [one for one in site.each_inverter() if one.lead is not None]
    if site.grid.lead is None and not own:
        return ["No AC lead given: its voltage rise and loss are not included."]
    if not site.several_inverters:
        return []
    missing = [one.name for one in site.each_inverter() if one.lead is None]
    sentences = []
    if missing:
        sentences.append(
            f"No AC lead of its own given for {', '.join(missing)}: no rise and no loss in it."
        )
    if site.grid.lead is None:
        sentences.append("No common AC lead given: its voltage rise and loss are not included.")
    return sentences


def _inverter_sentences(site: Site) -> list[str]:
    inverter = site.single_inverter
    sentences = [
        f"Inverter: {inverter.name}.",
        "Conversion: the trackers' whole power at each tracker's voltage, weighted with its power "
        "(a common DC link follows the highest input).",
        inlet_offset_k(site)[1],
    ]
    if isinstance(inverter.efficiency, WeightedEfficiency):
        of = "no voltage" if (volts := inverter.efficiency.voltage_v) is None else f"{volts:g} V"
        sentences.append(
            "The efficiency curve's shape is assumed from its weighted figures; they are stated "
            f"for {of} and count at every voltage."
        )
    if not inverter.derating:
        sentences.append("No derating curve given: heat costs no power here.")
    sentences.append(_altitude_sentence(site))
    for mppt in inverter.mppts:
        if mppt.max_input_current_a is None:
            sentences.append(f"{mppt.name}: no maximum input current given, none applied.")
        if mppt.max_power_w is None:
            sentences.append(f"{mppt.name}: no maximum input power given, none applied.")
    return sentences


def _altitude_sentence(site: Site) -> str:
    height, thin = site.site.altitude_m, site.single_inverter.altitude_derating
    if thin is None:
        return f"No altitude derating given: {height:g} m cost no power here."
    left = 100.0 * altitude_factor(site)
    of = "the derating curve" if site.single_inverter.derating else "nominal power"
    return (
        f"Altitude: {height:g} m leave {left:.4g} % of {of} ({thin.percent_per_100_m:g} % per "
        f"100 m above {thin.above_m:g} m); the loss is booked with temperature derating."
    )


def _grid_sentences(site: Site) -> list[str]:
    connection = site.grid
    sentences = _lead_sentences(site)
    if connection.profile is None:
        sentences.append("No network rules chosen: switch-off for overvoltage is not included.")
    else:
        sentences.append(_switch_off_sentence(site))
        sentences.append(
            f"Network rules: {connection.profile}; check its values against your edition."
        )
    return sentences


def _switch_off_sentence(site: Site) -> str:
    rules = site_rules(site)
    back = f"reconnects {rules.reconnect_delay_s:g} s after the voltage allows it"
    back += f" and ramps up in {rules.ramp_s:g} s" if rules.ramp_s > 0.0 else ""
    if math.isnan(rules.mean_limit_v):
        return (
            f"Switch-off above {rules.stage_limit_v:.1f} V at once; the inverter {back}. No rule "
            "about a ten-minute mean: grid.ten_minute_mean is not used."
        )
    mean = (
        "is cleared on every reconnection"
        if rules.mean_cleared
        else "slides on while it is off (the firmware's way is assumed; see grid.ten_minute_mean)"
    )
    return (
        f"Switch-off above {rules.mean_limit_v:.1f} V in the ten-minute mean, which {mean}; the "
        f"inverter {back}, and keeps doing so within a step."
    )
