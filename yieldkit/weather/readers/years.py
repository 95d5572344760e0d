"""Weather files of several years of one place, put one after the other into one Dataset."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import refuse
from yieldkit.physics.irradiance.distance import great_circle_km
from yieldkit.weather.quality.gaps import needed_in

ONE_PLACE_KM = 5.0
"""Stations farther apart are two places; common practice, no source."""
ONE_LEVEL_M = 100.0
"""Stations whose heights differ by more are two places; common practice, no source."""


class YearFile(NamedTuple):
    """A weather file and what it is called.

    Parameters
    ----------
    name : str
        What messages call it.
    weather : Dataset
        Its canonical weather (time).
    """

    name: str
    weather: xr.Dataset


def years_together(files: Sequence[YearFile]) -> xr.Dataset:
    """Put the weather of several files of one place into one Dataset, in the order of time.

    Parameters
    ----------
    files : sequence of YearFile
        In any order; at least one.

    Returns
    -------
    Dataset
        Canonical weather like that of one file. Where a file ends and a later one doesn't begin
        at once nothing stands between them, for nobody knows that time; `spans` holds from when
        to when each file goes, `source` and `sha256` name all files.

    Raises
    ------
    InputError
        For typical years, other steps, places, quantities or ways of sampling than the first
        file has, and for files that tell of the same time; both files are named.
    """
    if len(files) == 1:
        return files[0].weather
    ordered = sorted(files, key=lambda each: each.weather["time"].to_numpy()[0])
    first = ordered[0]
    for other in ordered[1:]:
        _refuse_other_kind(first, other)
    for before, after in pairwise(ordered):
        _refuse_overlap(before, after)
    own = [each.weather for each in ordered]
    variables = {
        str(name): ("time", _joined(own, str(name)), own[0][name].attrs)
        for name in own[0].data_vars
        if name != "filled"
    }
    if any("filled" in each for each in own):
        meaning = next(each["filled"].attrs for each in own if "filled" in each)
        variables["filled"] = ("time", _joined(own, "filled"), meaning)
    times = np.concatenate([each["time"].to_numpy() for each in own])
    return xr.Dataset(variables, coords={"time": times}, attrs=_attributes(ordered))


def _joined(own: Sequence[xr.Dataset], name: str) -> FloatArray:
    return np.concatenate(
        [
            each[name].to_numpy() if name in each else np.zeros(each.sizes["time"], dtype=np.int8)
            for each in own
        ]
    )


def _refuse_other_kind(first: YearFile, other: YearFile) -> None:
    """Refuse a file that isn't like the first in what all years must share."""
    for each in (first, other):
        if each.weather.attrs["typical"]:
            refuse(
                "weather.file",
                f"'{each.name}' among several files: a typical year, put together from months of "
                "several",
                "years as they were, each with its own date",
                remedy="Name the typical year alone, or files of single years: csv, parquet, "
                "canonical, nsrdb.",
            )
    _refuse_other(first, other, "steps", _step, "files of one step")
    _refuse_other(first, other, "values", _sampling, "files that were sampled alike")
    _refuse_other_place(first, other)
    _refuse_other(first, other, "columns", _quantities, "the same quantities in every file")
    _refuse_other(first, other, "wind", _wind, "wind of one height")
    interval = np.timedelta64(int(first.weather.attrs["interval_s"]), "s")
    apart = other.weather["time"].to_numpy()[0] - first.weather["time"].to_numpy()[0]
    if apart % interval:
        minutes = (apart % interval) / np.timedelta64(60, "s")
        refuse(
            "weather.file",
            f"steps of '{other.name}' that begin {minutes:g} minutes beside those of "
            f"'{first.name}'",
            "files of one raster",
            cause="Was one labelled otherwise?",
        )


def _refuse_other(
    first: YearFile, other: YearFile, what: str, told: Callable[[xr.Dataset], str], needed: str
) -> None:
    one, two = told(first.weather), told(other.weather)
    if one != two:
        refuse(
            "weather.file",
            f"{what} of '{first.name}' ({one}) and of '{other.name}' ({two})",
            needed,
            cause="Do they belong together?",
            remedy="Leave one out, or bring both into one form.",
        )


def _step(weather: xr.Dataset) -> str:
    return f"every {weather.attrs['interval_s']:g} s"


def _sampling(weather: xr.Dataset) -> str:
    attrs = weather.attrs
    if attrs["sampling"] == "snapshot":
        return f"snapshots {attrs['sun_offset_s'] / 60.0:g} minutes after their label"
    return "means"


def _quantities(weather: xr.Dataset) -> str:
    return ", ".join(sorted(str(name) for name in weather.data_vars if name != "filled"))


def _wind(weather: xr.Dataset) -> str:
    return f"at {weather.attrs['wind_height_m']:g} m"


