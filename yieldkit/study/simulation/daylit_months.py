"""Daylight month by month: how much of it a weather series goes over, and how much was measured."""

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


def present_steps(weather: xr.Dataset) -> BoolArray:
    """Return which steps of a weather Dataset have all they need (time,)."""
    there = np.ones(weather.sizes["time"], dtype=bool)
    for name in needed_in(weather.data_vars):
        there &= np.isfinite(weather.variables[name].to_numpy())
    return there


class Counted(NamedTuple):
    """Steps of daylight of every month that a weather series touches.

    Parameters
    ----------
    steps : Steps
        All steps of those months.
    within, there : ndarray of bool
        Which of them files go over, and which have weather (raster step,).
    whole, expected, got : ndarray
        Steps of daylight of each month: all of it, what files go over, what was measured (month,).
    filled : int
        Steps with gaps filled.
    """

    steps: Steps
    within: BoolArray
    there: BoolArray
    whole: FloatArray
    expected: FloatArray
    got: FloatArray
    filled: int

    def lit(self, chosen: BoolArray) -> FloatArray:
        """Return how many chosen steps of each month have daylight (month,)."""
        lit = self.steps.lit & chosen
        number = int(self.steps.month[-1]) + 1
        return np.bincount(self.steps.month, weights=lit, minlength=number).astype(float)

    def measured_share(self) -> tuple[IntArray, FloatArray]:
        """Return the number of each own step's month, and what was measured of each month."""
        return self.steps.month[self.steps.own], self.got / np.maximum(self.whole, 1.0)


def counted_months(weather: xr.Dataset, sun: Sun, place: tuple[float, float, float]) -> Counted:
    """Count the daylight of a weather series month by month.

    Parameters
    ----------
    weather, sun, place
        As for `covered_period`.
    """
    steps = _months_of(weather, sun, place)
    present = present_steps(weather)
    filled = weather["filled"].to_numpy() > 0 if "filled" in weather else np.zeros_like(present)
    there, measured = np.zeros((2, steps.lit.size), dtype=bool)
    there[steps.own], measured[steps.own] = present, present & ~filled
    within = _within(weather, steps)
    none = np.zeros(0)
    found = Counted(steps, within, there, none, none, none, int(filled.sum()))
    return found._replace(
        whole=found.lit(np.ones_like(within)),
        expected=found.lit(within),
        got=found.lit(measured),
    )


def _within(weather: xr.Dataset, steps: Steps) -> BoolArray:
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


class Steps(NamedTuple):
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


def _months_of(weather: xr.Dataset, sun: Sun, place: tuple[float, float, float]) -> Steps:
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
    return Steps(lit | dark[month], month, calendar, own)


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
