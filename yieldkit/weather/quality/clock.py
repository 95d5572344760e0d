"""Does the file's clock agree with the sun? An error turns east against west into a lie.

Global = gain x (diffuse + direct times the cosine of the zenith) holds at one instant only. The
shift of time at which it closes best, with the gain that goes with it, is compared with what the
file declares.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from pvlib import solarposition

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.weather.quality.clock_remedy import remedy, solar_noon

FROM_PLANES = "so that they give what the sensors of light on planes read"
"""What is said of light on the horizontal that is reckoned back from planes."""
_SHIFTS_MIN = np.arange(-840, 841)
_AGREES_MIN = 6.0
_CLEARLY_BETTER = 0.8
"""Largest ratio of the closure error at best to that as declared that speaks of another clock."""
_CLOSES_SHARE = 0.06
"""Closure error, as a share of the mean global irradiance of bright steps, that still closes:
where it is this small and no shift is clearly better, the clock agrees."""
_MIRRORED = 0.5
"""Largest ratio of the closure error at the other hemisphere's latitude that speaks for it."""
CANNOT_TELL, HEMISPHERE = "cannot tell", "hemisphere"
_BRIGHT_DNI = 150.0
_FEWEST_BRIGHT = 50
_GAINS = (0.8, 1.25)
"""Gains that are fitted: with any gain, diffuse alone would close at night under clear skies, where
it is a fixed share of global."""
_MOST_BRIGHT = 5000
"""Bright steps that are compared, spread evenly over the calendar months."""
_SHIFTS_AT_ONCE = 60


class Closure(NamedTuple):
    """How well global, diffuse and direct close, by shift of the clock.

    Parameters
    ----------
    shift_min : float
        Shift at which they close best, the median over the months [min].
    declared, best : float
        Root of the mean square closure error as declared and at that shift [W/m2], each with
        the gain that fits it best.
    gain_declared, gain : float
        Global irradiance divided by what diffuse and direct make of it, likewise.
    level : float
        Mean global irradiance of the bright steps [W/m2].
    """

    shift_min: float
    declared: float
    best: float
    gain_declared: float
    gain: float
    level: float


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
        `clock` ("agrees", "zone", "offset", "hemisphere" or "cannot tell"), `clock_text` for a
        person,
        `clock_remedy` (what to write into the weather block, empty where nothing is to be done),
        `clock_shift_min` to be added to the declared instants, `closure_rms` as declared and
        at best [W/m2], `closure_gain`.
    """
    if decomposed.endswith(FROM_PLANES):
        # A plane's light is highest when the sun meets it most squarely, not at noon.
        return _cannot_tell(
            dataset,
            "light measured on planes alone doesn't show whether the clock is right",
            "a sensor that faces east should read most before about {noon} of the file's clock, "
            "one that faces west after it",
        )
    if decomposed:
        return _by_symmetry(dataset)
    bright = _chosen_bright(dataset)
    if bright.size < _FEWEST_BRIGHT:
        return _cannot_tell(dataset, "too few bright steps to check the clock")
    found = closure(dataset, bright)
    judged = _judge(dataset, found)
    if judged["clock"] == CANNOT_TELL and _closes_mirrored(dataset, bright, found):
        latitude = float(dataset.attrs["latitude"])
        text = f"global, direct and diffuse close at latitude {-latitude:g}, not at {latitude:g}"
        advice = "north is positive, south is negative"
        judged = _verdict(HEMISPHERE, text, advice, 0.0)
    gain = found.gain if judged["clock_shift_min"] else found.gain_declared
    figures = {
        "closure_rms": round(found.declared, 2),
        "closure_rms_best": round(found.best, 2),
        "closure_gain": round(gain, 4),
    }
    return judged | figures


def _chosen_bright(dataset: xr.Dataset) -> IntArray:
    """Return at most so many bright steps, evenly out of every month, ordered by month."""
    bright = np.flatnonzero(dataset["dni"].to_numpy() > _BRIGHT_DNI)
    months = pd.DatetimeIndex(dataset.indexes["time"]).month.to_numpy()[bright]
    present = np.unique(months)
    most = _MOST_BRIGHT // max(present.size, 1)
    parts = []
    for month in present:
        steps = bright[months == month]
        if steps.size > most:
            steps = steps[np.linspace(0, steps.size - 1, most).round().astype(int)]
        parts.append(steps)
    return np.concatenate(parts) if parts else bright


def closure(dataset: xr.Dataset, steps: IntArray) -> Closure:
    """Fit a common gain and a shift of the clock to some steps.

    Parameters
    ----------
    dataset : Dataset
        Canonical weather with measured global, direct and diffuse irradiance.
    steps : ndarray
        Bright steps, ordered by calendar month.
    """
    months = pd.DatetimeIndex(dataset.indexes["time"]).month.to_numpy()[steps]
    first = np.flatnonzero(np.r_[True, months[1:] != months[:-1]])
    ghi = dataset["ghi"].to_numpy()[steps]
    made_squared, product = _moments(dataset, steps, first, ghi)
    squared = np.add.reduceat(ghi**2, first)
    count = np.diff(np.r_[first, steps.size])
    # Each month has a gain of its own here: dirt comes and goes.
    monthly = _unexplained(squared[:, None], product, made_squared)
    enough = count >= 20
    total, cross = made_squared.sum(axis=0), product.sum(axis=0)
    error = np.sqrt(_unexplained(squared.sum(), cross, total) / steps.size)
    bests = _SHIFTS_MIN[np.argmin(monthly[enough] if enough.any() else error[None], axis=1)]
    at = int(np.argmin(np.abs(_SHIFTS_MIN - np.median(bests))))
    declared = int(np.argmin(np.abs(_SHIFTS_MIN)))
    gains = cross / np.maximum(total, 1e-9)
    return Closure(
        shift_min=float(_SHIFTS_MIN[at]),
        declared=float(error[declared]),
        best=float(error[at]),
        gain_declared=float(gains[declared]),
        gain=float(gains[at]),
        level=float(ghi.mean()),
    )


def _unexplained(
    squared: FloatArray | float, product: FloatArray, made_squared: FloatArray
) -> FloatArray:
    """Return the sum of squares that the best gain a sensor can have leaves unexplained."""
    gain = np.clip(product / np.maximum(made_squared, 1e-9), *_GAINS)
    return np.maximum(squared - 2.0 * gain * product + gain**2 * made_squared, 0.0)


def _moments(
    dataset: xr.Dataset, steps: IntArray, first: IntArray, ghi: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the sums of made squared and of made times global, each (month, shift)."""
    angle, declination = _hour_angle(dataset, steps)
    dni, dhi = dataset["dni"].to_numpy()[steps], dataset["dhi"].to_numpy()[steps]
    phi = np.radians(dataset.attrs["latitude"])
    flat = dni * np.sin(phi) * np.sin(declination)
    swing = dni * np.cos(phi) * np.cos(declination)
    even, odd = swing * np.cos(angle), swing * np.sin(angle)
    parts = np.stack([flat, even, odd])
    months = [slice(*ends) for ends in pairwise([*first.tolist(), steps.size])]
    squares, products = [], []
    # A few shifts at a time: all of them by all steps at once took gigabytes.
    for begin in range(0, _SHIFTS_MIN.size, _SHIFTS_AT_ONCE):
        turn = np.radians(_SHIFTS_MIN[begin : begin + _SHIFTS_AT_ONCE] / 4.0)
        turned = np.stack([np.ones_like(turn), np.cos(turn), -np.sin(turn)], axis=1)
        made = turned @ parts
        np.maximum(made, 0.0, out=made)
        made += dhi
        squares.append([np.einsum("st,st->s", made[:, own], made[:, own]) for own in months])
        products.append([made[:, own] @ ghi[own] for own in months])
    return np.concatenate(squares, axis=1), np.concatenate(products, axis=1)


