"""The weather a site file asks for."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import xarray as xr

from yieldkit.base.measured_planes import PLANE_QUANTITIES, measured_name
from yieldkit.base.time_zones import utc_offset
from yieldkit.config.models.weather_source import ColumnMap, LightSensor, WeatherSource
from yieldkit.config.site.site import Site
from yieldkit.weather.readers.on_planes import PlaneSensor
from yieldkit.weather.readers.read import read_weather
from yieldkit.weather.readers.source import Source


def site_weather(site: Site) -> xr.Dataset:
    """Read the weather of a site.

    Parameters
    ----------
    site : Site
        Its weather file counts from the site file's folder, or is a data set's name.

    Returns
    -------
    Dataset
        Canonical weather whose local time is the site's standard time; the station's where the
        weather is moved.

    Raises
    ------
    InputError
        If the file can't be read or trusted.
    """
    said = site.weather
    model = site.models.decomposition
    dataset = read_weather(weather_path(said, site.folder), said.format, source_of(site), model)
    if said.moved and dataset.attrs["station_named"]:
        return dataset  # The day is the station's, and so is the clock that people read.
    offset_s = utc_offset(site.site.time_zone)
    return dataset.assign_attrs(utc_offset_s=offset_s, time_zone=site.site.time_zone)


def weather_path(said: WeatherSource, folder: str) -> str | Path:
    """Return a weather file's path where it stands beside its site file, else what was written."""
    file = Path(said.file)
    beside = Path(folder) / file if folder and not file.is_absolute() else file
    return beside if beside.is_file() else said.file


def weather_source(
    said: WeatherSource, latitude: float, longitude: float, altitude_m: float
) -> Source:
    """Return what a site file says of its weather file, as readers take it.

    Parameters
    ----------
    said : WeatherSource
        The weather block.
    latitude, longitude, altitude_m : float
        Of the site [deg, m].
    """
    return Source(
        columns=None if said.columns is None else _columns(said.columns),
        zone=said.zone,
        sampling=said.sampling,
        label=said.label,
        sun_offset_min=said.sun_offset_min,
        wind_height_m=said.wind_height_m,
        fill_gaps_up_to_h=said.fill_gaps_up_to_h,
        decimal=said.decimal,
        date_format=said.date_format,
        encoding=said.encoding,
        latitude=latitude,
        longitude=longitude,
        altitude_m=altitude_m,
    )


def source_of(site: Site) -> Source:
    """Return what a site's file says of its weather file, with the sensors on its planes.

    Parameters
    ----------
    site : Site
        The site.
    """
    place = site.site
    source = weather_source(site.weather, place.latitude, place.longitude, place.altitude_m)
    sensors = tuple(_sensors(site))
    # Without them nothing that is read depends on the ground.
    return source._replace(sensors=sensors, albedo=place.albedo) if sensors else source


def _columns(said: ColumnMap) -> dict[str, str]:
    """Return the file's column of each quantity, those of planes by name of quantity and plane."""
    columns = said.model_dump(exclude=set(PLANE_QUANTITIES), exclude_none=True)
    for quantity in PLANE_QUANTITIES:
        columns |= {measured_name(quantity, own): at for own, at in getattr(said, quantity)}
    return columns


def _sensors(site: Site) -> Iterator[PlaneSensor]:
    """Give the sensor behind each column of light on a plane."""
    said = {sensor.plane: sensor for sensor in site.weather.sensors}
    planes = {plane.name: plane for plane in site.planes}
    columns = site.weather.columns
    for name, _ in () if columns is None else columns.poa_global:
        plane, own = planes[name], said.get(name, LightSensor(plane=name))
        tilt = plane.tilt_deg if own.tilt_deg is None else own.tilt_deg
        azimuth = plane.azimuth_deg if own.azimuth_deg is None else own.azimuth_deg
        yield PlaneSensor(name, own.kind, tilt, azimuth, own.gain)


def weather_cautions(weather: xr.Dataset) -> tuple[str, ...]:
    """Return what a person must know of the weather before believing a yield, in sentences.

    Parameters
    ----------
    weather : Dataset
        Canonical weather.
    """
    quality = json.loads(weather.attrs.get("quality") or "{}")
    return tuple(quality.get("cautions", ()))
