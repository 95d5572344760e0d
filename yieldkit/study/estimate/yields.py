"""Yields and ratios of IEC 61724-1, from a simulated or a measured plant."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import refuse
from yieldkit.config.models.modules import DatasheetModule, ListedModule
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.modules import fit_module_type, module_power_stc
from yieldkit.physics.module.fit import maximum_power
from yieldkit.study.simulation.month_weights import result_weights, weighed
from yieldkit.study.simulation.period import step_hours

REFERENCE_LIGHT = 1000.0
"""Light in the plane under standard test conditions [W/m2]."""
REFERENCE_TEMPERATURE = 25.0
"""Temperature of the cells under standard test conditions [degC]."""


class PlantYields(NamedTuple):
    """Yields of a plant by its rated power, and the ratios between them (IEC 61724-1).

    Parameters
    ----------
    reference : float
        Y_r: hours of reference light that the planes' light adds up to [h].
    array : float
        Y_A: energy of the array by its rated power [h].
    final : float
        Y_f: delivered energy by the array's rated power [h].
    capture_loss : float
        L_C, what lies between light and array: Y_r - Y_A [h].
    system_loss : float
        L_BOS, what lies between array and meter: Y_A - Y_f [h].
    ratio : float
        PR, performance ratio: Y_f / Y_r [1].
    corrected_ratio : float
        PR'_STC, with the array's power taken at the modules' temperature in place of 25 degC [1].
    """

    reference: float
    array: float
    final: float
    capture_loss: float
    system_loss: float
    ratio: float
    corrected_ratio: float


def yields(
    delivered_kwh: float,
    array_kwh: float,
    irradiation: float,
    rated_kw: float,
    corrected_ratio: float = float("nan"),
) -> PlantYields:
    """Return the yields of energies.

    Parameters
    ----------
    delivered_kwh : float
        At the meter [kWh].
    array_kwh : float
        Of the array, before conversion [kWh].
    irradiation : float
        In the plane [kWh/m2].
    rated_kw : float
        Rated power of the array under standard test conditions [kW].
    corrected_ratio : float
        PR'_STC, where it is known [1].

    Returns
    -------
    PlantYields
        By IEC 61724-1 (formulas from memory; the words read in IEC 61836).

    Raises
    ------
    InputError
        For a rated power of nothing.
    """
    if not rated_kw > 0.0:
        refuse("rated power P0", f"{rated_kw:g} kW", "more than nothing: yields are shares of it")
    reference = irradiation / (REFERENCE_LIGHT / 1000.0)
    final, array = delivered_kwh / rated_kw, array_kwh / rated_kw
    ratio = final / reference if reference > 0.0 else float("nan")
    return PlantYields(
        reference, array, final, reference - array, array - final, ratio, corrected_ratio
    )


def corrected_ratio(
    power: FloatArray,
    light: FloatArray,
    temp_module: FloatArray,
    rated: FloatArray,
    gamma: FloatArray,
    at_temperature: float = REFERENCE_TEMPERATURE,
) -> float:
    """Return the performance ratio with the array's power taken at its temperature.

    Parameters
    ----------
    power : ndarray
        Delivered power at steps of one length [W] (time,).
    light : ndarray
        Light in the planes [W/m2] (time, plane).
    temp_module : ndarray
        Temperature of the modules [degC] (time, plane).
    rated : ndarray
        Rated power of each plane's modules [W] (plane,).
    gamma : ndarray
        Their relative change of power with temperature [1/K] (plane,).
    at_temperature : float
        Temperature to which the array's power is referred [degC]: 25 for PR'_STC, the year's mean
        of the modules for the annual-temperature-equivalent one.

    Returns
    -------
    float
        Sum of power over the sum of C_k P0 G_i / G_ref with C_k = 1 + gamma (T_mod - T)
        (IEC 61724-1; from memory) [1].
    """
    factor = 1.0 + gamma * (temp_module - at_temperature)
    expected = float((factor * rated * light / REFERENCE_LIGHT).sum())
    return float(power.sum()) / expected if expected > 0.0 else float("nan")


def power_coefficient(module: DatasheetModule | ListedModule) -> float:
    """Return a module type's relative change of power with temperature [1/K].

    Parameters
    ----------
    module : DatasheetModule or ListedModule
        The type; what its datasheet states, else what its diode does between 25 and 50 degC.
    """
    stated = module.gamma_pmp_per_k if isinstance(module, DatasheetModule) else None
    if stated is not None:
        return stated
    diode = fit_module_type(module).reference
    cool, hot = (maximum_power(diode, REFERENCE_LIGHT, at) for at in (25.0, 50.0))
    return (hot / cool - 1.0) / 25.0


def yields_of(site: Site, result: xr.Dataset) -> PlantYields:
    """Return the yields of a simulated wiring, all modules of the site counted.

    Parameters
    ----------
    site : Site
        The site.
    result : Dataset
        From `simulate`.

    Returns
    -------
    PlantYields
        The light of several planes by their rated power; the modules' temperature is that of
        their cells. Steps without weather are left out of every sum.
    """
    types = {module.name: module for module in site.module_types}
    own = [types[plane.module_type] for plane in site.planes]
    counts = np.array([plane.modules for plane in site.planes], dtype=float)
    rated = counts * np.array([module_power_stc(module) for module in own])
    gamma = np.array([power_coefficient(module) for module in own])
    weights = result_weights(result)
    light = weighed(result["poa_global"].to_numpy(), weights)
    power = weighed(result["p_delivered"].to_numpy(), weights)
    hours = step_hours(result.attrs)
    there = np.isfinite(power) & np.isfinite(light).all(axis=1)
    in_planes = light[there].sum(axis=0) * hours / 1000.0
    ratio = corrected_ratio(
        power[there], light[there], result["temp_cell"].to_numpy()[there], rated, gamma
    )
    return yields(
        float(result.attrs["energy_kwh"]),
        float(result["tracker_energy"].sum()),
        float(in_planes @ rated / rated.sum()),
        float(rated.sum()) / 1000.0,
        ratio,
    )
