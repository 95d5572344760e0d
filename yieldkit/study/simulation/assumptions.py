"""What a result rests on, in sentences for the report."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.config.models.modules import DatasheetModule
from yieldkit.config.site.site import Site
from yieldkit.physics.module.datasheet import DiodeFit
from yieldkit.physics.module.gates import Gate
from yieldkit.physics.module.temperature import mounting_model
from yieldkit.study.simulation.ac_assumptions import ac_sentences
from yieldkit.study.simulation.measured import measured_sentences
from yieldkit.study.simulation.month_weights import weighed, weights_at
from yieldkit.study.simulation.period import Period
from yieldkit.study.simulation.plane_assumptions import plane_sentences
from yieldkit.study.simulation.snow import snow_step_by_step

_UNUSED = {"pressure": "air pressure", "relative_humidity": "relative humidity"}
"""Weather that is kept with the rest although nothing is computed from it."""


def site_assumptions(
    site: Site, weather: xr.Dataset, fits: Mapping[str, DiodeFit], period: Period
) -> tuple[str, ...]:
    """Return what was chosen or assumed, one sentence each.

    Parameters
    ----------
    site : Site
        The site.
    weather : Dataset
        Canonical weather.
    fits : mapping of str to DiodeFit
        Fitted diodes by module type.
    period : Period
        What time the weather covers.
    """
    return (
        *([f"Remarks of the site file: {site.notes}"] if site.notes else []),
        *_weather_sentences(weather, period),
        f"Sky: {site.models.transposition} transposition{_evenly_bright(site)}; incidence: "
        f"{site.models.incidence}; albedo {site.site.albedo:g}.",
        *_mounting_sentences(site),
        *measured_sentences(site, weather),
        *plane_sentences(site, weather),
        *_module_sentences(fits),
        *_tolerance_sentences(site),
        *_layout_sentences(site),
        *ac_sentences(site),
        f"Bypass diodes: 0.45 V at 9 A and 60 degC. {_light_sentence(site)}",
    )


def _light_sentence(site: Site) -> str:
    """Return how the modules of a plane are lit."""
    if all(plane.corner_m is None for plane in site.planes):
        bare = " where no snow lies" if snow_step_by_step(site) else ""
        return f"Modules of a plane are alike and evenly lit{bare}."
    return (
        "Modules of a plane are alike. Obstacles and other planes' modules take light from every "
        "cell; a cell group carries its darkest cell's, and a module is warmed above the air by "
        "its mean light. Light reflected by obstacles is left out."
    )


def _evenly_bright(site: Site) -> str:
    share = 100.0 * site.models.isotropic_share
    return f", {share:.0f} % of the diffuse sky evenly bright" if share > 0.0 else ""


def _weather_sentences(weather: xr.Dataset, period: Period) -> list[str]:
    attrs = weather.attrs
    quality = json.loads(attrs["quality"])
    sampled = f"means labelled at their {attrs['label']}"
    if attrs["sampling"] == "snapshot":
        minutes = attrs["sun_offset_s"] / 60.0
        sampled = (
            f"snapshots {minutes:.1f} minutes after their label, so that peaks and clipping are "
            "those of snapshots"
        )
    found = [
        f"Weather: {attrs['title'] or attrs['source']}, {sampled}; "
        f"global irradiation {_irradiation(weather, period):.0f} kWh/m2 {period.per}; clock check: "
        f"{quality['clock_text']}.",
        period.coverage_sentence(),
    ]
    if "files" in quality:
        found.insert(1, f"{quality['files']}.")
    unused = [phrases for name, phrases in _UNUSED.items() if name in weather]
    if unused:
        found.append(f"Read and not used: {' and '.join(unused)}.")
    if quality["decomposition"]:
        found.append(f"Direct and diffuse irradiance by {quality['decomposition']}.")
    if period.filled_steps:
        found.append(
            "Filled: light only between steps with the sun up, temperature and wind anywhere, "
            "between the values on both sides."
        )
    if period.missing_steps:
        found.append(
            "Steps without weather are left out of every figure. After a gap an input starts as in "
            "the morning, and cells of steps below 15 minutes begin at their steady temperature; "
            "switch-off for network voltage is reckoned step by step and needs no step before."
        )
    found.extend(quality.get("cautions", ()))
    if "assumed" in quality:
        found.append(f"Weather: {quality['assumed']}.")
    return found


def _irradiation(weather: xr.Dataset, period: Period) -> float:
    """Return the global irradiation of the period [kWh/m2]."""
    hours = float(weather.attrs["interval_s"]) / 3600.0 / period.averaged
    offset = float(weather.attrs["utc_offset_s"])
    weights = weights_at(period.month_times, pd.DatetimeIndex(weather.indexes["time"]), offset)
    light = weighed(weather["ghi"].to_numpy(), weights)
    return float(np.nansum(light)) * hours / 1000.0


def _mounting_sentences(site: Site) -> list[str]:
    ways = dict.fromkeys(plane.mounting for plane in site.planes)
    sentences = []
    for way in ways:
        model = mounting_model(way)
        sentences.append(
            f"Cell temperature, {way}: u0 = {model.u0:g} W/m2/K, u1 = {model.u1:g} W s/m3/K "
            f"with wind at {model.wind_height_m:g} m ({model.source})."
        )
    return sentences


def _module_sentences(fits: Mapping[str, DiodeFit]) -> list[str]:
    sentences = []
    for name, fit in fits.items():
        worst = max((abs(gate.value) for gate in fit.gates[:5]), default=0.0)
        sentences.append(
            f"Module type {name}: single diode by {fit.method}; datasheet points met within "
            f"{100.0 * worst:.2f} %{_beside_stc(fit.gates[5:])}."
        )
        sentences.extend(fit.assumptions)
    return sentences


def _beside_stc(gates: Sequence[Gate]) -> str:
    """Return how far the diode is from the coefficients and low light that were stated."""
    phrases = [
        f"{name} {gate.value:+.3f} %/K" if unit else f"{name} {100.0 * gate.value:+.2f} %"
        for gate in gates
        for name, unit, _ in (gate.name.partition(" (%/K)"),)
    ]
    return f"; off by: {', '.join(phrases)}" if phrases else ""


def _tolerance_sentences(site: Site) -> list[str]:
    """Say that the datasheet's power tolerance is not in the energy, and what is instead."""
    return [
        f"Module type {module.name}: the datasheet's power tolerance of {low:+g} to {high:+g} % is "
        "not used; modules have their rated power, changed by each plane's "
        "power_deviation_percent alone."
        for module in site.module_types
        if isinstance(module, DatasheetModule) and module.power_tolerance_percent is not None
        for low, high in (module.power_tolerance_percent,)
    ]


def _layout_sentences(site: Site) -> list[str]:
    """Say what the cells' layout is worth: nothing, as long as modules are evenly lit."""
    uneven = ["stand in shadow"] if any(plane.corner_m for plane in site.planes) else []
    uneven += ["lie in snow"] if snow_step_by_step(site) else []
    used = "not used, for all cells of a module are lit alike"
    if uneven:
        used = f"used where modules {' or '.join(uneven)}"
    return [
        f"Module type {module.name}: {module.cell_layout} cells; {used}."
        for module in site.module_types
    ]
