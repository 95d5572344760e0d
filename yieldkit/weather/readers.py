"""Weather files in their formats, read through pvlib and pandas into the canonical Dataset."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NamedTuple

import pandas as pd
import pvlib
import xarray as xr

from yieldkit.weather.canonical import VARIABLES, Sampling, Station, from_frame
from yieldkit.words.errors import YieldkitError, nearest, refuse
from yieldkit.words.shipped import BUNDLED_WEATHER, data_set_names, shipped_folders
from yieldkit.words.zones import utc_offset, zone_name

_MAGIC = "# canonical weather: "
_STATION_WIND_M = 10.0


class Source(NamedTuple):
    """What a user says of a weather file; None means: as the format has it.

    Parameters
    ----------
    columns : mapping of str to str
        Our name to the file's column, for plain tables (`time` among them).
    zone : str or None
        Zone of the file's clock.
    sampling : str or None
        "mean" or "snapshot".
    label : str or None
        "start", "middle" or "end", for means.
    sun_offset_min : float or None
        Minutes from label to instant, for snapshots.
    wind_height_m : float or None
        [m].
    fill_gaps_up_to_h : float
        Longest gap that is interpolated [h].
    latitude, longitude, altitude_m : float or None
        Of the site, for files that don't carry a place.
    """

    columns: Mapping[str, str] | None = None
    zone: str | None = None
    sampling: str | None = None
    label: str | None = None
    sun_offset_min: float | None = None
    wind_height_m: float | None = None
    fill_gaps_up_to_h: float = 0.0
    latitude: float | None = None
    longitude: float | None = None
    altitude_m: float | None = None


class _Read(NamedTuple):
    frame: pd.DataFrame
    station: Station
    sampling: Sampling
    typical: bool
    title: str
    attribution: str = ""


def read_weather(
    file: str | Path, format: str, source: Source | None = None, decomposition: str = "erbs-driesse"
) -> xr.Dataset:
    """Read a weather file into the canonical Dataset.

    Parameters
    ----------
    file : str or Path
        A path, or the name of a shipped or bundled data set.
    format : str
        "canonical", "tmy3", "tmy2", "epw", "nsrdb", "csv" or "parquet".
    source : Source, optional
        What the file doesn't say, or says wrongly.
    decomposition : str
        Model for direct and diffuse where only global is given.

    Returns
    -------
    Dataset
        Weather over naive UTC time, with sampling, provenance and the quality account in its
        attributes.

    Raises
    ------
    InputError
        If the file can't be found or read, or its values or clock can't be trusted.
    """
    said = source or Source()
    path = find_file(file, format)
    reader = READERS.get(format)
    if reader is None:
        close = nearest(format, READERS)
        refuse(
            "weather.format",
            f"'{format}'",
            "one of " + ", ".join(READERS),
            remedy=f"Did you mean '{close}'?" if close else "",
        )
    try:
        read = reader(path, said)
    except YieldkitError:
        raise
    except Exception as error:  # any parser's complaint becomes one sentence
        refuse(
            str(path.name),
            f"a file that can't be read as {format} ({type(error).__name__}: {_first(error)})",
            f"a {format} weather file",
            remedy="Check weather.format and open the file in a text editor.",
        )
    provenance = {
        "title": read.title,
        "attribution": read.attribution,
        "source": path.name,
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
    }
    dataset = from_frame(
        read.frame,
        _station(read.station, said),
        _sampling(read.sampling, said),
        typical=read.typical,
        decomposition=decomposition,
        fill_gaps_up_to_h=said.fill_gaps_up_to_h,
        provenance=provenance,
        where=path.name,
    )
    _refuse_wrong_zone(dataset, path.name, said)
    return dataset


def _first(error: Exception) -> str:
    lines = str(error).splitlines()
    return lines[0][:200] if lines else "no details"


def find_file(file: str | Path, format: str) -> Path:
    """Return the path of a weather file given by path or by a data set's name.

    Raises
    ------
    InputError
        If there is none; the nearest data set is suggested.
    """
    path = Path(file)
    if path.is_file():
        return path
    name = str(file)
    if name in BUNDLED_WEATHER:
        return Path(pvlib.__file__).parent / "data" / BUNDLED_WEATHER[name]
    for folder in shipped_folders("weather"):
        candidate = folder / f"{name}.csv"
        if candidate.is_file() and Path(name).name == name:
            return candidate
    names = data_set_names("weather")
    close = nearest(name, names)
    refuse(
        "weather.file",
        f"'{name}', which is not there",
        "a file, or one of the data sets " + ", ".join(names),
        remedy=f"Did you mean '{close}'?" if close else "Paths count from the site file's folder.",
    )


def _station(station: Station, said: Source) -> Station:
    changes: dict[str, float | int] = {}
    if said.zone is not None:
        changes["utc_offset_s"] = utc_offset(said.zone, "weather.zone")
    if said.wind_height_m is not None:
        changes["wind_height_m"] = said.wind_height_m
    return station._replace(**changes)


def _sampling(sampling: Sampling, said: Source) -> Sampling:
    kind = said.sampling or sampling.kind
    label = said.label or sampling.label
    offset = sampling.sun_offset_s
    if said.sun_offset_min is not None:
        offset = 60.0 * said.sun_offset_min
    return Sampling(kind, label, offset)


def _refuse_wrong_zone(dataset: xr.Dataset, where: str, said: Source) -> None:
    quality = json.loads(dataset.attrs["quality"])
    if quality["clock"] != "zone":
        return
    refuse(
        f"{where}, clock",
        f"irradiances that close {quality['clock_shift_min']:+.0f} minutes from the declared times",
        "a clock that agrees with the sun",
        cause=quality["clock_text"][0].upper() + quality["clock_text"][1:],
        remedy=f"The zone read was {said.zone or dataset.attrs['time_zone']}; set weather.zone",
    )


def _rezoned(frame: pd.DataFrame, offset_s: int, said: Source) -> pd.DataFrame:
    """Take the file's clock as another zone's when the user says so."""
    naive = frame.index.tz_convert(None) + pd.Timedelta(seconds=offset_s)
    offset = offset_s if said.zone is None else utc_offset(said.zone, "weather.zone")
    index = (naive - pd.Timedelta(seconds=offset)).tz_localize("UTC")
    return frame.set_axis(index, axis="index")


def _own_names(frame: pd.DataFrame) -> pd.DataFrame:
    return frame[[name for name in VARIABLES if name in frame]]


def _read_tmy3(path: Path, said: Source) -> _Read:
    frame, meta = pvlib.iotools.read_tmy3(path, map_variables=True)
    offset_s = int(float(meta["TZ"]) * 3600)
    frame = _own_names(frame)
    if "pressure" in frame:
        frame = frame.assign(pressure=frame["pressure"] * 100.0)
    place = (float(meta["latitude"]), float(meta["longitude"]), float(meta["altitude"]))
    return _Read(
        _rezoned(frame, offset_s, said),
        Station(*place, offset_s, _STATION_WIND_M),
        Sampling("mean", "end"),
        True,
        f"TMY3 {meta['Name']}",
        "US National Renewable Energy Laboratory, public data",
    )


def _read_tmy2(path: Path, said: Source) -> _Read:
    frame, meta = pvlib.iotools.read_tmy2(path)
    offset_s = int(float(meta["TZ"]) * 3600)
    names = {"GHI": "ghi", "DNI": "dni", "DHI": "dhi", "DryBulb": "temp_air", "Wspd": "wind_speed"}
    frame = frame[list(names)].rename(columns=names)
    frame = frame.assign(temp_air=frame["temp_air"] / 10.0, wind_speed=frame["wind_speed"] / 10.0)
    place = (float(meta["latitude"]), float(meta["longitude"]), float(meta["altitude"]))
    return _Read(
        _rezoned(frame, offset_s, said),
        Station(*place, offset_s, _STATION_WIND_M),
        Sampling("mean", "start"),
        True,
        f"TMY2 {meta['City'].strip()}",
        "US National Renewable Energy Laboratory, public data",
    )


def _read_epw(path: Path, said: Source) -> _Read:
    frame, meta = pvlib.iotools.read_epw(path)
    offset_s = int(float(meta["TZ"]) * 3600)
    frame = _own_names(frame.rename(columns={"atmospheric_pressure": "pressure"}))
    place = (float(meta["latitude"]), float(meta["longitude"]), float(meta["altitude"]))
    return _Read(
        _rezoned(frame, offset_s, said),
        Station(*place, offset_s, _STATION_WIND_M),
        Sampling("mean", "start"),
        True,
        f"EPW {meta['city']}",
    )


def _read_nsrdb(path: Path, said: Source) -> _Read:
    names = {
        "GHI": "ghi",
        "DNI": "dni",
        "DHI": "dhi",
        "Temperature": "temp_air",
        "Wind Speed": "wind_speed",
        "Pressure": "pressure",
        "Relative Humidity": "relative_humidity",
    }
    meta = pd.read_csv(path, nrows=1).iloc[0]
    raw = pd.read_csv(path, skiprows=2).dropna(axis="columns", how="all")
    offset_s = int(float(meta["Time Zone"]) * 3600)
    local = pd.to_datetime(raw[["Year", "Month", "Day", "Hour", "Minute"]])
    index = (pd.DatetimeIndex(local) - pd.Timedelta(seconds=offset_s)).tz_localize("UTC")
    frame = raw[[name for name in names if name in raw]].rename(columns=names)
    if "pressure" in frame:
        frame = frame.assign(pressure=frame["pressure"] * 100.0)
    place = (float(meta["Latitude"]), float(meta["Longitude"]), float(meta["Elevation"]))
    return _Read(
        _rezoned(frame.set_axis(index, axis="index"), offset_s, said),
        Station(*place, offset_s, 2.0),
        Sampling("snapshot", "start", 0.0),
        raw["Year"].nunique() > 1,
        "NSRDB (physical solar model)",
        "US National Solar Radiation Database",
    )


def _read_canonical(path: Path, said: Source) -> _Read:
    with path.open(encoding="utf-8") as stream:
        first = stream.readline()
    if not first.startswith(_MAGIC):
        refuse(path.name, "another first line", f"a first line that begins with '{_MAGIC.strip()}'")
    meta = json.loads(first[len(_MAGIC) :])
    frame = pd.read_csv(path, comment="#", index_col="time", parse_dates=["time"])
    offset_s = utc_offset(meta["time_zone"])
    frame.index = (frame.index - pd.Timedelta(seconds=offset_s)).tz_localize("UTC")
    return _Read(
        _rezoned(_own_names(frame), offset_s, said),
        Station(
            meta["latitude"],
            meta["longitude"],
            meta["altitude_m"],
            offset_s,
            meta["wind_height_m"],
        ),
        Sampling(meta["sampling"], meta.get("label", "start"), meta.get("sun_offset_s", 0.0)),
        bool(meta.get("typical", False)),
        meta["title"],
        meta.get("attribution", ""),
    )


def canonical_text(frame: pd.DataFrame, meta: dict[str, object]) -> str:
    """Return a weather table in our own plain form: one line of facts, then a CSV table.

    Parameters
    ----------
    frame : DataFrame
        Columns by pvlib's names, naive local index.
    meta : dict
        Facts: title, attribution, place, zone, sampling, wind height, typical.
    """
    table = frame.to_csv(index_label="time", date_format="%Y-%m-%dT%H:%M", lineterminator="\n")
    return f"{_MAGIC}{json.dumps(meta)}\n{table}"


def _read_table(path: Path, said: Source) -> _Read:
    columns = _known_columns(path, said)
    if path.suffix.lower() in (".parquet", ".pq"):
        raw = pd.read_parquet(path)
        if columns["time"] not in raw and raw.index.name == columns["time"]:
            raw = raw.reset_index()
    else:
        raw = pd.read_csv(path, sep=None, engine="python", encoding="utf-8-sig", comment="#")
    lacking = [column for column in columns.values() if column not in raw]
    if lacking:
        close = nearest(lacking[0], map(str, raw.columns))
        refuse(
            f"{path.name}, columns",
            ", ".join(map(str, raw.columns)),
            ", ".join(f"'{column}'" for column in lacking),
            remedy=f"Did you mean '{close}'?" if close else "Change weather.columns.",
        )
    place = _place(path, said)
    times = pd.DatetimeIndex(pd.to_datetime(raw[columns["time"]], errors="raise"))
    if times.tz is None:
        if said.zone is None:
            refuse(
                path.name,
                "times without a time zone",
                "weather.zone, or times with an offset",
                remedy="Write zone: UTC+01:00 for a clock one hour ahead of UTC.",
            )
        offset_s = utc_offset(said.zone, "weather.zone")
        index = (times - pd.Timedelta(seconds=offset_s)).tz_localize("UTC")
    else:
        index = times.tz_convert("UTC")
        offset_s = utc_offset(said.zone, "weather.zone") if said.zone else 0
    frame = raw[[columns[name] for name in columns if name != "time"]]
    frame = frame.set_axis([name for name in columns if name != "time"], axis="columns")
    return _Read(
        frame.set_axis(index, axis="index"),
        Station(*place, offset_s, said.wind_height_m or _STATION_WIND_M),
        _stated_sampling(path, said),
        False,
        path.name,
    )


def _known_columns(path: Path, said: Source) -> dict[str, str]:
    if said.columns is None:
        refuse(
            path.name,
            "no weather.columns",
            "which column holds what, such as columns: {time: Time, ghi: GHI}",
        )
    return {name: column for name, column in said.columns.items() if column is not None}


def _stated_sampling(path: Path, said: Source) -> Sampling:
    if said.sampling == "mean" and said.label is None:
        refuse(path.name, "means without a label", "weather.label: start, middle or end")
    if said.sampling is None:
        refuse(
            path.name,
            "no weather.sampling",
            "sampling: mean (with label) or snapshot (with sun_offset_min)",
            cause="Half an hour of doubt moves an east plane by 5 % one way, a west the other",
        )
    return Sampling(said.sampling, said.label or "start", 0.0)


def _place(path: Path, said: Source) -> tuple[float, float, float]:
    if said.latitude is None or said.longitude is None:
        refuse(path.name, "no place", "latitude and longitude of the weather")
    return said.latitude, said.longitude, said.altitude_m or 0.0


READERS: dict[str, Callable[[Path, Source], _Read]] = {
    "canonical": _read_canonical,
    "tmy3": _read_tmy3,
    "tmy2": _read_tmy2,
    "epw": _read_epw,
    "nsrdb": _read_nsrdb,
    "csv": _read_table,
    "parquet": _read_table,
}
"""Formats; words of the configuration."""

__all__ = ["READERS", "Source", "canonical_text", "find_file", "read_weather", "zone_name"]