def _hour_angle(dataset: xr.Dataset, steps: IntArray) -> tuple[FloatArray, FloatArray]:
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


def _judge(dataset: xr.Dataset, found: Closure) -> dict[str, object]:
    agrees = "clock and label agree with the sun"
    if found.best > _CLEARLY_BETTER * found.declared:
        if found.declared <= _CLOSES_SHARE * found.level:
            return _verdict("agrees", agrees, "", 0.0)
        return _cannot_tell(
            dataset, "global, direct and diffuse close at no shift: the clock can't be checked"
        )
    if abs(found.shift_min) <= _AGREES_MIN:
        return _verdict("agrees", agrees, "", found.shift_min)
    word, text, advice = remedy(dataset.attrs, found.shift_min, _AGREES_MIN)
    return _verdict(word, text, advice, found.shift_min)


def _closes_mirrored(dataset: xr.Dataset, bright: IntArray, found: Closure) -> bool:
    """Whether the irradiances close with the latitude's sign turned, and only so."""
    mirrored = dataset.assign_attrs(latitude=-dataset.attrs["latitude"])
    turned = closure(mirrored, bright)
    closes = turned.declared <= _CLOSES_SHARE * turned.level
    return closes and turned.declared < _MIRRORED * found.declared


def _by_symmetry(dataset: xr.Dataset) -> dict[str, object]:
    """Judge by the centre of gravity of bright days, where only global was measured."""
    attrs = dataset.attrs
    times = pd.DatetimeIndex(dataset.indexes["time"])
    angle, _declination = _hour_angle(dataset, np.arange(times.size))
    ghi = dataset["ghi"].to_numpy()
    minutes = np.degrees((angle + np.pi) % (2.0 * np.pi) - np.pi) * 4.0
    days = (times + pd.Timedelta(seconds=attrs["longitude"] * 240.0)).normalize()
    table = pd.DataFrame({"day": days, "sum": ghi, "moment": ghi * minutes})
    # A day with a gap leans to one side.
    table = table[~table["sum"].isna().groupby(table["day"]).transform("any")]
    table = table.groupby("day").sum()
    month = pd.DatetimeIndex(table.index).month
    bright = table["sum"] >= 0.9 * table["sum"].groupby(month).transform("max")
    if bright.sum() < 12:
        return _cannot_tell(dataset, "too few bright days to check the clock")
    centre = float((table["moment"] / table["sum"])[bright].median())
    if abs(centre) <= 20.0:
        text = "bright days are symmetric about solar noon (only global is given)"
        return _verdict("agrees", text, "", 0.0)
    text = (
        f"bright days peak {centre:+.0f} minutes from solar noon at longitude "
        f"{attrs['longitude']:g}: the file is probably in another zone or labelled otherwise"
    )
    # Half hours are as fine as clouds let it be seen.
    half_hours = -30.0 * round(centre / 30.0)
    _word, _text, advice = remedy(attrs, half_hours, 20.0)
    return _verdict("zone" if abs(centre) > 35.0 else "offset", text, advice, -centre)


def _cannot_tell(
    dataset: xr.Dataset,
    text: str,
    shown: str = "its light should be highest at about {noon} of the file's clock",
) -> dict[str, object]:
    advice = f"look at a clear day: {shown.format(noon=solar_noon(dataset.attrs))}"
    return _verdict(CANNOT_TELL, text, advice, 0.0)


def _verdict(word: str, text: str, advice: str, shift: float) -> dict[str, object]:
    return {
        "clock": word,
        "clock_text": text,
        "clock_remedy": advice,
        "clock_shift_min": round(shift, 1),
    }
