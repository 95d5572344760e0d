"""Is it a year? What time a weather series covers, decided here and asked everywhere."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.irradiance.sun import Sun, sun_instants, sun_position
from yieldkit.physics.irradiance.sun_course import nanoseconds
from yieldkit.weather.quality.gaps import needed_in

YEAR_COVERED = 0.95
"""Share of the daylight of every calendar month that a year must cover."""
_AT_MOST = 1.05
_YEAR_DAYS = 365.2425
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


WEATHER_STATE = {"measured": 0, "filled": 1, "missing": 2}
"""Where a step's weather comes from, by code."""


class Period(NamedTuple):
    """The time a weather series covers.

    Parameters
    ----------
    years : int
        Whole years that totals are averaged over; 0 where it is no year.
    days : float
        Days whose daylight is there, filled gaps among them.
    coverage : float
        Share of the daylight steps between its ends that were measured.
    by_month : tuple of float
        Share of each calendar month's daylight that was measured (12,).
    missing_steps, filled_steps : int
        Steps without weather, and with gaps filled.
    missing_daylight_h : float
        Hours of daylight without weather [h].
    """

    years: int
    days: float
    coverage: float
    by_month: tuple[float, ...]
    missing_steps: int = 0
    filled_steps: int = 0
    missing_daylight_h: float = 0.0

    @property
    def is_year(self) -> bool:
        """Whether totals may be called a year's."""
        return self.years > 0

    @property
    def averaged(self) -> int:
        """Number of years that every total is divided by."""
        return max(self.years, 1)

    @property
    def per(self) -> str:
        """What a total is of, to stand behind it: "a year" or "in the 30 days of this file"."""
        if self.years > 1:
            return f"a year (mean of {self.years})"
        return "a year" if self.is_year else f"in the {self.span} of this file"

    @property
    def head(self) -> str:
        """The same for the head of a column or an axis."""
        return "a year" if self.is_year else f"in {self.span}"

    @property
    def span(self) -> str:
        """How many days it is of."""
        number = f"{self.days:,.0f}" if self.days >= 10 else f"{self.days:.2g}"
        return f"{number} {'day' if number == '1' else 'days'}"

    def remarks(self) -> tuple[str, ...]:
        """Return what must be said beside every total, one sentence each; none for a plain year."""
        found = []
        if self.years > 1:
            found.append(
                f"The weather holds {self.years} whole years: energies and hours are their mean, "
                "a year's."
            )
        if not self.is_year:
            found.append(
                f"Not a year: energies, kWh/kWp and hours are of the {self.span} of weather in "
                f"this file, and nothing is scaled up. {self._lacking()}"
            )
        if self.missing_steps or self.filled_steps:
            found.append(
                f"Weather: {self.missing_steps:,} steps missing "
                f"({self.missing_daylight_h:,.0f} h of daylight), {self.filled_steps:,} filled; "
                f"{100.0 * self.coverage:.1f} % of the daylight was measured. Totals are of the "
                "time that is covered."
            )
        return tuple(found)

    def _lacking(self) -> str:
        short = [name for name, share in zip(MONTHS, self.by_month, strict=True) if share < 0.95]
        if not short:
            return "It is no whole number of years."
        every = "every calendar month" if len(short) == 12 else ", ".join(short)
        return f"A year needs 95 % of the daylight of each month; lacking in {every}."

    def coverage_sentence(self) -> str:
        """Return how much of each calendar month's daylight was measured."""
        if min(self.by_month) >= 0.9995:
            return "Weather covers the daylight of every calendar month."
        parts = ", ".join(
            f"{name} {100.0 * share:.0f} %"
            for name, share in zip(MONTHS, self.by_month, strict=True)
        )
        return f"Daylight covered by calendar month: {parts}."

    def attributes(self) -> dict[str, str | int | float]:
        """Return the period as attributes of a result."""
        months = dict(zip(MONTHS, (round(each, 4) for each in self.by_month), strict=True))
        return {
            "period": self.per,
            "period_days": round(self.days, 3),
            "years_averaged": self.averaged,
            "is_year": int(self.is_year),
            "data_coverage": self.coverage,
            "coverage_by_month": json.dumps(months),
            "missing_steps": self.missing_steps,
            "filled_steps": self.filled_steps,
        }


