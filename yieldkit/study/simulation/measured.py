"""Light and temperature that were measured on planes, in place of what is modelled."""

from __future__ import annotations

from collections.abc import Sequence

import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import nearest, refuse
from yieldkit.base.measured_planes import CELL, MODULE, POA, measured_name
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.physics.module.temperature import mounting_model
from yieldkit.weather.readers.on_planes import measured_columns

PYRANOMETER, REFERENCE_CELL = "pyranometer", "reference-cell"
_SAME_DEG = 1e-3


def refuse_unknown_planes(site: Site, weather: xr.Dataset) -> None:
    """Refuse weather that was measured on planes that a site doesn't have.

    Parameters
    ----------
    site : Site
        The site.
    weather : Dataset
        Canonical weather.

    Raises
    ------
    InputError
        With the planes that there are.
    """
    known = [plane.name for plane in site.planes]
    for name, (_, plane) in measured_columns(weather.data_vars).items():
        if plane not in known:
            close = nearest(plane, known)
            refuse(
                f"weather, {name}",
                f"measurements of the plane '{plane}'",
                "a plane of this site: " + ", ".join(f"'{each}'" for each in known),
                remedy=f"Did you mean '{close}'?" if close else "",
            )


def measured_light(plane: Plane, weather: xr.Dataset) -> FloatArray | None:
    """Return the light measured on a plane [W/m2] (time,), None where none was."""
    name = measured_name(POA, plane.name)
    return weather.variables[name].to_numpy() if name in weather else None


def sensor_of(plane: Plane, weather: xr.Dataset) -> tuple[str, float, float]:
    """Return what kind of sensor measured a plane's light, and its tilt and azimuth [deg]."""
    attrs = weather[measured_name(POA, plane.name)].attrs
    return (
        attrs.get("sensor", PYRANOMETER),
        float(attrs.get("sensor_tilt_deg", plane.tilt_deg)),
        float(attrs.get("sensor_azimuth_deg", plane.azimuth_deg)),
    )


def lies_in_plane(plane: Plane, weather: xr.Dataset) -> bool:
    """Return whether the sensor of a plane's light lies as the plane does."""
    _, tilt, azimuth = sensor_of(plane, weather)
    turned = abs((azimuth - plane.azimuth_deg + 180.0) % 360.0 - 180.0)
    return abs(tilt - plane.tilt_deg) < _SAME_DEG and (turned < _SAME_DEG or tilt < _SAME_DEG)


def measured_cells(plane: Plane, weather: xr.Dataset, poa_global: FloatArray) -> FloatArray | None:
    """Return the temperature of cells where it, or their modules', was measured.

    Parameters
    ----------
    plane : Plane
        The plane.
    weather : Dataset
        Canonical weather (time).
    poa_global : ndarray
        Light on the plane [W/m2] (time,).

    Returns
    -------
    ndarray or None
        [degC] (time,); None where nothing was measured.

    References
    ----------
    King et al. (2004), SAND2004-3535, eq. 12: cells lie above the modules' back by a difference
    that grows with the light.
    """
    cell, module = (measured_name(each, plane.name) for each in (CELL, MODULE))
    if cell in weather:
        return weather.variables[cell].to_numpy()
    if module not in weather:
        return None
    above_k = mounting_model(plane.mounting).cell_above_back_k
    found: FloatArray = weather.variables[module].to_numpy() + above_k * poa_global / 1000.0
    return found


def measured_remark(planes: Sequence[Plane], weather: xr.Dataset) -> str:
    """Return what was measured on planes, for beside every result; empty if nothing was.

    Parameters
    ----------
    planes : sequence of Plane
        The site's planes; light of those whose sensor lies otherwise is told to be reckoned.
    weather : Dataset
        Canonical weather.
    """
    lit, elsewhere = list[str](), dict[str, list[str]]()
    for plane in planes:
        if measured_name(POA, plane.name) not in weather:
            continue
        if lies_in_plane(plane, weather):
            lit.append(plane.name)
        else:
            elsewhere.setdefault(_sensor_in_words(plane, weather), []).append(plane.name)
    columns = measured_columns(weather.data_vars)
    warm = [plane for quantity, plane in columns.values() if quantity != POA]
    parts = [f"light on {', '.join(lit)}"] if lit else []
    parts += [f"temperature of {', '.join(warm)}"] if warm else []
    said = [f"Measured, not modelled: {'; '.join(parts)}."] if parts else []
    if lit:
        said.append("Which share of that light is direct is modelled, for reflection at the glass.")
    reckoned = [f"light on {', '.join(names)}, from {lies}" for lies, names in elsewhere.items()]
    if reckoned:
        said.append(f"Reckoned, not measured there: {'; '.join(reckoned)}.")
    return " ".join(said)


def _sensor_in_words(plane: Plane, weather: xr.Dataset) -> str:
    kind, tilt, azimuth = sensor_of(plane, weather)
    return f"a {kind} at tilt {tilt:g} and azimuth {azimuth:g} deg"


def measured_sentences(site: Site, weather: xr.Dataset) -> list[str]:
    """Return what was measured on planes and what was made of it, one sentence each.

    Parameters
    ----------
    site : Site
        The site.
    weather : Dataset
        Canonical weather.
    """
    found = []
    for plane in site.planes:
        if measured_name(POA, plane.name) in weather:
            found.append(_light(site, plane, weather))
        if measured_name(CELL, plane.name) in weather:
            found.append(f"Cell temperature of {plane.name}: measured.")
        if measured_name(MODULE, plane.name) in weather:
            above_k = mounting_model(plane.mounting).cell_above_back_k
            found.append(
                f"Cell temperature of {plane.name}: measured on the modules' back, and {above_k:g} "
                f"K more at 1000 W/m2 ({plane.mounting}; King et al. (2004), SAND2004-3535, read)."
            )
    return found


def _light(site: Site, plane: Plane, weather: xr.Dataset) -> str:
    kind, *_ = sensor_of(plane, weather)
    gain = float(weather[measured_name(POA, plane.name)].attrs.get("sensor_gain", 1.0))
    lies = f"measured by a {kind} in its plane"
    if not lies_in_plane(plane, weather):
        lies = (
            f"reckoned, from what was measured by {_sensor_in_words(plane, weather)}, brought onto "
            f"the plane by {site.models.transposition}"
        )
    glass = (
        "the glass takes its share of it by angle"
        if kind == PYRANOMETER
        else "it is the light in the cells, and light on the glass is reckoned from it"
    )
    return (
        f"Light on {plane.name}: {lies}, gain {gain:g}; {glass}, with direct "
        f"and diffuse light in the proportion of the weather's sky by {site.models.transposition}. "
        "What the horizon takes is in the measurement."
    )
