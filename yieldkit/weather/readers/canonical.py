"""Frames with a zone-aware index turned into the one canonical weather Dataset."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.base.errors import refuse
from yieldkit.base.time_zones import zone_name
from yieldkit.physics.irradiance import sky
from yieldkit.physics.irradiance.sun import Sun, sun_instants, sun_position
from yieldkit.weather.quality.agreement import agreement_cautions, refuse_contradictory_irradiance
from yieldkit.weather.quality.beyond_the_sun import refuse_light_beyond_the_sun
from yieldkit.weather.quality.clock import FROM_PLANES, check_clock
from yieldkit.weather.quality.gaps import fill_gaps, refuse_far_times, refuse_wide_filling
from yieldkit.weather.quality.values import account, clean
from yieldkit.weather.readers.on_planes import (
    PlaneSensor,
    gains_taken_out,
    plane_variables,
    sky_behind,
    unseen_sun,
)
from yieldkit.weather.readers.variables import VARIABLES

_TYPICAL_YEAR = 2018
_YEARS = (1900, 2200)
_WIND_ASSUMED_M_S = 1.0


class Sampling(NamedTuple):
    """How a series was sampled.

    Parameters
    ----------
    kind : str
        "mean" or "snapshot".
    label : str
        For means: "start", "middle" or "end" of the interval.
    sun_offset_s : float
        For snapshots: seconds from the label to the instant.
    """

    kind: str
    label: str = "start"
    sun_offset_s: float = 0.0


class Station(NamedTuple):
    """Where and how the weather was taken.

    Parameters
    ----------
    latitude, longitude : float
        [deg].
    altitude_m : float
        [m].
    utc_offset_s : int
        Standard time ahead of UTC [s].
    wind_height_m : float
        [m].
    named : bool
        False where the file names no place, so that the site's own is taken.
    """

    latitude: float
    longitude: float
    altitude_m: float
    utc_offset_s: int
    wind_height_m: float
    named: bool = True


def from_frame(
    frame: pd.DataFrame,
    station: Station,
    sampling: Sampling,
    *,
    typical: bool = False,
    decomposition: str = "erbs-driesse",
    fill_gaps_up_to_h: float = 0.0,
    provenance: dict[str, str] | None = None,
    where: str = "weather",
    remarks: tuple[str, ...] = (),
    sensors: Sequence[PlaneSensor] = (),
    albedo: float = 0.2,
) -> xr.Dataset:
    """Turn a frame into the canonical Dataset.

    Parameters
    ----------
    frame : DataFrame
        Columns by pvlib's names, `ghi` at least, or light measured on planes as `measured_name`
        has it; index of labels with a time zone.
    station : Station
        Place, zone and wind height.
    sampling : Sampling
        How the values were sampled.
    typical : bool
        True when months come from different years: all are put into one common year, so that
        local January is whole.
    decomposition : str
        Model for direct and diffuse where only global is given.
    fill_gaps_up_to_h : float
        Gaps up to this length are filled and counted [h], as `fill_gaps` does; steps of longer
        ones stay missing.
    provenance : dict of str to str
        Title, source, attribution, hash.
    where : str
        File name, for errors.
    remarks : tuple of str
        Sentences on what a reader made of the file, told with the cautions.
    sensors : sequence of PlaneSensor
        Sensors of the light measured on planes.
    albedo : float
        Share of light that the ground reflects, where the sky is reckoned back from planes [1].

    Returns
    -------
    Dataset
        Naive UTC `time` (start of the interval, or label of the snapshot), units, and in its
        attributes zone, sampling, provenance and the quality account; missing steps are nan, and
        `filled` (time) is 1 where gaps were filled, if any were.

    Raises
    ------
    InputError
        For a naive index, steps that are not uniform, a rule that would fill long gaps, or values
        out of physical limits.
    """
    refuse_wide_filling(fill_gaps_up_to_h)
    if not isinstance(frame.index, pd.DatetimeIndex) or frame.index.tz is None:
        refuse(
            where,
            "times without a time zone",
            "an index with a time zone",
            remedy="State the zone of the file's clock, such as 'UTC+01:00'.",
        )
    if frame.index.isna().any():
        number = int(np.count_nonzero(frame.index.isna()))
        refuse(where, f"{number} rows without a time", "a time in every row")
    first, last = frame.index.min(), frame.index.max()
    if len(frame) and not _YEARS[0] <= first.year <= last.year <= _YEARS[1]:
        refuse(
            where,
            f"times from the year {first.year} to {last.year}",
            f"times of the years {_YEARS[0]} to {_YEARS[1]}",
        )
    values, counts = clean(frame, where)
    values = gains_taken_out(values, sensors, where)
    index = pd.DatetimeIndex(values.index)
    interval_s = _interval(index, where)
    starts = _starts(index, sampling, interval_s)
    values = values.set_axis(starts, axis="index")
    if typical or _is_patchwork(starts):
        values = _into_one_year(values, station.utc_offset_s)
    values = _regular(values, interval_s, where)
    _ground_rules(values, counts)

    def daylit(steps: pd.DatetimeIndex) -> BoolArray:
        return _sun_at(steps, interval_s, sampling, station).zenith < 90.0

    values, filled, gaps = fill_gaps(values, interval_s, fill_gaps_up_to_h, daylit, where)
    dataset = _dataset(values, station, sampling, interval_s, provenance or {})
    dataset = dataset.assign(plane_variables(values, sensors))
    if filled.any():
        meaning = {"units": "1", "long_name": "1 where a gap was filled"}
        dataset = dataset.assign(filled=("time", filled.astype(np.int8), meaning))
    refuse_light_beyond_the_sun(dataset, where)
    closed, decomposed, unseen = _with_components(dataset, decomposition, albedo)
    clock = check_clock(closed, decomposed)
    report = account(closed) | counts | gaps | clock | {"decomposition": decomposed}
    refuse_contradictory_irradiance(closed, report, where)
    report["cautions"] = [*agreement_cautions(report), *unseen, *remarks]
    closed.attrs["typical"] = int(typical or _is_patchwork(frame.index))
    closed.attrs["quality"] = json.dumps(report, sort_keys=True)
    return closed


def _ground_rules(values: pd.DataFrame, counts: dict[str, object]) -> None:
    """Fill what may be assumed, in place of a private copy, and say so."""
    if "wind_speed" not in values:
        values["wind_speed"] = _WIND_ASSUMED_M_S
        counts["assumed"] = "no wind in the file: 1 m/s assumed"
    if "temp_air" not in values:
        refuse("weather", "no air temperature", "a column of air temperature in degC")


def _interval(index: pd.DatetimeIndex, where: str) -> float:
    if len(index) < 2:
        refuse(where, f"{len(index)} rows", "at least two steps of weather")
    steps = pd.Series(np.diff(index.as_unit("ns").asi8) / 1e9)
    step = float(steps[steps > 0.0].mode().iloc[0]) if (steps > 0.0).any() else 0.0
    if not 1.0 <= step <= 3600.0:
        refuse(where, f"steps of {step:g} s", "a uniform step between one second and one hour")
    return step


def _starts(index: pd.DatetimeIndex, sampling: Sampling, interval_s: float) -> pd.DatetimeIndex:
    back = {"start": 0.0, "middle": 0.5, "end": 1.0}
    share = 0.0 if sampling.kind == "snapshot" else back[sampling.label]
    return index.tz_convert("UTC") - pd.Timedelta(seconds=share * interval_s)


def _is_patchwork(index: pd.DatetimeIndex) -> bool:
    return not index.is_monotonic_increasing and index.year.nunique() > 1


def _into_one_year(values: pd.DataFrame, utc_offset_s: int) -> pd.DataFrame:
    """Put all months into one common year of local standard time; leap days go."""
    offset = pd.Timedelta(seconds=utc_offset_s)
    local = pd.DatetimeIndex(values.index).tz_convert(None) + offset
    leap_day = (local.month == 2) & (local.day == 29)
    months = np.datetime64(f"{_TYPICAL_YEAR}-01", "M") + (np.asarray(local.month) - 1)
    days = months.astype("datetime64[D]") + (np.where(leap_day, 28, local.day) - 1)
    seconds = np.asarray(local.hour * 3600 + local.minute * 60 + local.second, dtype=np.int64)
    # Some readers put the last hour of 28 February of a leap year on the 29th.
    shifted = pd.Series(
        days.astype("datetime64[ns]") + seconds * np.timedelta64(1_000_000_000, "ns")
    )
    doubled = shifted.isin(shifted[~leap_day]).to_numpy()
    keep = ~leap_day | ~doubled
    index = pd.DatetimeIndex(shifted)[keep] - offset
    return values[keep].set_axis(index.tz_localize("UTC"), axis="index").sort_index()


def _regular(values: pd.DataFrame, interval_s: float, where: str) -> pd.DataFrame:
    """Bring values to every step of their raster; what is not there is missing."""
    doubled = values.index[values.index.duplicated()]
    if len(doubled) > 0:
        saving = (
            pd.DatetimeIndex(doubled).month.isin((3, 4, 9, 10, 11)).all()
        )  # months in which clocks go back
        refuse(
            where,
            f"{len(doubled)} times twice, the first {doubled[0]:%Y-%m-%d %H:%M} UTC",
            "each time once",
            cause="A file kept by a clock with daylight saving?" if saving else "Rows twice?",
            remedy="Export it in standard time." if saving else "Take out one of each.",
        )
    values = values.sort_index()
    refuse_far_times(pd.DatetimeIndex(values.index), where)
    step = pd.Timedelta(seconds=interval_s)
    full = pd.date_range(values.index[0], values.index[-1], freq=step)
    off_raster = values.index.difference(full)
    if len(off_raster) > 0:
        refuse(
            where,
            f"{len(off_raster)} times off the raster, the first {off_raster[0]} UTC",
            f"a uniform step of {interval_s:g} s",
            cause="Rows out of order, or a change of step inside the file?",
        )
    return values.reindex(full)


def _dataset(
    values: pd.DataFrame,
    station: Station,
    sampling: Sampling,
    interval_s: float,
    provenance: dict[str, str],
) -> xr.Dataset:
    index = pd.DatetimeIndex(values.index)
    time = index.tz_convert(None).to_numpy().astype("datetime64[ns]")
    variables = {
        name: ("time", values[name].to_numpy(dtype=float), {"units": unit, "long_name": meaning})
        for name, (unit, meaning) in VARIABLES.items()
        if name in values
    }
    dataset = xr.Dataset(variables, coords={"time": time})
    snapshot = sampling.kind == "snapshot"
    dataset.attrs = {
        "time_zone": zone_name(station.utc_offset_s),
        "utc_offset_s": station.utc_offset_s,
        "interval_s": int(interval_s),
        "sampling": sampling.kind,
        "label": "snapshot" if snapshot else sampling.label,
        "sun_offset_s": float(sampling.sun_offset_s) if snapshot else 0.0,
        "wind_height_m": float(station.wind_height_m),
        "latitude": float(station.latitude),
        "longitude": float(station.longitude),
        "altitude_m": float(station.altitude_m),
        "station_named": int(station.named),
        **{key: provenance.get(key, "") for key in ("title", "source", "attribution", "sha256")},
    }
    return dataset


def _sun_at(
    starts: pd.DatetimeIndex, interval_s: float, sampling: Sampling, station: Station
) -> Sun:
    place = (station.latitude, station.longitude, station.altitude_m)
    instants = sun_instants(starts, interval_s, sampling.kind, sampling.sun_offset_s, *place)
    return sun_position(instants, *place)


def sun_of(dataset: xr.Dataset) -> Sun:
    """Return the sun at the instants of a weather Dataset, at its own station."""
    attrs = dataset.attrs
    place = (attrs["latitude"], attrs["longitude"], attrs["altitude_m"])
    starts = pd.DatetimeIndex(dataset.indexes["time"]).tz_localize("UTC")
    instants = sun_instants(
        starts, attrs["interval_s"], attrs["sampling"], attrs["sun_offset_s"], *place
    )
    return sun_position(instants, *place)


def _with_components(
    dataset: xr.Dataset, model: str, albedo: float
) -> tuple[xr.Dataset, str, list[str]]:
    """Add light that the file doesn't have; return by which model, and what to say of it."""
    if "dni" in dataset and "dhi" in dataset:
        return dataset, "", []
    sun = sun_of(dataset)
    if "ghi" not in dataset:
        behind = sky_behind(dataset, sun, albedo, model)
        whole = _with_light(dataset, behind.light._asdict())
        return whole, f"{model}, {FROM_PLANES}", unseen_sun(behind, sun)
    ghi = dataset["ghi"].to_numpy()
    cosine = np.cos(np.radians(sun.zenith))
    if "dhi" in dataset:
        # Direct by closure blows up near the horizon; it is kept below the sun's own.
        high = cosine > np.cos(np.radians(87.0))
        direct = np.where(high, (ghi - dataset["dhi"].to_numpy()) / np.where(high, cosine, 1), 0.0)
        parts = {"dni": np.clip(direct, 0.0, sun.dni_extra)}
        note = "direct from global and diffuse"
    elif "dni" in dataset:
        diffuse = ghi - dataset["dni"].to_numpy() * np.maximum(cosine, 0.0)
        parts = {"dhi": np.clip(diffuse, 0.0, None)}
        note = "diffuse from global and direct"
    else:
        dni, dhi = sky.decompose(ghi, sun, model)
        parts = {"dni": dni, "dhi": dhi}
        note = model
    return _with_light(dataset, parts), note, []


def _with_light(dataset: xr.Dataset, parts: Mapping[str, FloatArray]) -> xr.Dataset:
    return dataset.assign(
        {
            name: ("time", part, {"units": "W/m2", "long_name": VARIABLES[name][1]})
            for name, part in parts.items()
        }
    )
