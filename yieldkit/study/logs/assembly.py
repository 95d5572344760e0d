"""Readings of all tables side by side: sound, with a reason where one doesn't count."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.base.errors import InputError, refuse
from yieldkit.base.quantities import QUANTITIES
from yieldkit.base.time_zones import zone_name
from yieldkit.config.site.site import Site, Wiring
from yieldkit.physics.irradiance.sun import sun_instants, sun_position
from yieldkit.study.logs.counters import power_of
from yieldkit.study.logs.plant_log import AMBIGUOUS, IMPOSSIBLE, MISSING, NIGHT
from yieldkit.study.logs.raster import Stepped
from yieldkit.study.logs.sizes import counter_problems, impossible, refuse_wrong_scale, sizes_of
from yieldkit.study.logs.wanted import BY_INPUT, Tables

_DC = ("v_dc", "i_dc", "p_dc")
_AC = ("v_ac", "p_ac")
_COUNTER = {"e_dc": "p_dc", "e_ac": "p_ac"}
_POWER = tuple(_COUNTER.values())

Of = tuple[str, str]
"""A quantity, and the input or inverter it was written of."""


class Readings(NamedTuple):
    """Readings of a plant on one raster.

    Parameters
    ----------
    site, wiring : Site, Wiring
        Of the plant, as it was built.
    columns : DataFrame
        All columns of all tables on every step (time, column).
    series : dict of (str, str) to ndarray
        Readings [V, A, W] of each input and inverter, nan where none is sound (time,).
    steps : dict of (str, str) to float
        Smallest step in which each was written [V, A, W].
    bad : dict of (str, str) to ndarray of bool
        Where a reading was there that can't be (time,).
    unclear : dict of str to ndarray of bool
        Where it isn't known which row holds, by input (time,).
    remarks : tuple of str
        What was done.
    """

    site: Site
    wiring: Wiring
    columns: pd.DataFrame
    series: dict[Of, FloatArray]
    steps: dict[Of, float]
    bad: dict[Of, BoolArray]
    unclear: dict[str, BoolArray]
    remarks: tuple[str, ...]

    @property
    def time(self) -> pd.DatetimeIndex:
        """Naive UTC, starts of the steps."""
        return pd.DatetimeIndex(self.columns.index)

    @property
    def step_s(self) -> float:
        """Length of a step [s]."""
        return (self.time[1] - self.time[0]).total_seconds()

    def inputs(self) -> list[str]:
        """Return the inputs in use, in the wiring's order."""
        return [self.site.input_name(each) for each in self.wiring.trackers]

    def dataset(self, utc_offset_s: int) -> xr.Dataset:
        """Return them as `PlantLog.data` has them, nothing left out yet.

        Parameters
        ----------
        utc_offset_s : int
            The log's standard time ahead of UTC [s].
        """
        inputs = self.inputs()
        inverters = [each.name for each in self.site.each_inverter()]
        variables: dict[str, object] = {}
        for quantity in (*_DC, *_AC):
            names, dim = (inputs, "tracker") if quantity in _DC else (inverters, "inverter")
            if not any(kind == quantity for kind, _ in self.series):
                continue
            empty = np.full(len(self.time), np.nan)
            values = [self.series.get((quantity, name), empty) for name in names]
            attrs = {
                "units": QUANTITIES[quantity].units,
                "long_name": QUANTITIES[quantity].meaning,
                "written_in_steps_of": [self.steps.get((quantity, name), 0.0) for name in names],
            }
            variables[quantity] = (("time", dim), np.stack(values, axis=1), attrs)
        none = np.zeros((len(self.time), len(inputs)), dtype=np.int8)
        variables["left_out"] = (("time", "tracker"), none, {"units": "1"})
        return xr.Dataset(
            variables,
            {"time": self.time.to_numpy(), "tracker": inputs, "inverter": inverters},
            {
                "interval_s": self.step_s,
                "utc_offset_s": utc_offset_s,
                "time_zone": zone_name(utc_offset_s),
                "wiring": self.wiring.name,
            },
        )

    def reasons(self) -> dict[str, BoolArray]:
        """Return where what wasn't read is left out, and why (time, tracker)."""
        inputs = self.inputs()
        shape = (len(self.time), len(inputs))
        wrong, lacking = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
        for place, name in enumerate(inputs):
            for quantity in _DC:
                if (quantity, name) in self.series:
                    wrong[:, place] |= self.bad[quantity, name]
                    lacking[:, place] |= np.isnan(self.series[quantity, name])
        unclear = np.stack([self.unclear[name] for name in inputs], axis=1)
        # An inverter that sleeps at night and writes nothing lacks nothing.
        night = lacking & self._dark()[:, None]
        return {IMPOSSIBLE: wrong, AMBIGUOUS: unclear & lacking, NIGHT: night, MISSING: lacking}

    def _dark(self) -> BoolArray:
        """Return in which steps the sun is down all the time."""
        own = self.site.site
        place = (own.latitude, own.longitude, own.altitude_m)
        starts = self.time.tz_localize("UTC")
        at = sun_instants(starts, self.step_s, "mean", 0.0, *place)
        found: BoolArray = sun_position(at, *place).zenith >= 90.0
        return found


