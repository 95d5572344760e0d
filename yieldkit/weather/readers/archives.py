"""Formats of public weather archives, read through pvlib and pandas."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd
import pvlib

from yieldkit.weather.readers.canonical import Sampling, Station
from yieldkit.weather.readers.encodings import decoded
from yieldkit.weather.readers.source import STATION_WIND_M, Read, Source, own_names, rezoned


def _station(meta: Mapping[str, Any]) -> Station:
    """Return where a file's station stands and its clock."""
    place = (float(meta["latitude"]), float(meta["longitude"]), float(meta["altitude"]))
    return Station(*place, int(float(meta["TZ"]) * 3600), STATION_WIND_M)


def _text(path: Path, said: Source) -> io.StringIO:
    return io.StringIO(decoded(path.read_bytes(), said.encoding, path.name))


def read_tmy3(path: Path, said: Source) -> Read:
    """Read a TMY3 file: means that end at their labels."""
    frame, meta = pvlib.iotools.read_tmy3(_text(path, said), map_variables=True)
    station = _station(meta)
    frame = own_names(frame)
    if "pressure" in frame:
        frame = frame.assign(pressure=frame["pressure"] * 100.0)
    return Read(
        rezoned(frame, station.utc_offset_s, said),
        station,
        Sampling("mean", "end"),
        True,
        f"TMY3 {meta['Name']}",
        "US National Renewable Energy Laboratory, public data",
    )


def read_tmy2(path: Path, said: Source) -> Read:
    """Read a TMY2 file: means, tenths of degC and m/s."""
    frame, meta = pvlib.iotools.read_tmy2(path)
    station = _station(meta)
    names = {"GHI": "ghi", "DNI": "dni", "DHI": "dhi", "DryBulb": "temp_air", "Wspd": "wind_speed"}
    frame = frame[list(names)].rename(columns=names)
    frame = frame.assign(temp_air=frame["temp_air"] / 10.0, wind_speed=frame["wind_speed"] / 10.0)
    return Read(
        rezoned(frame, station.utc_offset_s, said),
        station,
        Sampling("mean", "start"),
        True,
        f"TMY2 {meta['City'].strip()}",
        "US National Renewable Energy Laboratory, public data",
    )


def read_epw(path: Path, said: Source) -> Read:
    """Read an EnergyPlus weather file: means, read as starting at their labels."""
    frame, meta = pvlib.iotools.read_epw(_text(path, said))
    station = _station(meta)
    frame = own_names(frame.rename(columns={"atmospheric_pressure": "pressure"}))
    return Read(
        rezoned(frame, station.utc_offset_s, said),
        station,
        Sampling("mean", "start"),
        True,
        f"EPW {meta['city']}",
    )


def read_nsrdb(path: Path, said: Source) -> Read:
    """Read an NSRDB file (physical solar model): snapshots at their labels."""
    names = {
        "GHI": "ghi",
        "DNI": "dni",
        "DHI": "dhi",
        "Temperature": "temp_air",
        "Wind Speed": "wind_speed",
        "Pressure": "pressure",
        "Relative Humidity": "relative_humidity",
    }
    text = _text(path, said)
    meta = pd.read_csv(text, nrows=1).iloc[0]
    text.seek(0)
    raw = pd.read_csv(text, skiprows=2).dropna(axis="columns", how="all")
    offset_s = int(float(meta["Time Zone"]) * 3600)
    local = pd.to_datetime(raw[["Year", "Month", "Day", "Hour", "Minute"]])
    index = (pd.DatetimeIndex(local) - pd.Timedelta(seconds=offset_s)).tz_localize("UTC")
    frame = raw[[name for name in names if name in raw]].rename(columns=names)
    if "pressure" in frame:
        frame = frame.assign(pressure=frame["pressure"] * 100.0)
    place = (float(meta["Latitude"]), float(meta["Longitude"]), float(meta["Elevation"]))
    return Read(
        rezoned(frame.set_axis(index, axis="index"), offset_s, said),
        Station(*place, offset_s, 2.0),
        Sampling("snapshot", "start", 0.0),
        raw["Year"].nunique() > 1,
        "NSRDB (physical solar model)",
        "US National Solar Radiation Database",
    )