def _refuse_other_place(first: YearFile, other: YearFile) -> None:
    one, two = first.weather.attrs, other.weather.attrs
    km = great_circle_km(one["latitude"], one["longitude"], two["latitude"], two["longitude"])
    if km <= ONE_PLACE_KM and abs(one["altitude_m"] - two["altitude_m"]) <= ONE_LEVEL_M:
        return
    refuse(
        "weather.file",
        f"'{first.name}' of {_place(one)} and '{other.name}' of {_place(two)}, {km:,.0f} km apart",
        f"years of one place, within {ONE_PLACE_KM:g} km and {ONE_LEVEL_M:g} m of height",
        remedy="Name the files of one place only.",
    )


def _place(attrs: dict[str, Any]) -> str:
    return (
        f"{attrs['latitude']:g} degrees north {attrs['longitude']:g} east, "
        f"{attrs['altitude_m']:.0f} m"
    )


def _refuse_overlap(before: YearFile, after: YearFile) -> None:
    end = pd.Timestamp(before.weather["time"].to_numpy()[-1])
    begin = pd.Timestamp(after.weather["time"].to_numpy()[0])
    if begin > end:
        return
    refuse(
        "weather.file",
        f"'{before.name}' up to {end:%Y-%m-%d %H:%M} UTC and '{after.name}' from "
        f"{begin:%Y-%m-%d %H:%M} UTC on",
        "each time in one file only",
        cause="The same year twice, or two sources of one year?",
        remedy="Leave one of the two out.",
    )


def _attributes(ordered: Sequence[YearFile]) -> dict[str, Any]:
    every = [each.weather.attrs for each in ordered]
    names = [each.name for each in ordered]
    together = dict(every[0])
    for key in ("title", "attribution"):
        together[key] = "; ".join(dict.fromkeys(attrs[key] for attrs in every if attrs[key]))
    together["source"] = ", ".join(names)
    together["sha256"] = ", ".join(attrs["sha256"] for attrs in every)
    together["station_named"] = min(attrs["station_named"] for attrs in every)
    together["spans"] = json.dumps([spanned(each.weather) for each in ordered])
    reports = [json.loads(attrs["quality"]) for attrs in every]
    quality = _quality(names, reports)
    quality["files"] = _told(ordered)
    quality["cautions"] = [*_gaps_told(ordered), *quality["cautions"]]
    together["quality"] = json.dumps(quality, sort_keys=True)
    return together


def spanned(weather: xr.Dataset) -> list[str]:
    """Return the first and last time of weather, as `spans` hold them."""
    times = weather["time"].to_numpy()
    return [str(times[at].astype("datetime64[s]")) for at in (0, -1)]


def _told(ordered: Sequence[YearFile]) -> str:
    """Return which files there are, and from when to when each goes by the local clock."""
    return f"Weather of {len(ordered)} files: " + "; ".join(_one_told(each) for each in ordered)


def _one_told(file: YearFile) -> str:
    weather = file.weather
    offset = pd.Timedelta(seconds=float(weather.attrs["utc_offset_s"]))
    begin, end = (pd.Timestamp(weather["time"].to_numpy()[at]) + offset for at in (0, -1))
    return f"'{file.name}' {begin:%Y-%m-%d} to {end:%Y-%m-%d}"


def _gaps_told(ordered: Sequence[YearFile]) -> list[str]:
    """Return which files lack steps, in a sentence; none where every file is whole."""
    lacking = {each.name: _lacking(each.weather) for each in ordered}
    told = [f"'{name}' {count:,}" for name, count in lacking.items() if count]
    return [f"Steps missing in weather files: {', '.join(told)}."] if told else []


def _lacking(weather: xr.Dataset) -> int:
    missing = np.zeros(weather.sizes["time"], dtype=bool)
    for name in needed_in(weather.data_vars):
        missing |= np.isnan(weather[name].to_numpy())
    return int(missing.sum())


def _quality(names: Sequence[str], reports: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Return one account of all files: counts added, words told once or beside their file."""
    keys = dict.fromkeys(key for report in reports for key in report)
    found: dict[str, Any] = {}
    for key in keys:
        values = [report.get(key) for report in reports]
        stated = [value for value in values if value is not None]
        if key == "cautions":
            found[key] = _cautions(names, values)
        elif all(value == values[0] for value in values) and not _counts(values[0]):
            found[key] = values[0]
        elif all(_counts(value) for value in stated):
            found[key] = sum(stated)
        elif all(isinstance(value, int | float) for value in stated):
            found[key] = float(np.mean(stated))
        else:
            said = zip(names, values, strict=True)
            found[key] = "; ".join(f"{name}: {value}" for name, value in said if value)
    return found


def _counts(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _cautions(names: Sequence[str], values: Sequence[list[str] | None]) -> list[str]:
    of: dict[str, list[str]] = {}
    for name, own in zip(names, values, strict=True):
        for caution in own or ():
            of.setdefault(caution, []).append(name)
    return [
        caution if len(told) == len(names) else f"{', '.join(told)}: {caution}"
        for caution, told in of.items()
    ]