def assembled(
    site: Site,
    wiring: Wiring,
    groups: Sequence[Tables],
    brought: Sequence[Stepped],
    smallest: Mapping[str, float],
    step_s: int,
    where: str,
) -> Readings:
    """Return the readings of all tables side by side, those emptied that can't be.

    Parameters
    ----------
    site, wiring : Site, Wiring
        The site, and the wiring that was built.
    groups : sequence of Tables
        What was asked of which tables.
    brought : sequence of Stepped
        The rows of each group.
    smallest : mapping of str to float
        Smallest step in which each electrical column is written.
    step_s : int
        Length of a step [s].
    where : str
        Tables, for errors.

    Raises
    ------
    InputError
        For readings that no such plant gives.
    """
    columns = _on_one_raster(brought, step_s, where)
    time = pd.DatetimeIndex(columns.index)
    told: list[str] = []
    series, steps = _series(columns, groups, smallest, step_s, told)
    counted = {
        (_COUNTER[each.quantity], each.of)
        for group in groups
        for each in group.wanted
        if each.quantity in _COUNTER
    }
    bad = _bad(site, wiring, series, counted, time, where)
    for key, there in bad.items():
        told += _emptied(key, series, there)
    unclear = {
        each.of: np.asarray(time.isin(own.unclear))
        for group, own in zip(groups, brought, strict=True)
        for each in group.wanted
        if each.quantity in BY_INPUT
    }
    return Readings(site, wiring, columns, series, steps, bad, unclear, tuple(told))


def _on_one_raster(brought: Sequence[Stepped], step_s: int, where: str) -> pd.DataFrame:
    """Return all columns on every step from the first to the last."""
    indices = [pd.DatetimeIndex(each.values.index).as_unit("ns") for each in brought]
    step = pd.Timedelta(seconds=step_s)
    if len({int(index[0].value) % step.value for index in indices}) > 1:
        refuse(
            where,
            "tables whose steps begin at other seconds than one another's",
            "tables of one raster",
            cause="Is one of them labelled otherwise?",
        )
    first, last = min(index[0] for index in indices), max(index[-1] for index in indices)
    time = pd.date_range(first, last, freq=step, unit="ns")
    return pd.concat([each.values.reindex(time) for each in brought], axis="columns")


def _series(
    columns: pd.DataFrame,
    groups: Sequence[Tables],
    smallest: Mapping[str, float],
    step_s: int,
    told: list[str],
) -> tuple[dict[Of, FloatArray], dict[Of, float]]:
    """Return readings by quantity with input or inverter, and in which steps they come."""
    series: dict[Of, FloatArray] = {}
    steps: dict[Of, float] = {}
    phases: dict[str, list[FloatArray]] = {}
    for each in (each for group in groups for each in group.wanted if each.of):
        values = columns[each.name].to_numpy(dtype=float)
        step = smallest.get(each.name, np.inf)
        step = step if np.isfinite(step) else 0.0
        if each.quantity in _COUNTER:
            grown = power_of(values, step_s, step, f"{each.quantity} of {each.of}")
            values, step = grown.power, step * 3600.0 / step_s
            told.append(grown.remark)
        if each.quantity == "v_ac":
            phases.setdefault(each.of, []).append(values)
            values = np.mean(phases[each.of], axis=0)
        quantity = _COUNTER.get(each.quantity, each.quantity)
        series[quantity, each.of] = values
        steps[quantity, each.of] = step
    for name, own in phases.items():
        if len(own) > 1:
            told.append(f"v_ac of {name}: the mean of {len(own)} phases.")
    return series, steps


def _bad(
    site: Site,
    wiring: Wiring,
    series: Mapping[Of, FloatArray],
    counted: set[Of],
    time: pd.DatetimeIndex,
    where: str,
) -> dict[Of, BoolArray]:
    """Return which readings can't be; refuse where too many of them can't (time,)."""
    for (quantity, name), values in series.items():
        if not np.isfinite(values).any():
            refuse(f"{where}, {quantity} of {name}", "no reading in any step", "readings")
    powers = {key: own for key, own in series.items() if key[0] in _POWER and key not in counted}
    problems = [*counter_problems(powers, time, site.site.longitude, where)]
    if problems:
        raise InputError(problems)
    sizes = sizes_of(site, wiring)
    bad: dict[Of, BoolArray] = {}
    for key, values in series.items():
        bad[key], own = impossible(*key, values, sizes, where)
        problems += own
    if problems:
        raise InputError(problems)
    tops = {key: float(np.nanmax(values)) for key, values in series.items()}
    refuse_wrong_scale(tops, sizes, where)
    return bad


def _emptied(key: Of, series: dict[Of, FloatArray], there: BoolArray) -> list[str]:
    """Empty readings that can't be, in place, and return what is told of them."""
    quantity, name = key
    values = series[key]
    if there.any():
        worst, number = values[there][np.argmax(np.abs(values[there]))], int(there.sum())
        are = "reading that" if number == 1 else "readings that"
        series[key] = np.where(there, np.nan, values)
        return [
            f"{quantity} of {name}: {number:,} {are} no such plant gives, such as {worst:,.6g} "
            f"{QUANTITIES[quantity].units}, left out."
        ]
    if quantity in ("i_dc", *_POWER) and np.nanmax(values) <= 0.0:
        return [f"{quantity} of {name}: zero in every step."]
    return []
