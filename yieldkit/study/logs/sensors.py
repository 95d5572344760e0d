"""Light, temperatures and wind of a log as canonical weather of the same steps."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from pvlib.irradiance import aoi_projection

from yieldkit.base.errors import InputError, refuse
from yieldkit.base.measured_planes import MODULE, POA, measured_name, plain_quantity
from yieldkit.config.models.plant_log import LogDescription
from yieldkit.config.models.weather_source import LightSensor
from yieldkit.config.site.site import Site, Wiring
from yieldkit.physics.irradiance.sun_unseen import TELLING
from yieldkit.physics.module.temperature import mounting_model
from yieldkit.study.logs.table import in_logs_words
from yieldkit.study.simulation.weather import site_weather
from yieldkit.weather.quality.agreement import agreement_cautions
from yieldkit.weather.quality.bounds import BOUNDS
from yieldkit.weather.quality.gaps import LIGHT
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame, sun_of
from yieldkit.weather.readers.on_planes import UNSEEN, PlaneSensor, measured_columns
from yieldkit.weather.readers.source import STATION_WIND_M

_FEW = 0.02
"""Share of a sensor's readings that may be out of all bounds and are left out, not refused."""
_CALM_M_S = 1.0


class Sensed(NamedTuple):
    """Weather of a log, and what is told of it."""

    weather: xr.Dataset | None
    remarks: tuple[str, ...]


def sensed(
    values: pd.DataFrame,
    site: Site,
    wiring: Wiring,
    said: LogDescription,
    utc_offset_s: int,
    provenance: dict[str, str],
) -> Sensed:
    """Return what a log's sensors wrote as canonical weather.

    Parameters
    ----------
    values : DataFrame
        Columns by the weather's names, on every step of the log (naive UTC, starts).
    site, wiring : Site, Wiring
        The site, and the wiring that was built.
    said : LogDescription
        The description.
    utc_offset_s : int
        Standard time of the log ahead of UTC [s].
    provenance : dict of str to str
        Title, source and hash of the files.

    Raises
    ------
    InputError
        For units and values that no weather has.
    """
    where = provenance["source"]
    if values.empty or not any(plain_quantity(str(name)) in ("ghi", POA) for name in values):
        others = ", ".join(map(str, values.columns))
        alone = f" (of {others} alone no weather is made)" if others else ""
        told = f"No light was written: what the sky gave at each step isn't known{alone}."
        return Sensed(None, (told,))
    remarks: list[str] = []
    whole = _without_strays(values, where, remarks)
    if "temp_air" not in whole:
        air = _air(whole, site, remarks)
        if air is None:
            return Sensed(None, tuple(remarks))
        whole = whole.assign(temp_air=air)
    place = site.site
    wind_m = said.wind_height_m or STATION_WIND_M
    station = Station(
        place.latitude, place.longitude, place.altitude_m, utc_offset_s, wind_m, named=False
    )
    try:
        weather = from_frame(
            whole.set_axis(pd.DatetimeIndex(whole.index).tz_localize("UTC"), axis="index"),
            station,
            Sampling("mean", "start"),
            decomposition=site.models.decomposition,
            provenance=provenance,
            where=where,
            sensors=tuple(_sensors(site, said)),
            albedo=place.albedo,
        )
    except InputError as error:
        raise InputError(map(in_logs_words, error.problems)) from None
    if "ghi" not in whole:
        weather = _without_blind_steps(weather, wiring, remarks)
    return Sensed(weather, (*remarks, *_told(weather)))


def _without_strays(values: pd.DataFrame, where: str, remarks: list[str]) -> pd.DataFrame:
    """Return readings without the few that are out of all bounds; many are refused later."""
    whole = values.copy()
    for name in values:
        bound = BOUNDS[plain_quantity(str(name))]
        data = values[name].to_numpy()
        marks = np.isin(data, bound.marks)
        odd = ((data < bound.low) | (data > bound.high)) & ~marks
        given = np.isfinite(data)
        if given.size and not given.any():
            refuse(
                f"{where}, {name}",
                f"no value in any of {given.size:,} steps",
                "a column with values",
                remedy=f"Leave {name} out of the log's description, or take another column",
            )
        if 0 < odd.sum() <= _FEW * given.sum():
            worst = data[odd][np.argmax(np.abs(data[odd]))]
            whole[name] = np.where(odd, np.nan, data)
            remarks.append(
                f"{where}: {int(odd.sum())} readings of {name} that no weather has, such as "
                f"{worst:g} {bound.unit}, are left out."
            )
    return whole


