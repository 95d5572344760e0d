"""The cells' temperature as the mounting's coefficients make it, against the datasheet's NOCT."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from yieldkit.config.models.modules import DatasheetModule
from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import COSTS_YIELD, Finding, at_most, not_applicable
from yieldkit.physics.module import temperature as heat

CHECK = "cell temperature against the datasheet's NOCT"
_RULE = (
    "NOCT conditions of IEC 61215 (800 W/m2, 20 degC, 1 m/s, open rack; from memory); the energy "
    "takes the mounting's own coefficients, not NOCT; 4 K of room: common practice, no source"
)
_ROOM_K = 4.0
_IRRADIANCE_W_M2, _AMBIENT_C, _WIND_M_S = 800.0, 20.0, 1.0
_RACK = "open-rack"


def cell_heat(site: Site) -> Iterator[Finding]:
    """Compare every module type's NOCT with the temperature an open rack is simulated with."""
    used = {plane.module_type for plane in site.planes}
    for module in site.module_types:
        if module.name not in used:
            continue
        stated = module.noct_c if isinstance(module, DatasheetModule) else None
        if stated is None:
            why = "No NOCT is stated; the mounting's coefficients count in any case."
            yield not_applicable(CHECK, module.name, why)
            continue
        simulated = open_rack_temperature()
        yield at_most(
            CHECK,
            module.name,
            stated,
            simulated + _ROOM_K,
            "degC",
            _RULE,
            missing="",
            advice=f"An open rack is simulated with {simulated:.1f} degC: these cells run hotter, "
            "so set heat_loss_factor of their planes below 1, or ask for the coefficients.",
            over=COSTS_YIELD,
        )


def open_rack_temperature() -> float:
    """Return the cell temperature of an open rack under NOCT conditions as simulated [degC]."""
    found = heat.cell_temperature(
        _RACK,
        np.array([_IRRADIANCE_W_M2]),
        np.array([_AMBIENT_C]),
        np.array([_WIND_M_S]),
        heat.mounting_model(_RACK).wind_height_m,
    )
    return float(found[0])
