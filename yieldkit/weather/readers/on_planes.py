"""Columns measured on planes: their sensors, and the sky behind their light."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import refuse
from yieldkit.base.measured_planes import CELL, MODULE, POA, measured_name, measured_part
from yieldkit.physics.irradiance.from_plane import SkyBehind, sky_from_planes
from yieldkit.physics.irradiance.sun import Sun

_MEANING = {
    POA: ("W/m2", "irradiance read by the sensor of the plane"),
    MODULE: ("degC", "temperature measured on the back of modules"),
    CELL: ("degC", "temperature of cells"),
}

UNSEEN = "the sun stood behind every sensor of light on planes or grazed it"
"""What the sentence on such steps has in it."""


class PlaneSensor(NamedTuple):
    """A sensor of the light on a plane.

    Parameters
    ----------
    plane : str
        The plane's name.
    kind : str
        "pyranometer" or "reference-cell".
    tilt, azimuth : float
        How it lies [deg].
    gain : float
        What it reads over what is there [1].
    """

    plane: str
    kind: str
    tilt: float
    azimuth: float
    gain: float


def measured_columns(names: Iterable[Hashable]) -> dict[str, tuple[str, str]]:
    """Return quantity and plane of each column that was measured on a plane, by its name."""
    found = {str(name): measured_part(str(name)) for name in names}
    return {name: part for name, part in found.items() if part is not None}


def gains_taken_out(
    values: pd.DataFrame, sensors: Sequence[PlaneSensor], where: str
) -> pd.DataFrame:
    """Return readings without their sensors' gain.

    Parameters
    ----------
    values : DataFrame
        Columns by our names.
    sensors : sequence of PlaneSensor
        Sensors of light.
    where : str
        File name, for errors.

    Raises
    ------
    InputError
        For a plane with a temperature of its cells beside that of its modules.
    """
    columns = measured_columns(values.columns)
    for name, (quantity, plane) in columns.items():
        if quantity == CELL and measured_name(MODULE, plane) in columns:
            refuse(
                f"{where}, {name}",
                f"{name} beside {measured_name(MODULE, plane)}",
                "one temperature of a plane: that of its cells, or that of its modules' back",
                remedy="Leave one of them out.",
            )
    changed = {
        measured_name(POA, sensor.plane): values[measured_name(POA, sensor.plane)] / sensor.gain
        for sensor in sensors
        if measured_name(POA, sensor.plane) in values and sensor.gain != 1.0
    }
    return values.assign(**changed) if changed else values


def plane_variables(values: pd.DataFrame, sensors: Sequence[PlaneSensor]) -> dict[str, object]:
    """Return the variables of a Dataset that were measured on planes, with their sensors.

    Parameters
    ----------
    values : DataFrame
        Columns by our names.
    sensors : sequence of PlaneSensor
        Sensors of light.
    """
    by_plane = {sensor.plane: sensor for sensor in sensors}
    found: dict[str, object] = {}
    for name, (quantity, plane) in measured_columns(values.columns).items():
        unit, meaning = _MEANING[quantity]
        attrs: dict[str, str | float] = {"units": unit, "long_name": meaning, "plane": plane}
        sensor = by_plane.get(plane)
        if quantity == POA and sensor is not None:
            attrs |= {
                "sensor": sensor.kind,
                "sensor_tilt_deg": sensor.tilt,
                "sensor_azimuth_deg": sensor.azimuth,
                "sensor_gain": sensor.gain,
            }
        found[name] = ("time", values[name].to_numpy(dtype=float), attrs)
    return found


def sky_behind(dataset: xr.Dataset, sun: Sun, albedo: float, decomposition: str) -> SkyBehind:
    """Return the sky that gives the light measured on planes, for files without global irradiance.

    Parameters
    ----------
    dataset : Dataset
        Canonical weather but for the light on the horizontal.
    sun : Sun
        The sun at its steps.
    albedo : float
        Share of light that the ground reflects [1].
    decomposition : str
        Model for direct and diffuse.

    Raises
    ------
    InputError
        If it isn't known how a sensor lies.
    """
    readings = []
    for name, (quantity, _) in measured_columns(dataset.data_vars).items():
        attrs = dataset[name].attrs
        if quantity != POA:
            continue
        if "sensor_tilt_deg" not in attrs:
            refuse(
                f"weather, {name}",
                "light on a plane without how its sensor lies, and no global irradiance",
                "sensors with tilt and azimuth, or a column of global irradiance",
            )
        readings.append(
            (dataset[name].to_numpy(), attrs["sensor_tilt_deg"], attrs["sensor_azimuth_deg"])
        )
    return sky_from_planes(readings, sun, albedo, decomposition)


def unseen_sun(sky: SkyBehind, sun: Sun) -> list[str]:
    """Return what a person must know of steps in which no sensor saw the sun, in a sentence.

    Parameters
    ----------
    sky : SkyBehind
        The sky behind light measured on planes.
    sun : Sun
        The sun at its steps.

    Returns
    -------
    list of str
        Nothing where the sun always shone on a sensor.
    """
    untold, ghi = sky.unseen | sky.doubtful, sky.light.ghi
    if not untold.any():
        return []
    daylit = int(np.count_nonzero((sun.apparent_zenith < 90.0) & ~np.isnan(ghi)))
    light = float(np.nansum(ghi))
    beamless, doubtful = (int(np.count_nonzero(each)) for each in (sky.beamless, sky.doubtful))
    lost = [f"no beam is assumed in {beamless:,} of them"] if beamless else []
    lost += [f"in {doubtful:,} the reading alone counts"] if doubtful else []
    # By a third to a half of a year's light, where the only sensor faces north (computed).
    low = ", on days without a beam far too low" if beamless else ""
    dull = f" On days on which it never did {', and '.join(lost)}." if lost else ""
    return [
        f"In {int(untold.sum()):,} of {daylit:,} daylit steps, with {_percent(ghi[untold], light)} "
        f"of the global light as reckoned, {UNSEEN} at over 70 degrees: a dim sky reads like a "
        "bright one then. The beam is assumed there, as clear as when the sun met them more "
        f"squarely on that day (after Marion 2015).{dull} The energy of planes that face away from "
        f"them is uncertain by some per cent in a year{low}, and no span that is told allows for "
        "it. Measure global irradiance, or light on planes that face the other way."
    ]


def _percent(part: FloatArray, whole: float) -> str:
    """Return a part's share in words; of nothing it is 0 %."""
    share = 100.0 * float(part.sum()) / whole if whole > 0.0 else 0.0
    return f"{share:.1f} %" if share < 1.0 else f"{share:.0f} %"