def step_hours(attrs: Mapping[str, Any]) -> float:
    """Return the hours a step of a result counts in totals: its length, shared by all years.

    Parameters
    ----------
    attrs : mapping
        Attributes of a result.
    """
    return float(attrs["interval_s"]) / 3600.0 / int(attrs.get("years_averaged", 1))


def present_steps(weather: xr.Dataset) -> BoolArray:
    """Return which steps of a weather Dataset have all they need (time,)."""
    there = np.ones(weather.sizes["time"], dtype=bool)
    for name in needed_in(weather.data_vars):
        there &= np.isfinite(weather.variables[name].to_numpy())
    return there


def weather_state(weather: xr.Dataset) -> IntArray:
    """Return codes of `WEATHER_STATE` for every step (time,)."""
    filled = weather.variables["filled"].to_numpy() if "filled" in weather else 0
    return np.where(present_steps(weather), filled, WEATHER_STATE["missing"]).astype(np.int8)


def masked(weather: xr.Dataset, present: BoolArray) -> xr.Dataset:
    """Return weather whose steps lack everything where they lack anything.

    Parameters
    ----------
    weather : Dataset
        Canonical weather.
    present : ndarray of bool
        From `present_steps`.
    """
    if present.all():
        return weather
    changes = {
        name: ("time", np.where(present, weather[name].to_numpy(), np.nan), weather[name].attrs)
        for name in needed_in(weather.data_vars)
    }
    return weather.assign(changes)


def covered_period(weather: xr.Dataset, sun: Sun, place: tuple[float, float, float]) -> Period:
    """Decide whether a weather series is a year, several, or just a span.

    Parameters
    ----------
    weather : Dataset
        Canonical weather.
    sun : Sun
        The sun at its steps.
    place : tuple of float
        Latitude, longitude [deg] and altitude [m] of that sun.

    Returns
    -------
    Period
        A year where every calendar month is there for once, measured in at least 95 % of its
        daylight steps; several where each is there as many times and every whole one of them is
        so covered. A month without daylight counts by all its steps. Days put into one common
        year from several are that year.
    """
    steps = _months_of(weather, sun, place)
    present = present_steps(weather)
    filled = weather["filled"].to_numpy() > 0 if "filled" in weather else np.zeros_like(present)
    there, measured = np.zeros((2, steps.lit.size), dtype=bool)
    there[steps.own], measured[steps.own] = present, present & ~filled
    within = _within(weather, steps)
    number = int(steps.month[-1]) + 1

    def counted(chosen: BoolArray) -> FloatArray:
        lit = steps.lit & chosen
        return np.bincount(steps.month, weights=lit, minlength=number).astype(float)

    whole, expected, got = counted(np.ones_like(within)), counted(within), counted(measured)
    hours = float(weather.attrs["interval_s"]) / 3600.0
    days = float(within.sum()) * hours / 24.0
    years = max(round(days / _YEAR_DAYS), 1)
    shares, fits = _by_calendar(steps.calendar, whole, expected, got, years)
    complete = expected == whole
    every = bool((got[complete] >= YEAR_COVERED * whole[complete]).all())
    is_year = fits and bool((shares >= YEAR_COVERED).all()) and (years == 1 or every)
    lit_within = max(float(expected.sum()), 1.0)
    return Period(
        years if is_year else 0,
        days * float(counted(there).sum()) / lit_within,
        float(got.sum()) / lit_within,
        tuple(float(share) for share in shares),
        int((within & ~there).sum()),
        int(filled.sum()),
        float(counted(within & ~there).sum()) * hours,
    )


