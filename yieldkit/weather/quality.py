"""What is wrong with weather values: counted where it is harmless, refused where it is not."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.words.errors import InputError, Problem

_SENTINELS = (-9999.0, -999.0, -9900.0, 9999.0, 99999.0)
_NIGHT_OFFSET_W_M2 = -25.0
_TOO_BRIGHT_W_M2 = 1600.0


def shortened(value: object) -> str:
    """Return a value as it is shown to a person, no longer than a line."""
    text = repr(str(value))
    return text if len(text) <= 60 else text[:57] + "..."


def clean(frame: pd.DataFrame, where: str) -> tuple[pd.DataFrame, dict[str, object]]:
    """Return a copy with sentinels missing and small negative irradiance zero, and the counts.

    Parameters
    ----------
    frame : DataFrame
        Columns by pvlib's names.
    where : str
        File name, for errors.

    Raises
    ------
    InputError
        For irradiance far below zero, or without a column of global irradiance.
    """
    if "ghi" not in frame:
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
    sentinels = values.isin(_SENTINELS)
    counts: dict[str, object] = {"sentinels": int(sentinels.to_numpy().sum())}
    values = values.mask(sentinels)
    problems = []
    negatives = 0
    for name in ("ghi", "dni", "dhi"):
        if name not in values:
            continue
        column = values[name]
        deep = column < _NIGHT_OFFSET_W_M2
        if deep.any():
            problems.append(
                Problem(
                    f"{where}, {name}",
                    f"{column.min():g} W/m2 at {column.idxmin()}",
                    f"no less than {_NIGHT_OFFSET_W_M2:g} W/m2 (a sensor's offset at night)",
                    cause="A missing-value mark, or a wrong column?",
                )
            )
        negatives += int((column < 0.0).sum())
        values[name] = column.clip(lower=0.0)
    if problems:
        raise InputError(problems)
    counts["negative_to_zero"] = negatives
    return values, counts


def _numbers(frame: pd.DataFrame, where: str) -> pd.DataFrame:
    """Return a copy in numbers; refuse text among them."""
    values = frame.apply(pd.to_numeric, errors="coerce").astype(float)
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


def refuse_implausible(values: pd.DataFrame, where: str) -> None:
    """Refuse values whose unit can't be what their column says.

    Raises
    ------
    InputError
        With every column at fault.
    """
    problems = []
    top = float(values["ghi"].max())
    if 0.0 < top < 5.0:
        problems.append(
            Problem(
                f"{where}, ghi",
                f"a maximum of {top:g}",
                "W/m2",
                cause="Is the column in kW/m2 or kWh/m2?",
                remedy="Multiply it by 1000.",
            )
        )
    elif top > _TOO_BRIGHT_W_M2:
        problems.append(
            Problem(f"{where}, ghi", f"a maximum of {top:g} W/m2", "no more than 1600 W/m2")
        )
    mean = float(values["temp_air"].mean())
    if mean > 150.0:
        problems.append(
            Problem(
                f"{where}, temp_air",
                f"a mean of {mean:.0f}",
                "degC",
                cause="Is the column in kelvin?",
                remedy="Subtract 273.15.",
            )
        )
    elif float(values["temp_air"].max()) > 60.0:
        problems.append(
            Problem(
                f"{where}, temp_air",
                f"a maximum of {values['temp_air'].max():.0f}",
                "degC, below 60",
                cause="Is the column in degrees Fahrenheit?",
            )
        )
    if float(values["wind_speed"].max()) > 100.0 or float(values["wind_speed"].min()) < 0.0:
        problems.append(
            Problem(
                f"{where}, wind_speed",
                f"values from {values['wind_speed'].min():g} to {values['wind_speed'].max():g}",
                "m/s, from 0 to 100",
            )
        )
    if problems:
        raise InputError(problems)


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
    by_hour = pd.Series(ghi).groupby(np.asarray(local.hour + local.minute / 60.0)).mean()
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
