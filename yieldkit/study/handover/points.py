"""What strings and inputs should show on the sheet, by light and module temperature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.handover.expected import Conditions, ExpectedReading, expected_readings
from yieldkit.study.handover.names import named_strings

LIGHTS = (1000.0, 800.0, 600.0, 400.0)
"""In-plane irradiance of the sheet's tables [W/m2]; below, nobody should compare currents."""
TEMPERATURES = (10.0, 25.0, 40.0, 55.0, 70.0)
"""Module temperatures of the sheet's tables [degC]."""
USUAL_C = 40.0
"""The one of them at which currents and powers stand there [degC]."""


@dataclass(frozen=True)
class Points:
    """What a string should show at its ends, standing alone.

    Parameters
    ----------
    lights : tuple of float
        In-plane irradiance [W/m2] (light,).
    temperatures : tuple of float
        Temperature of the modules' back [degC] (temperature,).
    v_oc : tuple of tuple of float
        Open-circuit voltage [V] (light, temperature).
    i_sc : tuple of float
        Short-circuit current at `USUAL_C` [A] (light,); empty for a string of several planes,
        which never have the same light.
    v_band_percent, i_band_percent : float
        How far 19 of 20 readings lie from it at most, with usual instruments [%].
    """

    lights: tuple[float, ...]
    temperatures: tuple[float, ...]
    v_oc: tuple[tuple[float, ...], ...]
    i_sc: tuple[float, ...]
    v_band_percent: float
    i_band_percent: float


@dataclass(frozen=True)
class Operating:
    """What an input should show in operation, with nothing holding the inverter back.

    Parameters
    ----------
    lights : tuple of float
        In-plane irradiance of its only plane [W/m2] (light,); empty for an input with strings of
        several planes.
    v_dc, i_dc, p_dc : tuple of float
        Voltage [V], current [A] and power [W] at `USUAL_C` (light,).
    p_band_percent : float
        As for `Points`, of its power [%].
    """

    lights: tuple[float, ...]
    v_dc: tuple[float, ...]
    i_dc: tuple[float, ...]
    p_dc: tuple[float, ...]
    p_band_percent: float


def expected_points(site: Site, wiring: Wiring) -> tuple[dict[str, Points], dict[str, Operating]]:
    """Return what every string and every input in use should show, by name.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        One of its wirings.

    Returns
    -------
    tuple of (dict of str to Points, dict of str to Operating)
        From `expected_readings`, all planes in the same light, which falls as at noon of the
        longest day: at other hours glass reflects a little more.
    """
    moment = _noon_of_longest_day(site)
    found: dict[tuple[float, float], dict[tuple[str, str], ExpectedReading]] = {}
    for light in LIGHTS:
        for heat in TEMPERATURES:
            same = np.ones(len(site.planes))
            at = Conditions(moment, light * same, heat * same, True)
            found[light, heat] = {
                (each.subject, each.quantity): each for each in expected_readings(site, wiring, at)
            }
    usual = [found[light, USUAL_C] for light in LIGHTS]
    strings: dict[str, Points] = {}
    planes: dict[str, set[str]] = {}
    for one in named_strings(site, wiring):
        own = {group.plane for group in one.string.groups}
        planes.setdefault(one.input_name, set()).update(own)
        strings[one.name] = Points(
            LIGHTS,
            TEMPERATURES,
            tuple(
                tuple(found[light, heat][one.name, "v_oc"].value for heat in TEMPERATURES)
                for light in LIGHTS
            ),
            tuple(at[one.name, "i_sc"].value for at in usual) if len(own) == 1 else (),
            _band(usual[0][one.name, "v_oc"]),
            _band(usual[0][one.name, "i_sc"]),
        )
    return strings, {
        name: _operating(name, usual) if len(own) == 1 else Operating((), (), (), (), 0.0)
        for name, own in planes.items()
    }


def _operating(name: str, usual: list[dict[tuple[str, str], ExpectedReading]]) -> Operating:
    v_dc, i_dc, p_dc = (
        tuple(at[name, quantity].value for at in usual) for quantity in ("v_dc", "i_dc", "p_dc")
    )
    return Operating(LIGHTS, v_dc, i_dc, p_dc, _band(usual[0][name, "p_dc"]))


def _band(reading: ExpectedReading) -> float:
    """Return half the width of a reading's band [%]."""
    if reading.value == 0.0:
        return 0.0
    return 50.0 * (reading.high - reading.low) / reading.value


def _noon_of_longest_day(site: Site) -> pd.Timestamp:
    day = "2026-06-21" if site.site.latitude >= 0.0 else "2026-12-21"
    return pd.Timestamp(f"{day} 12:00", tz="UTC") - pd.Timedelta(hours=site.site.longitude / 15.0)
