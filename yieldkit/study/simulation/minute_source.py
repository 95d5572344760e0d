"""The measured minutes that a site's weather is refined with."""

from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.base.measured_planes import PLANE_QUANTITIES
from yieldkit.config.models.weather_source import MinuteFile
from yieldkit.config.site.site import Site
from yieldkit.physics.irradiance.sun_course import nanoseconds
from yieldkit.weather.readers.read import read_weather
from yieldkit.weather.readers.source import Source
from yieldkit.weather.shipped_minutes import SHIPPED_MINUTES, shipped_minutes
from yieldkit.weather.within_hour import MinuteLibrary, Spot, minute_library

_FEWEST_HOURS = 150
"""Lit hours that minutes must cover, so that like skies are found; common practice, no source."""
_MINUTE_S = 60


def site_minutes(site: Site) -> MinuteLibrary:
    """Return the measured minutes that a site names, else those that come with the package.

    Parameters
    ----------
    site : Site
        A site whose weather asks for them.

    Raises
    ------
    InputError
        For a file that can't be read, with other steps than minutes, without measured direct and
        diffuse light, or with too few lit hours.
    """
    said = site.weather.within_hour
    if said is None or said.minutes is None:
        return shipped_minutes()
    path = _path(said.minutes, site.folder)
    place = site.site
    spot = Spot(
        place.latitude if said.minutes.latitude is None else said.minutes.latitude,
        place.longitude if said.minutes.longitude is None else said.minutes.longitude,
        place.altitude_m if said.minutes.altitude_m is None else said.minutes.altitude_m,
    )
    dataset = read_weather(path, said.minutes.format, _source(said.minutes, spot))
    _refuse_other_steps(dataset, path.name)
    attrs = dataset.attrs
    station = Spot(attrs["latitude"], attrs["longitude"], attrs["altitude_m"])
    begins, light = _whole_hours(dataset)
    library = minute_library(begins, *light, station, attrs["title"] or path.name, "")
    _refuse_few(library, path.name)
    return library


def minutes_content(site: Site) -> str:
    """Return what tells measured minutes from others: the shipped set's name, or a file's bytes."""
    said = site.weather.within_hour
    if said is None or said.minutes is None:
        return SHIPPED_MINUTES
    return sha256(_path(said.minutes, site.folder).read_bytes()).hexdigest()


def _path(said: MinuteFile, folder: str) -> Path:
    beside = Path(folder) / said.file
    path = beside if beside.is_file() else Path(said.file)
    if not path.is_file():
        refuse(
            "weather.within_hour.minutes.file",
            f"'{said.file}', which is not there",
            "a file of measured minutes, its path counted from the site file's folder",
            remedy="Leave out minutes to draw from those that come with the package.",
        )
    return path


def _source(said: MinuteFile, spot: Spot) -> Source:
    table = said.format in ("csv", "parquet")
    return Source(
        columns=None
        if said.columns is None
        else said.columns.model_dump(exclude=set(PLANE_QUANTITIES), exclude_none=True),
        zone=said.zone,
        sampling="mean" if table else None,
        label=said.label,
        latitude=spot.latitude,
        longitude=spot.longitude,
        altitude_m=spot.altitude_m,
    )


def _refuse_other_steps(dataset: xr.Dataset, where: str) -> None:
    """Refuse what isn't means over minutes of measured direct and diffuse light."""
    attrs = dataset.attrs
    if attrs["interval_s"] != _MINUTE_S or attrs["sampling"] != "mean":
        kind = "means" if attrs["sampling"] == "mean" else "snapshots"
        refuse(
            where,
            f"{kind} every {attrs['interval_s']:g} s as minutes to draw from",
            "means over one minute",
            remedy="Leave out weather.within_hour.minutes to draw from those that come with the "
            "package.",
        )
    reckoned = json.loads(attrs["quality"])["decomposition"]
    if reckoned:
        refuse(
            where,
            f"minutes with light by {reckoned}",
            "measured dni and dhi in every minute",
            cause="What a model makes of global light has no cloud's edge in it.",
        )


def _whole_hours(dataset: xr.Dataset) -> tuple[IntArray, tuple[FloatArray, FloatArray]]:
    """Return the starts of all minutes of whole hours [ns], and direct and diffuse light there."""
    begins = nanoseconds(pd.DatetimeIndex(dataset.indexes["time"]))
    hour_ns, minute_ns = 3_600_000_000_000, 60_000_000_000
    first = begins[0] // hour_ns * hour_ns
    count = int(-(-(begins[-1] + minute_ns - first) // hour_ns)) * 60
    place = (begins - first) // minute_ns
    light = np.full((2, count), np.nan)
    for row, name in zip(light, ("dni", "dhi"), strict=True):
        row[place] = dataset[name].to_numpy()
    return first + np.arange(count) * minute_ns, (light[0], light[1])


def _refuse_few(library: MinuteLibrary, where: str) -> None:
    hours = float(np.isfinite(library.beam).sum()) / 60.0
    if hours < _FEWEST_HOURS:
        refuse(
            where,
            f"{hours:.0f} hours of minutes with the sun up",
            f"at least {_FEWEST_HOURS}, so that every sky finds like ones",
            remedy="Take a longer file, or leave out weather.within_hour.minutes to draw from "
            "those that come with the package.",
        )
