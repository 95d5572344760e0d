"""The weather a site file asks for."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path

import xarray as xr

from yieldkit.base.errors import refuse
from yieldkit.base.measured_planes import PLANE_QUANTITIES, measured_name
from yieldkit.base.patterns import is_pattern, matching
from yieldkit.base.time_zones import utc_offset
from yieldkit.config.models.weather_source import ColumnMap, LightSensor, WeatherSource
from yieldkit.config.site.site import Site
from yieldkit.study.simulation.whole_years import whole_years
from yieldkit.weather.readers.on_planes import PlaneSensor
from yieldkit.weather.readers.read import find_file, read_weather
from yieldkit.weather.readers.source import Source
from yieldkit.weather.readers.years import YearFile, years_together


def site_weather(site: Site) -> xr.Dataset:
    """Read the weather of a site, of all its files.

    Parameters
    ----------
    site : Site
        Its weather files count from the site file's folder, or are names of data sets.

    Returns
    -------
    Dataset
        Canonical weather whose local time is the site's standard time; the station's where the
        weather is moved. Of several files those years that are whole, where any is.

    Raises
    ------
    InputError
        If a file can't be read or trusted, or files don't belong together.
    """
    said = site.weather
    model, source = site.models.decomposition, source_of(site)
    paths = weather_paths(said, site.folder)
    names = dict(zip(paths, file_labels(paths), strict=True))
    read = [
        YearFile(name, _local(site, read_weather(path, said.format, source, model)))
        for path, name in names.items()
    ]
    if len(read) == 1:
        return read[0].weather
    return whole_years(years_together(read))


def _local(site: Site, dataset: xr.Dataset) -> xr.Dataset:
    """Return weather with the clock that people read."""
    said = site.weather
    if said.moved and dataset.attrs["station_named"]:
        return dataset  # The day is the station's, and so is the clock that people read.
    offset_s = utc_offset(site.site.time_zone)
    return dataset.assign_attrs(utc_offset_s=offset_s, time_zone=site.site.time_zone)


def weather_paths(said: WeatherSource, folder: str) -> tuple[str | Path, ...]:
    """Return the weather files of a site, patterns filled in.

    Parameters
    ----------
    said : WeatherSource
        The weather block.
    folder : str
        Folder of the site file.

    Returns
    -------
    tuple of str or Path
        A path where a file stands beside its site file, else what was written.

    Raises
    ------
    InputError
        If a pattern matches no file.
    """
    return tuple(path for text in said.files for path in _matching(text, folder))


def _matching(text: str, folder: str) -> list[str | Path]:
    file = Path(text)
    beside = Path(folder) / file if folder and not file.is_absolute() else file
    if beside.is_file():
        return [beside]
    if not is_pattern(text, folder):
        return [text]
    files: list[str | Path] = [*matching(text, folder)]
    if not files:
        refuse(
            "weather.file",
            f"the pattern '{text}', which no file matches",
            "a pattern of files that are there",
            remedy=f"It counts from the site file's folder, {Path(folder).resolve()}.",
        )
    return files


def file_labels(paths: Sequence[str | Path]) -> list[str]:
    """Return what weather files are called: their names, with folders where names repeat."""
    names = [Path(path).name for path in paths]
    return [
        name if names.count(name) == 1 else f"{Path(path).parent.name}/{name}"
        for path, name in zip(paths, names, strict=True)
    ]


def weather_files(said: WeatherSource, folder: str) -> tuple[Path, ...]:
    """Return the paths of a site's weather files, those of shipped data sets too.

    Parameters
    ----------
    said, folder
        As for `weather_paths`.

    Raises
    ------
    InputError
        If there is no such file or data set.
    """
    return tuple(find_file(path, said.format) for path in weather_paths(said, folder))


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
