"""A site as a draw has it: planes, sky, cells, bypass diodes and inverters a little otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from yieldkit.config.models.planes import HorizonPoint, Plane
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.conversion import tracking_span
from yieldkit.physics.ac.conversion_change import EfficiencyChange, changed_conversion
from yieldkit.physics.circuit.api import Bypass, default_bypass
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.uncertainty.unknowns import BY_LOAD, BY_VOLTAGE

SKIES = ("hay-davies", "reindl", "perez-1990", "perez-driesse")
"""Models of the sky that are drawn, each as often."""
# A site file may hold no lower facade and no steeper roof: draws stay inside.
_SLOPES = {
    "facade": (45.0, 90.0),
    "roof-parallel": (0.0, 75.0),
    "flat-roof-rack": (0.0, 75.0),
    "integrated": (0.0, 75.0),
}


_OPEN = tuple(HorizonPoint(azimuth_deg=at, elevation_deg=0.0) for at in (0.0, 180.0))


def drawn_site(site: Site, row: Mapping[str, float]) -> Site:
    """Return a site as a draw has it, inside what site files may hold and so not checked again.

    Parameters
    ----------
    site : Site
        The site.
    row : mapping of str to float
        The draw; without a model of the sky the site keeps its own.
    """
    models: dict[str, object] = {}
    if "sky model" in row:
        models["transposition"] = SKIES[int(row["sky model"] * len(SKIES))]
    if "evenly bright share of the sky" in row:
        models["isotropic_share"] = row["evenly bright share of the sky"] / 100.0
    changes: dict[str, object] = {
        "models": site.models.model_copy(update=models),
        "planes": tuple(_drawn_plane(site, plane, row) for plane in site.planes),
    }
    volts = site.grid.network_voltage
    if volts.kind != "series":
        moved = {"voltage_v": volts.voltage_v + row["network voltage"]}
        moved_voltage = volts.model_copy(update=moved)
        changes["grid"] = site.grid.model_copy(update={"network_voltage": moved_voltage})
    return site.model_copy(update=changes)


def _drawn_plane(site: Site, plane: Plane, row: Mapping[str, float]) -> Plane:
    """Return a plane as a draw has it: turned, tilted, soiled, hidden and cooled otherwise."""
    name = plane.name
    hidden = row[f"horizon of {name}"]
    raised = tuple(
        HorizonPoint(
            azimuth_deg=point.azimuth_deg,
            elevation_deg=_between(0.0, point.elevation_deg + hidden, 89.0),
        )
        for point in site.horizon_of(plane) or _OPEN
    )
    low, high = _SLOPES.get(plane.mounting, (0.0, 90.0))
    cooling = float(np.exp(row[f"heat loss of the cells of {name}"] / 100))
    changes = {
        "tilt_deg": _between(low, plane.tilt_deg + row[f"tilt of {name}"], high),
        "azimuth_deg": (plane.azimuth_deg + row[f"azimuth of {name}"]) % 360.0,
        "horizon": raised,
        "soiling_loss_percent": _between(
            # Beside more dirt by time, that of the whole year may be below none.
            -99.0 if dirt_by_time(plane) else 0.0,
            plane.soiling_loss_percent + row[f"soiling of {name}"],
            99.0,
        ),
        "power_deviation_percent": plane.power_deviation_percent
        - row[f"module tolerance of {name}"],
        "heat_loss_factor": _between(0.3, plane.heat_loss_factor * cooling, 3.0),
    }
    return plane.model_copy(update=changes)


def dirt_by_time(plane: Plane) -> bool:
    """Return whether a plane states its dirt by month or from rain.

    Parameters
    ----------
    plane : Plane
        The plane.
    """
    return plane.soiling_by_month_percent is not None or plane.soiling_from_rain is not None


def _between(least: float, value: float, most: float) -> float:
    return float(min(max(value, least), most))


def drawn_bypass(row: Mapping[str, float]) -> Bypass:
    """Return bypass diodes that drop more or less at every current."""
    usual = default_bypass()
    return usual._replace(n_vth=usual.n_vth * max(1.0 + row["bypass drop"] / 100.0, 0.2))


def drawn_cells(prepared: Prepared, row: Mapping[str, float]) -> Prepared:
    """Return cells with another slope at low light: more or less shunt resistance."""
    factors = np.array(
        [np.exp(row[f"low-light slope of {plane.name}"] / 100.0) for plane in prepared.site.planes]
    )
    conditions = prepared.conditions
    return replace(
        prepared,
        conditions=conditions._replace(resistance_shunt=conditions.resistance_shunt * factors),
    )


def drawn_conversion(prepared: Prepared, row: Mapping[str, float]) -> Prepared:
    """Return an inverter that converts a little better or worse, by voltage and by load."""
    change = EfficiencyChange(
        *(row[name] / 100.0 for name in ("inverter efficiency", BY_VOLTAGE, BY_LOAD))
    )
    changed = tuple(
        changed_conversion(conversion, change, *tracking_span(one.site.single_inverter))
        for one, conversion in zip(prepared.site.each_inverter(), prepared.conversions, strict=True)
    )
    return replace(prepared, conversions=changed)
