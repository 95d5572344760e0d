"""Light of planes that no sensor in them measured: by how much it may be off, hour by hour."""

from __future__ import annotations

import numpy as np
from pvlib.irradiance import aoi_projection

from yieldkit.base.arrays import FloatArray
from yieldkit.base.measured_planes import POA, measured_name
from yieldkit.study.handover.diffuse_share import diffuse_share_off
from yieldkit.study.review.beside import ON_SOME_PLANES, Beside
from yieldkit.study.review.shapes import Probe, through
from yieldkit.study.simulation.measured import lies_in_plane
from yieldkit.study.simulation.prepare import weather_sun

DIRECT_PERCENT, DIFFUSE_PERCENT = 3.0, 10.0
"""By how much light that is brought onto a plane is off in an hour of the day, in the mean of a
month, where it is all direct and all diffuse [%]. Measured and direct light of a month (BSRN
Payerne, June 2016) on planes of 30 to 75 degrees to all sides, as Driesse et al. (2024) have the
sky shine and as Hay and Davies (1980) do, which differ by so much."""
_MOST = 0.7
"""More than that no light is off, as a logarithm [1]."""
_APART_H = 3.0
"""Errors this far apart have little in common [h]."""


def measured_in(own: Beside, plane: int) -> bool:
    """Return whether a sensor that lies as a plane does measured its light.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    plane : int
        The plane.
    """
    said = own.site.planes[plane]
    return measured_name(POA, said.name) in own.weather and lies_in_plane(said, own.weather)


def reckoned_planes(own: Beside) -> list[str]:
    """Return the names of the planes in which no sensor measured light."""
    planes = enumerate(own.site.planes)
    return [plane.name for at, plane in planes if not measured_in(own, at)]


def untold(own: Beside) -> tuple[str, ...]:
    """Return what is said of planes of which light can't tell shadow, dirt, tilt and azimuth."""
    told = told_planes(own)
    names = [plane.name for at, plane in enumerate(own.site.planes) if at not in told]
    if not names:
        return ()
    return (
        f"Shadow, dirt, tilt and azimuth can't be told on {', '.join(names)}: light there is "
        "reckoned from a sensor in another plane. Measure it there, or global irradiance.",
    )


def told_planes(own: Beside) -> list[int]:
    """Return the planes of which light can tell shadow, dirt, tilt and azimuth.

    Light brought from a sensor in one plane to another hangs on what share of it was direct, which
    the sensor doesn't say: a right plane looks shaded or turned by it.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    """
    planes = range(len(own.site.planes))
    if own.light != ON_SOME_PLANES:
        return list(planes)
    return [plane for plane in planes if measured_in(own, plane)]


def reckoned_by_hour(probe: Probe) -> list[tuple[int, FloatArray]]:
    """Return how bins follow light that is reckoned wrongly about some hour of the day.

    Parameters
    ----------
    probe : Probe
        The log's days.

    Returns
    -------
    list of tuple
        The plane, -1 for all of them, and how bins' logarithms follow one standard deviation
        (bin,): of each plane what the sky's model leaves open, and of all together the share of
        light that is diffuse. Nothing where all light was measured in its plane.
    """
    own = probe.own
    planes = [at for at in range(len(own.site.planes)) if not measured_in(own, at)]
    whole = own.prepared.planes["poa_global"].to_numpy()[probe.steps]
    local = own.local[probe.steps]
    hours = (local.hour + local.minute / 60.0).to_numpy() + 0.5 * own.hours
    lit = hours[(whole > 0.0).any(axis=1)]
    if not planes or not lit.size:
        return []
    count = max(2, 1 + int(np.ceil(np.ptp(lit) / _APART_H)))
    nodes = np.linspace(lit.min(), lit.max() + 1e-6, count)
    hats = [np.interp(hours, nodes, hat) for hat in np.eye(count)]
    found, shared = [], np.zeros((count, probe.bins.month.size))
    for plane in planes:
        off, by_share = _off(probe, plane)
        for at, hat in enumerate(hats):
            found.append((plane, through(probe, plane, off * hat)))
            shared[at] += through(probe, plane, by_share * hat)
    return [*found, *((-1, shape) for shape in shared)]


def _off(probe: Probe, plane: int) -> tuple[FloatArray, FloatArray]:
    """Return by how much a plane's light is off by the sky's model, and by its diffuse share [1].

    Each as a logarithm (step,), by one standard deviation.
    """
    own, steps = probe.own, probe.steps
    said, light = own.site.planes[plane], own.prepared.weather
    sun = weather_sun(own.site, own.weather)
    facing = aoi_projection(said.tilt_deg, said.azimuth_deg, sun.apparent_zenith, sun.azimuth)
    facing = np.clip(facing, 0.0, 1.0)[steps]
    height = 90.0 - sun.apparent_zenith[steps]
    upward = np.sin(np.radians(np.maximum(height, 3.0)))
    dni, ghi = (light[name].to_numpy()[steps] for name in ("dni", "ghi"))
    whole = own.prepared.planes["poa_global"].to_numpy()[steps, plane]
    with np.errstate(divide="ignore", invalid="ignore"):
        diffuse = np.clip(np.nan_to_num(1.0 - dni * facing / whole, nan=1.0), 0.0, 1.0)
        # What is diffuse instead of direct leaves the beam's place and comes from the sky's.
        moved = facing / upward - 0.5 * (1.0 + np.cos(np.radians(said.tilt_deg)))
        by_share = np.nan_to_num(ghi * moved / whole)
    by_share = np.clip(by_share * diffuse_share_off(height), -_MOST, _MOST)
    off = 0.01 * (DIRECT_PERCENT + (DIFFUSE_PERCENT - DIRECT_PERCENT) * diffuse)
    return np.asarray(off), np.asarray(by_share)
