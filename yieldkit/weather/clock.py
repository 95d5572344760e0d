"""Does the file's clock agree with the sun? An error turns east against west into a lie.

Global = diffuse + direct times the cosine of the zenith holds at one instant only. The shift of
time at which it closes best is compared with what the file declares.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr
from pvlib import solarposition

_SHIFTS_MIN = np.arange(-840, 841)
_AGREES_MIN = 6.0
_CLOSES_W_M2 = 25.0
_BRIGHT_DNI = 150.0


def check_clock(dataset: xr.Dataset, decomposed: str) -> dict[str, object]:
    """Compare the declared zone and label with the shift at which the irradiances close.

    Parameters
    ----------
    dataset : Dataset
        Canonical weather with global, direct and diffuse.
    decomposed : str
        Model by which direct and diffuse were made, empty where they were measured.

    Returns
    -------
    dict
        `clock` ("agrees", "zone", "offset" or "cannot tell"), `clock_text` for a person,
        `clock_shift_min` to be added to the declared instants, `closure_rms` as declared and
        at best [W/m2].
    """
    if decomposed:
        return _by_symmetry(dataset)
    dni = dataset["dni"].to_numpy()
    bright = np.flatnonzero(dni > _BRIGHT_DNI)
    if bright.size < 50:
        return _verdict("cannot tell", "too few bright steps to check the clock", 0.0)
    months = pd.DatetimeIndex(dataset.indexes["time"]).month.to_numpy()[bright]
    angle, declination = _hour_angle(dataset, bright)
    missing = (dataset["ghi"] - dataset["dhi"]).to_numpy()[bright]
    squares = _closure(dataset.attrs["latitude"], angle, declination, missing, dni[bright])
    monthly = [
        float(_SHIFTS_MIN[np.argmin(squares[:, months == month].mean(axis=1))])
        for month in np.unique(months)
        if np.sum(months == month) >= 20
    ]
    overall = np.sqrt(squares.mean(axis=1))
    declared = float(overall[_SHIFTS_MIN == 0][0])
    shift = float(np.median(monthly)) if monthly else float(_SHIFTS_MIN[np.argmin(overall)])
    best = float(overall[np.argmin(np.abs(_SHIFTS_MIN - shift))])
    return _judge(dataset, shift, declared, best)


def _hour_angle(dataset: xr.Dataset, steps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return hour angle and declination [rad] at the declared instants."""
    attrs = dataset.attrs
    after = attrs["sun_offset_s"] if attrs["sampling"] == "snapshot" else attrs["interval_s"] / 2
    times = pd.DatetimeIndex(dataset.indexes["time"])[steps] + pd.Timedelta(seconds=after)
    day = times.day_of_year.to_numpy()
    equation = solarposition.equation_of_time_spencer71(day)
    declination = solarposition.declination_spencer71(day)
    hours = (times.hour + times.minute / 60.0 + times.second / 3600.0).to_numpy()
    angle = 15.0 * (hours - 12.0) + attrs["longitude"] + equation / 4.0
    return np.radians(angle), np.asarray(declination)


def _closure(
    latitude: float,
    angle: np.ndarray,
    declination: np.ndarray,
    missing: np.ndarray,
    dni: np.ndarray,
) -> np.ndarray:
    """Return the squared closure error for every shift (shift, step)."""
    phi = np.radians(latitude)
    turn = np.radians(_SHIFTS_MIN / 4.0)[:, None]
    cosine = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * (
        np.cos(angle) * np.cos(turn) - np.sin(angle) * np.sin(turn)
    )
    return (dni * np.maximum(cosine, 0.0) - missing) ** 2


def _judge(dataset: xr.Dataset, shift: float, declared: float, best: float) -> dict[str, object]:
    attrs = dataset.attrs
    figures = {"closure_rms": round(declared, 2), "closure_rms_best": round(best, 2)}
    if best > _CLOSES_W_M2 or best > 0.8 * declared:
        if declared <= _CLOSES_W_M2:
            return _verdict("agrees", "clock and label agree with the sun", 0.0) | figures
        text = "global, direct and diffuse close at no shift: the clock can't be checked"
        return _verdict("cannot tell", text, 0.0) | figures
    if abs(shift) <= _AGREES_MIN:
        return _verdict("agrees", "clock and label agree with the sun", shift) | figures
    step_min = attrs["interval_s"] / 60.0
    declared_min = attrs["sun_offset_s"] / 60.0 if attrs["sampling"] == "snapshot" else step_min / 2
    after = declared_min + shift
    if -_AGREES_MIN <= after <= step_min + _AGREES_MIN:
        text = (
            f"values hold {after:+.0f} minutes after the start label: read them with sampling: "
            f"snapshot, sun_offset_min: {after:.0f}"
        )
        return _verdict("offset", text, shift) | figures
    hours = np.floor((after + _AGREES_MIN) / 60.0)
    if hours == attrs["utc_offset_s"] / 3600.0:
        text = (
            f"this file probably stores UTC under a header of {attrs['time_zone']}; read it with "
            "zone: UTC"
        )
    else:
        text = f"the clock is {hours:+.0f} h off the sun: wrong zone in the header?"
    return _verdict("zone", text, shift) | figures


def _by_symmetry(dataset: xr.Dataset) -> dict[str, object]:
    """Judge by the centre of gravity of bright days, where only global was measured."""
    attrs = dataset.attrs
    times = pd.DatetimeIndex(dataset.indexes["time"])
    angle, _declination = _hour_angle(dataset, np.arange(times.size))
    ghi = dataset["ghi"].to_numpy()
    minutes = np.degrees((angle + np.pi) % (2.0 * np.pi) - np.pi) * 4.0
    days = (times + pd.Timedelta(seconds=attrs["longitude"] * 240.0)).normalize()
    table = pd.DataFrame({"day": days, "sum": ghi, "moment": ghi * minutes}).groupby("day").sum()
    month = table.index.month
    bright = table["sum"] >= 0.9 * table["sum"].groupby(month).transform("max")
    if bright.sum() < 12:
        return _verdict("cannot tell", "too few bright days to check the clock", 0.0)
    centre = float((table["moment"] / table["sum"])[bright].median())
    if abs(centre) <= 20.0:
        text = "bright days are symmetric about solar noon (only global is given)"
        return _verdict("agrees", text, 0.0)
    text = (
        f"bright days peak {centre:+.0f} minutes from solar noon at longitude "
        f"{attrs['longitude']:g}: the file is probably in another zone or labelled otherwise"
    )
    return _verdict("zone" if abs(centre) > 35.0 else "offset", text, -centre)


def _verdict(word: str, text: str, shift: float) -> dict[str, object]:
    return {"clock": word, "clock_text": text, "clock_shift_min": round(shift, 1)}
