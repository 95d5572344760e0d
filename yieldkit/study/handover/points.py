"""What each string should show at its ends, in some light and at some module temperatures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pvlib

from yieldkit.base.arrays import FloatArray
from yieldkit.design.checks.wired import ModuleFacts, StringFacts
from yieldkit.physics.module.datasheet import diode_parameters

LIGHTS = (1000.0, 800.0, 600.0, 400.0)
"""In-plane irradiance of the sheet's table [W/m2]; below, nobody should compare currents."""
TEMPERATURES = (10.0, 25.0, 40.0, 55.0, 70.0)
"""Module temperatures of the sheet's table [degC]."""
_MIDDLE = 40.0


@dataclass(frozen=True)
class Points:
    """What a string should show, by light and module temperature.

    Parameters
    ----------
    lights : tuple of float
        In-plane irradiance [W/m2] (light,).
    temperatures : tuple of float
        Module temperature [degC] (temperature,).
    v_oc : tuple of tuple of float
        Open-circuit voltage [V] (light, temperature).
    i_sc : tuple of float
        Short-circuit current at 40 degC [A] (light,); empty for a string of several planes, which
        never have the same light.
    """

    lights: tuple[float, ...]
    temperatures: tuple[float, ...]
    v_oc: tuple[tuple[float, ...], ...]
    i_sc: tuple[float, ...]


def string_points(string: StringFacts) -> Points:
    """Return what a string should show.

    Parameters
    ----------
    string : StringFacts
        The string; light from behind isn't counted.

    References
    ----------
    The diode that the datasheet was fitted with, at each light and temperature: at open circuit
    cables and bypass diodes play no part.
    """
    parts = [(count, _curves(facts)) for count, _, facts, _ in string.groups]
    v_oc = sum(count * volts for count, (volts, _) in parts)
    planes = {plane.name for _, plane, *_ in string.groups}
    middle = TEMPERATURES.index(_MIDDLE)
    i_sc = parts[0][1][1][:, middle].tolist() if len(planes) == 1 else []
    return Points(
        LIGHTS,
        TEMPERATURES,
        tuple(tuple(float(each) for each in row) for row in np.asarray(v_oc)),
        tuple(i_sc),
    )


def _curves(facts: ModuleFacts) -> tuple[FloatArray, FloatArray]:
    """Return a module's Voc [V] and Isc [A] (light, temperature)."""
    light, heat = np.meshgrid(LIGHTS, TEMPERATURES, indexing="ij")
    diode = diode_parameters(facts.fit, light.ravel(), heat.ravel())
    whole = pvlib.pvsystem.singlediode(*diode)
    # The diode misses the datasheet's own figures by some tenths of a per cent.
    at = (LIGHTS.index(1000.0), TEMPERATURES.index(25.0))
    found = []
    for key, stated in (("v_oc", facts.v_oc), ("i_sc", facts.i_sc)):
        values = np.asarray(whole[key]).reshape(light.shape)
        found.append(values * stated / values[at])
    return found[0], found[1]
