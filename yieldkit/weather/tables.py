"""Weather tables: our own plain form, and anybody's columns in CSV or Parquet."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd

from yieldkit.weather.canonical import Sampling, Station
from yieldkit.weather.source import STATION_WIND_M, Read, Source, own_names, rezoned
from yieldkit.words.errors import nearest, refuse
from yieldkit.words.zones import utc_offset

_MAGIC = "# canonical weather: "


def read_canonical(path: Path, said: Source) -> Read:
    """Read our own plain form: a line of facts, then a table."""
    with path.open(encoding="utf-8") as stream:
        first = stream.readline()
    if not first.startswith(_MAGIC):
        refuse(path.name, "another first line", f"a first line that begins with '{_MAGIC.strip()}'")
    meta = json.loads(first[len(_MAGIC) :])
    frame = pd.read_csv(path, comment="#", index_col="time", parse_dates=["time"])
    offset_s = utc_offset(meta["time_zone"])
    frame.index = (frame.index - pd.Timedelta(seconds=offset_s)).tz_localize("UTC")
    return Read(
        rezoned(own_names(frame), offset_s, said),
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


def read_table(path: Path, said: Source) -> Read:
    """Read anybody's table, by the columns the user named."""
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
    return Read(
        frame.set_axis(index, axis="index"),
        Station(*place, offset_s, said.wind_height_m or STATION_WIND_M),
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