def _within(weather: xr.Dataset, steps: _Steps) -> BoolArray:
    """Return which steps the files go over, those that they lack among them."""
    within = np.zeros(steps.lit.size, dtype=bool)
    own = steps.own
    told = weather.attrs.get("spans")
    if told is None:
        within[own[0] : own[-1] + 1] = True
        return within
    times = weather.indexes["time"].to_numpy()
    for begin, end in json.loads(told):
        inside = np.flatnonzero((times >= np.datetime64(begin)) & (times <= np.datetime64(end)))
        if inside.size:
            within[own[inside[0]] : own[inside[-1]] + 1] = True
    return within


def _by_calendar(
    of_month: IntArray, whole: FloatArray, expected: FloatArray, got: FloatArray, years: int
) -> tuple[FloatArray, bool]:
    """Return the measured share of every calendar month, and whether each is there just enough."""
    shares, fits = np.zeros(12), True
    for month in range(12):
        own = of_month == month
        if not own.any():
            fits = False
            continue
        one = float(whole[own].mean())
        shares[month] = got[own].sum() / max(years * one, float(expected[own].sum()))
        fits = fits and float(expected[own].sum()) <= _AT_MOST * years * one
    return shares, fits


class _Steps(NamedTuple):
    """The steps of all months that a series touches: the sun, their month, and its own places.

    Parameters
    ----------
    lit : ndarray of bool
        Steps that count: with the sun up; all of a month without sun.
    month : ndarray of int
        Number of each step's month, from 0 on.
    calendar : ndarray of int
        Calendar month of each of those, 0 to 11 (month,).
    own : ndarray of int
        Where the series' own steps lie.
    """

    lit: BoolArray
    month: IntArray
    calendar: IntArray
    own: IntArray


def _months_of(weather: xr.Dataset, sun: Sun, place: tuple[float, float, float]) -> _Steps:
    attrs = weather.attrs
    starts = pd.DatetimeIndex(weather.indexes["time"])
    step = pd.Timedelta(seconds=float(attrs["interval_s"]))
    offset = pd.Timedelta(seconds=float(attrs["utc_offset_s"]))
    first = (starts[0] + offset).normalize().replace(day=1) - offset
    last = (starts[-1] + offset).normalize().replace(day=1) + pd.DateOffset(months=1) - offset
    before = int((starts[0] - first) // step)
    moments = nanoseconds(starts)
    own = before + (moments - moments[0]) // step.value
    size = int(own[-1]) + int(-((starts[-1] - last) // step))
    raster = moments[0] + (np.arange(size) - before) * step.value
    up = sun.zenith < 90.0
    if own[-1] - own[0] + 1 == own.size:
        parts = (raster[:before], raster[own[-1] + 1 :])
        head, tail = (_daylit(part, attrs, place) for part in parts)
        lit = np.concatenate([head, up, tail])
    else:
        lit = _daylit(raster, attrs, place)
    local = (raster + offset.value).view("datetime64[ns]")
    month = local.astype("datetime64[M]").astype(np.int64)  # from January 1970 on
    calendar = np.arange(month[0], month[-1] + 1) % 12
    month = month - month[0]
    dark = np.bincount(month, weights=lit) == 0.0
    return _Steps(lit | dark[month], month, calendar, own)


def _daylit(
    moments: IntArray, attrs: Mapping[str, Any], place: tuple[float, float, float]
) -> BoolArray:
    """Return at which of successive steps, by their starts [ns], the sun is up (time,)."""
    if not moments.size:
        return np.zeros(0, dtype=bool)
    instants = sun_instants(
        pd.DatetimeIndex(moments.view("datetime64[ns]")).tz_localize("UTC"),
        float(attrs["interval_s"]),
        attrs["sampling"],
        float(attrs["sun_offset_s"]),
        *place,
    )
    return sun_position(instants, *place).zenith < 90.0
