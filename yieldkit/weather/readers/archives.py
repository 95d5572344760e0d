"""Formats of public weather archives, read through pvlib and pandas."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd
import pvlib

from yieldkit.base.time_zones import utc_offset, zone_name
from yieldkit.weather.quality.bounds import marks_of
from yieldkit.weather.readers.canonical import Sampling, Station
from yieldkit.weather.readers.encodings import decoded
from yieldkit.weather.readers.source import STATION_WIND_M, Read, Source, own_names, rezoned


def _station(meta: Mapping[str, Any]) -> Station:
    """Return where a file's station stands and its clock."""
    place = (float(meta["latitude"]), float(meta["longitude"]), float(meta["altitude"]))
    return Station(*place, int(float(meta["TZ"]) * 3600), STATION_WIND_M)


def _text(path: Path, said: Source) -> io.StringIO:
    return io.StringIO(decoded(path.read_bytes(), said.encoding, path.name))


_FURTHEST_ZONE_S = 14 * 3600
_WITHOUT = {
    ("dni", "dhi"): "direct and diffuse are modelled from global irradiance",
    ("dni",): "direct is made from global and diffuse irradiance",
    ("dhi",): "diffuse is made from global and direct irradiance",
}


def _given(frame: pd.DataFrame) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Return the columns that hold values, and what is told of those that are left out.

    An archive's form has columns for everything; what a station didn't measure stands in them as a
    mark, or as zero in all of direct and diffuse.
    """
    empty = [name for name in frame if _holds_nothing(frame[name])]
    parts = [name for name in ("dni", "dhi") if name in frame]
    dark = all((frame[name].isna() | (frame[name] == 0.0)).all() for name in parts)
    if dark and (frame["ghi"] > 0.0).any():
        empty.extend(name for name in parts if name not in empty)
    remarks = []
    without = tuple(name for name in ("dni", "dhi") if name in empty)
    if without:
        names = " and ".join(without)
        remarks.append(f"The weather file has no values of {names}: {_WITHOUT[without]}.")
    kept = [name for name in empty if name not in ("ghi", "temp_air")]
    return frame.drop(columns=kept), tuple(remarks)


def _holds_nothing(column: pd.Series) -> bool:
    return bool((column.isna() | column.isin(marks_of(str(column.name)))).all())


def read_tmy3(path: Path, said: Source) -> Read:
    """Read a TMY3 file: means that end at their labels."""
    frame, meta = pvlib.iotools.read_tmy3(_text(path, said), map_variables=True)
    station = _station(meta)
    frame, remarks = _given(own_names(frame))
    if "pressure" in frame:
        frame = frame.assign(pressure=frame["pressure"] * 100.0)
    return Read(
        rezoned(frame, station.utc_offset_s, said),
        station,
        Sampling("mean", "end"),
        True,
        f"TMY3 {meta['Name']}",
        "US National Renewable Energy Laboratory, public data",
        remarks,
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


_PLACE_FIELDS = 10
"""Fields of an EPW's first line: nine values behind the word LOCATION (from memory)."""


def read_epw(path: Path, said: Source) -> Read:
    """Read an EnergyPlus weather file: means, read as starting at their labels."""
    text = _text(path, said)
    place = text.readline().strip().split(",")
    text.seek(0)
    frame, meta = pvlib.iotools.read_epw(text)
    station = _station(meta)
    frame, remarks = _given(own_names(frame.rename(columns={"atmospheric_pressure": "pressure"})))
    if len(place) == _PLACE_FIELDS + 1:
        station, remark = _with_decimal_comma(station, place, said)
        remarks = (*remarks, *remark)
    return Read(
        rezoned(frame, station.utc_offset_s, said),
        station,
        Sampling("mean", "start"),
        True,
        f"EPW {meta['city']}",
        remarks=remarks,
    )


def _with_decimal_comma(
    station: Station, place: list[str], said: Source
) -> tuple[Station, tuple[str, ...]]:
    """Return a station whose zone was cut by its decimal comma, and what is to be asked."""
    zone, rest, altitude = place[-3:]
    try:
        whole_s = round(3600.0 * float(f"{zone}.{rest}"))
        own = station._replace(altitude_m=float(altitude))
    except ValueError:
        return station, ()
    if abs(whole_s) > _FURTHEST_ZONE_S or whole_s % 900:
        return station, ()
    if said.zone is not None:
        meant = utc_offset(said.zone, "weather.zone") == whole_s
        return (own if meant else station), ()
    return station, (
        f"The first line of the weather file has a value too many, '{zone},{rest},{altitude}': is "
        f"its zone {zone}.{rest} h with a decimal comma? It was read as "
        f"{zone_name(station.utc_offset_s)}; if so, write into the weather block zone: "
        f"{zone_name(whole_s)}.",
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
    frame, remarks = _given(raw[[name for name in names if name in raw]].rename(columns=names))
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
        remarks,
    )
