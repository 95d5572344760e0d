"""What is wrong with weather values: counted where it is harmless, refused where it is not."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.errors import InputError, Problem
from yieldkit.base.measured_planes import POA, plain_quantity
from yieldkit.weather.quality.bounds import bound_problems, marks_of
from yieldkit.weather.quality.gaps import LIGHT

_UNUSED = ("pressure", "relative_humidity")
"""Columns that are kept but that nothing is computed from."""


def shortened(value: object) -> str:
    """Return a value as it is shown to a person, no longer than a line."""
    text = repr(str(value))
    return text if len(text) <= 60 else text[:57] + "..."


def clean(frame: pd.DataFrame, where: str) -> tuple[pd.DataFrame, dict[str, object]]:
    """Return a copy with marks as missing values and a night's offset as zero, and the counts.

    Parameters
    ----------
    frame : DataFrame
        Columns by pvlib's names.
    where : str
        File name, for errors.

    Raises
    ------
    InputError
        With every column at fault: text among numbers, no value at all, or values that no weather
        has; or without a column of global irradiance.
    """
    lit = [name for name in frame if plain_quantity(str(name)) in ("ghi", POA)]
    if not lit:
        raise InputError(
            (
                Problem(
                    where,
                    "columns " + ", ".join(map(str, frame.columns)),
                    "a column of global horizontal irradiance",
                    remedy="Name it in weather.columns.ghi.",
                ),
            )
        )
    values = _numbers(frame, where)
    marks = pd.DataFrame({name: values[name].isin(marks_of(str(name))) for name in values})
    counts: dict[str, object] = {"sentinels": int(marks.to_numpy().sum())}
    if counts["sentinels"]:
        counts["marks"] = _marks_found(values, marks)
    values = _without_empty(values.mask(marks), where)
    problems = bound_problems(values, where)
    if problems:
        raise InputError(problems)
    negatives = 0
    for name in values:
        if plain_quantity(str(name)) in (*LIGHT, POA):
            negatives += int((values[name] < 0.0).sum())
            values[name] = values[name].clip(lower=0.0)
    counts["negative_to_zero"] = negatives
    return values, counts


def _marks_found(values: pd.DataFrame, marks: pd.DataFrame) -> str:
    """Return the marks of missing values that were met, in words."""
    parts: list[str] = []
    for name in values:
        met = values[name][marks[name]]
        parts.extend(
            f"{number} x {mark:g} in {name}" for mark, number in met.value_counts().items()
        )
    return ", ".join(parts)


def _without_empty(values: pd.DataFrame, where: str) -> pd.DataFrame:
    """Refuse columns without any value; those that nothing is computed from are left out."""
    empty = [name for name in values if values[name].isna().all()]
    needed = [name for name in empty if name not in _UNUSED]
    if needed and len(values) > 0:
        raise InputError(
            Problem(
                f"{where}, {name}",
                f"no value in any of {len(values)} rows",
                "a column with values",
                remedy="Take another file"
                if name in ("ghi", "temp_air")
                else f"Leave {name} out of weather.columns, or take another file",
            )
            for name in needed
        )
    return values.drop(columns=empty) if len(values) > 0 else values


def _numbers(frame: pd.DataFrame, where: str) -> pd.DataFrame:
    """Return a copy in numbers; refuse text among them."""
    if all(isinstance(kind, np.dtype) and kind.kind in "fiu" for kind in frame.dtypes):
        return frame.astype(float)
    values: pd.DataFrame = frame.apply(pd.to_numeric, errors="coerce").astype(float)
    text = values.isna() & frame.notna()
    problems = [
        Problem(
            f"{where}, {name}",
            f"{shortened(frame[name][text[name]].iloc[0])} at {text[name].idxmax()}",
            "a number in every row",
        )
        for name in frame.columns[text.any(axis=0)]
    ]
    if problems:
        raise InputError(problems)
    return values


def account(dataset: xr.Dataset) -> dict[str, object]:
    """Return the figures by which a person judges a weather file.

    Parameters
    ----------
    dataset : Dataset
        Canonical weather.

    Returns
    -------
    dict
        Sums, steps with diffuse above global, steps above 1.2 times what comes from space, and
        the local hour of the peak with the longitude's own noon.
    """
    attrs = dataset.attrs
    hours = attrs["interval_s"] / 3600.0
    ghi = dataset["ghi"].to_numpy()
    dhi = dataset["dhi"].to_numpy()
    local = pd.DatetimeIndex(dataset.indexes["time"]) + pd.Timedelta(
        seconds=attrs["utc_offset_s"] + attrs["interval_s"] / 2.0
    )
    by_hour = pd.Series(ghi).groupby(np.asarray(local.hour + local.minute / 60.0)).mean().dropna()
    moment = by_hour.index.to_numpy()
    weight = by_hour.to_numpy()
    centre = float(np.sum(moment * weight) / max(weight.sum(), 1e-9))
    noon = 12.0 - (attrs["longitude"] - attrs["utc_offset_s"] / 240.0) / 15.0
    return {
        "ghi_kwh_m2": float(np.nansum(ghi) * hours / 1000.0),
        "temp_air_mean": float(dataset["temp_air"].mean()),
        "diffuse_above_global": int(np.sum(dhi > ghi + 5.0)),
        "above_extraterrestrial": int(np.sum(ghi > 1.2 * 1361.0)),
        "centre_of_day_h": round(centre, 2),
        "noon_by_longitude_h": round(float(noon), 2),
    }
