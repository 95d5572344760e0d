"""Moments and days worth looking at, and the I-V and P-V curves at those moments."""

from __future__ import annotations

from collections.abc import Hashable, Mapping

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import IntArray
from yieldkit.config.site.site import Site, TrackerStrings, Wiring
from yieldkit.physics.circuit import api as circuit
from yieldkit.study.simulation.in_light import in_light, with_places
from yieldkit.study.simulation.labels import string_label
from yieldkit.study.simulation.period import local_times
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import string_circuit

_POINTS = 400
_BRIGHT_W_M2 = 150.0


def telling_moments(prepared: Prepared) -> dict[str, int]:
    """Return named steps at which the strings' curves tell most.

    Returns
    -------
    dict of str to int
        Positions in time: the brightest step, the step at which the planes are lit most
        unequally, and the coldest and the hottest bright step (by cell temperature).
    """
    light = prepared.planes["effective_irradiance"].to_numpy()
    heat = prepared.planes["temp_cell"].to_numpy()
    total = np.nan_to_num(light.sum(axis=1))
    brightest = int(np.argmax(total))
    spread = np.nan_to_num(light.max(axis=1) - light.min(axis=1))
    bright = np.nan_to_num(light.min(axis=1)) > _BRIGHT_W_M2
    if not bright.any():
        return {"brightest": brightest, "most unequal light": int(np.argmax(spread))}
    warmth = np.where(bright, heat.mean(axis=1), np.nan)
    return {
        "brightest": brightest,
        "most unequal light": int(np.argmax(spread)),
        "coldest in good light": int(np.nanargmin(warmth)),
        "hottest in good light": int(np.nanargmax(warmth)),
    }


def telling_days(weather: xr.Dataset) -> dict[str, IntArray]:
    """Return the steps of a clear June day, an equinox, a December and a cloudy day.

    Returns
    -------
    dict of str to ndarray of int
        Positions in time of each day's steps, by local standard time; a day that the weather
        doesn't cover is left out. Where it covers none of them: its brightest and its dullest day.
    """
    times = local_times(weather)
    dates = times.normalize()
    ghi = pd.Series(weather["ghi"].to_numpy(), index=times)
    daily = ghi.groupby(dates).sum()
    days = pd.DatetimeIndex(daily.index)
    day_of_year, month = days.day_of_year.to_numpy(), days.month.to_numpy()
    near_equinox = (np.abs(day_of_year - 80) <= 12) | (np.abs(day_of_year - 265) <= 12)
    summer = np.isin(month, (5, 6, 7, 8))
    chosen: dict[str, Hashable] = {}
    for label, mask in (
        ("clear June day", month == 6),
        ("clear day near an equinox", near_equinox),
        ("clear December day", month == 12),
    ):
        if mask.any():
            chosen[label] = daily[mask].idxmax()
    if summer.any():
        target = 0.35 * daily[summer].max()
        chosen["cloudy summer day"] = (daily[summer] - target).abs().idxmin()
    if not chosen:
        chosen = {"brightest day": daily.idxmax(), "dullest day": daily.idxmin()}
    return {label: np.flatnonzero(dates == date) for label, date in chosen.items()}


def tracker_curves(prepared: Prepared, wiring: Wiring, name: str, step: int) -> xr.Dataset:
    """Return I-V and P-V of a tracker's strings and of their sum at one step.

    Parameters
    ----------
    prepared : Prepared
        Conditions of the cell groups.
    wiring : Wiring
        The wiring.
    name : str
        Name of the tracker, as results have it.
    step : int
        Position in time.

    Returns
    -------
    Dataset
        `i_string` (voltage, string) and `i_dc` (voltage) [A] with `p_dc` (voltage) [W], behind
        the cables, over `voltage` [V] from 0 to just above the highest open-circuit voltage.
    """
    mppt, name_of = prepared.site.inputs()[name], prepared.site.input_name
    placed = with_places(prepared, wiring)
    wired = next(tracker for tracker in placed.trackers if name_of(tracker) == name)
    circuits = tuple(string_circuit(prepared, string, mppt) for string in wired.strings)
    here, strings = in_light(prepared, wired.strings, circuits).moment(step)
    highest = max(float(circuit.string_voltage(here, string, np.zeros(1))[0]) for string in strings)
    voltage = np.linspace(0.0, 1.02 * max(highest, 1.0), _POINTS)
    repeated = circuit.CellConditions(*(np.repeat(array, _POINTS, axis=0) for array in here))
    currents = np.stack(
        [circuit.string_current(repeated, string, voltage) for string in strings], axis=1
    )
    total = currents.sum(axis=1)
    return xr.Dataset(
        {
            "i_string": (("voltage", "string"), currents, {"units": "A"}),
            "i_dc": (("voltage",), total, {"units": "A"}),
            "p_dc": (("voltage",), total * voltage, {"units": "W"}),
        },
        coords={
            "voltage": ("voltage", voltage, {"units": "V"}),
            "string": [string_label(string) for string in wired.strings],
        },
    )


def telling_tracker(site: Site, wiring: Wiring) -> str:
    """Return the input of a wiring on which most different things meet.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring.
    """

    def variety(tracker: TrackerStrings) -> tuple[int, int, int]:
        lengths = {sum(group.modules for group in string.groups) for string in tracker.strings}
        planes = {group.plane for string in tracker.strings for group in string.groups}
        groups = sum(len(string.groups) for string in tracker.strings)
        return (len(planes), len(lengths), groups)

    return site.input_name(max(wiring.trackers, key=variety))


def moment_curves(
    prepared: Prepared, wiring: Wiring, name: str, moments: Mapping[str, int]
) -> xr.Dataset:
    """Return I-V and P-V of a tracker's strings and of their sum at several steps.

    Parameters
    ----------
    prepared : Prepared
        Conditions of the cell groups.
    wiring : Wiring
        The wiring.
    name : str
        Name of the tracker, kept as the attribute `tracker`.
    moments : mapping of str to int
        What tells about a step, and its position in time.

    Returns
    -------
    Dataset
        As `tracker_curves` for every moment, with `voltage` [V] (moment, point), and `step`
        (moment), the positions in time.
    """
    parts = []
    for step in moments.values():
        curve = tracker_curves(prepared, wiring, name, step)
        parts.append(curve.drop_indexes("voltage").rename_dims(voltage="point"))
    names = pd.Index(list(moments), name="moment")
    parts = [part.reset_coords("voltage") for part in parts]
    found = xr.concat(
        parts, dim=names, data_vars="all", coords="minimal", compat="override", join="exact"
    )
    found = found.assign_coords(step=("moment", list(moments.values())))
    return found.assign_attrs(tracker=name)
