"""Is it a year? What time a weather series covers, decided here and asked everywhere."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.irradiance.sun import Sun
from yieldkit.study.simulation.daylit_months import counted_months, present_steps
from yieldkit.study.simulation.month_weights import times_by_month, uneven
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
    month_times : tuple of int
        How often each calendar month is there, where that differs (12,); else empty.
    """

    years: int
    days: float
    coverage: float
    by_month: tuple[float, ...]
    missing_steps: int = 0
    filled_steps: int = 0
    missing_daylight_h: float = 0.0
    month_times: tuple[int, ...] = ()

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
        if self.month_times:
            fewer = ", ".join(
                f"{name} {times}"
                for name, times in zip(MONTHS, self.month_times, strict=True)
                if times < self.years
            )
            found.append(
                f"The weather holds {self.years} years, of some months fewer ({fewer}): energies "
                "and hours are means month by month, added up to a year."
            )
        elif self.years > 1:
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
        times = {"month_times": json.dumps(self.month_times)} if self.month_times else {}
        return {
            **times,
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


def local_times(dataset: xr.Dataset) -> pd.DatetimeIndex:
    """Return the steps' starts in local standard time, without a zone."""
    offset = pd.Timedelta(seconds=int(dataset.attrs["utc_offset_s"]))
    return pd.DatetimeIndex(dataset.indexes["time"]) + offset


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
        year from several are that year. Of several files months may be there unequally often, if
        each that is there is so covered: means are then taken month by month.
    """
    found = counted_months(weather, sun, place)
    whole, expected, got, calendar = found.whole, found.expected, found.got, found.steps.calendar
    within, there = found.within, found.there
    hours = float(weather.attrs["interval_s"]) / 3600.0
    days = float(within.sum()) * hours / 24.0
    years = max(round(days / _YEAR_DAYS), 1)
    shares, fits = _by_calendar(calendar, whole, expected, got, years)
    complete = expected == whole
    every = bool((got[complete] >= YEAR_COVERED * whole[complete]).all())
    is_year = fits and bool((shares >= YEAR_COVERED).all()) and (years == 1 or every)
    times: tuple[int, ...] = ()
    if not is_year and "spans" in weather.attrs:
        times = times_by_month(calendar, whole, expected, got)
        is_year, years = bool(times), max(times, default=0)
    lit_within = max(float(expected.sum()), 1.0)
    return Period(
        years if is_year else 0,
        days * float(found.lit(there).sum()) / lit_within,
        float(got.sum()) / lit_within,
        tuple(float(share) for share in shares),
        int((within & ~there).sum()),
        found.filled,
        float(found.lit(within & ~there).sum()) * hours,
        uneven(times),
    )


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