def _air(values: pd.DataFrame, site: Site, remarks: list[str]) -> pd.Series | None:
    """Return an air temperature where none was written, and say where it is from."""
    planes = {plane.name: plane for plane in site.planes}
    found = []
    for name, (quantity, plane) in measured_columns(values.columns).items():
        lit = measured_name(POA, plane)
        if quantity != MODULE or lit not in values:
            continue
        model = mounting_model(planes[plane].mounting)
        wind = values.get("wind_speed", _CALM_M_S)
        above = values[lit] / (model.u0 + model.u1 * wind)
        found.append(values[name] + values[lit] * model.cell_above_back_k / 1000.0 - above)
    if found:
        remarks.append(
            "No air temperature was written: it is reckoned back from the measured temperature of "
            "modules by their mounting's heat loss (Faiman 2008) and counts for what has no "
            "temperature of its own."
        )
        return pd.concat(found, axis="columns", sort=False).mean(axis="columns")
    try:
        usual = site_weather(site)["temp_air"]
    except InputError:
        remarks.append(
            "No temperature was written, of air or modules, and the site's weather can't be read: "
            "the light that was written is not used."
        )
        return None
    remarks.append(
        "No temperature was written, of air or modules: the mean of that month and hour in the "
        "site's weather file counts, which is several K beside a day's own."
    )
    return _by_month_and_hour(usual, pd.DatetimeIndex(values.index))


def _by_month_and_hour(usual: xr.DataArray, time: pd.DatetimeIndex) -> pd.Series:
    """Return a year's mean of month and hour at other times."""
    own = usual.to_series()
    index = pd.DatetimeIndex(own.index)
    mean = own.groupby([index.month, index.hour]).mean()
    overall = float(own.mean())
    found = mean.reindex(pd.MultiIndex.from_arrays([time.month, time.hour])).fillna(overall)
    return pd.Series(found.to_numpy(), index=time)


def _without_blind_steps(weather: xr.Dataset, wiring: Wiring, remarks: list[str]) -> xr.Dataset:
    """Return weather without a sky at the steps in which no sensor sees how bright the sun is.

    Light of planes alone, with planes beside them that have none: while the sun shines hardly or
    not on a measured plane, its reading is diffuse, and a bright sky behind it as likely as a dim
    one. What is assumed of the sky then is good for a year's energy, not for judging a plant.
    """
    lit = {plane: name for name, (kind, plane) in measured_columns(weather).items() if kind == POA}
    wired = dict.fromkeys(
        group.plane
        for tracker in wiring.trackers
        for string in tracker.strings
        for group in string.groups
    )
    unlit = [plane for plane in wired if plane not in lit]
    if not unlit:
        return weather
    sun = sun_of(weather)
    angles = [weather[name].attrs for name in lit.values()]
    facing = np.max(
        [
            aoi_projection(
                each["sensor_tilt_deg"],
                each["sensor_azimuth_deg"],
                sun.apparent_zenith,
                sun.azimuth,
            )
            for each in angles
        ],
        axis=0,
    )
    given = ~np.isnan(weather["ghi"].to_numpy())
    blind = (facing < TELLING) & (sun.zenith < 90.0) & given
    if not blind.any():
        return weather
    remarks.append(
        f"Light on {', '.join(unlit)} wasn't measured; it is reckoned from that on "
        f"{', '.join(lit)}, on clear days a tenth and more beside what was there. In "
        f"{int(blind.sum()):,} daylit steps the sun shone there hardly or not, so that the sky "
        "isn't known, and they have no weather: measure global irradiance, or light on every "
        "plane."
    )
    sky = {name: weather[name].where(~xr.DataArray(blind, dims="time")) for name in LIGHT}
    # No light is assumed in these steps then, of which the weather's own sentence speaks.
    quality = json.loads(weather.attrs["quality"])
    quality["cautions"] = [each for each in quality["cautions"] if UNSEEN not in each]
    return weather.assign(sky).assign_attrs(quality=json.dumps(quality, sort_keys=True))


def _sensors(site: Site, said: LogDescription) -> Iterator[PlaneSensor]:
    """Give the sensor behind each column of light on a plane."""
    own = {sensor.plane: sensor for sensor in said.sensors}
    planes = {plane.name: plane for plane in site.planes}
    for name, _ in said.columns.poa_global:
        plane, sensor = planes[name], own.get(name, LightSensor(plane=name))
        tilt = plane.tilt_deg if sensor.tilt_deg is None else sensor.tilt_deg
        azimuth = plane.azimuth_deg if sensor.azimuth_deg is None else sensor.azimuth_deg
        yield PlaneSensor(name, sensor.kind, tilt, azimuth, sensor.gain)


def _told(weather: xr.Dataset) -> Iterator[str]:
    """Give what a person must know of the weather that was measured."""
    quality = json.loads(weather.attrs["quality"])
    clock = agreement_cautions({**quality, "closure_gain": 1.0, "marks": ""})
    yield from (each for each in quality["cautions"] if each not in clock)
    if quality.get("assumed"):
        yield f"Weather of the log: {quality['assumed']}."
    if quality["missing_steps"]:
        yield (
            f"Weather of the log: {quality['missing_steps']:,} of {weather.sizes['time']:,} steps "
            "lack a sensor's reading and have no weather."
        )
    if quality["clock"] != "agrees":
        # What to write into a site file's weather block mends no log: what is wrong with a log's
        # clock is told by its own days.
        yield f"Clock of the log's light: {quality['clock_text']}."
