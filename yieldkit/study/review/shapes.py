"""How bins follow what may be otherwise than the site says: each cause simulated."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.measured_planes import CELL, MODULE, POA, measured_name
from yieldkit.config.site.site import Site
from yieldkit.physics.circuit.api import StringCircuit
from yieldkit.study.review.beside import Beside
from yieldkit.study.review.bins import Bins, Grid, Series, grid_of, log_change
from yieldkit.study.simulation.dc_side import already_running, direct_sides
from yieldkit.study.simulation.in_light import StringsInLight
from yieldkit.study.simulation.inputs import inputs_of
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.trackers import Solutions, string_circuit, tracker_limits

_MOST_STEPS = 13_000
_TILT_DEG, _AZIMUTH_DEG, _DIRT_PERCENT, _HEAT_K, _CLOCK_MIN = 3.0, 5.0, 4.0, 2.0, 15.0


class Probe(NamedTuple):
    """Days of a log on which changed sites are simulated.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    bins : Bins
        Its bins.
    steps : ndarray of int
        Positions of the days' steps (step,).
    weather : Dataset
        Their weather, with how each sensor lies.
    grid : Grid
        Their bins.
    expected : Series
        What is expected there.
    totals : ndarray
        The same in bins (quantity, tracker, bin).
    """

    own: Beside
    bins: Bins
    steps: IntArray
    weather: xr.Dataset
    grid: Grid
    expected: Series
    totals: FloatArray

    def change(self, series: Series) -> FloatArray:
        """Return how bins' logarithms change from what is expected to another series (bin,)."""
        found = log_change(self.bins, self.totals, self.grid.totals(series))
        return np.nan_to_num(found, nan=0.0)


def probe_of(own: Beside, bins: Bins) -> Probe:
    """Return every n-th day of a log, simulated.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    bins : Bins
        Its bins.
    """
    days = ((own.local - own.local[0].normalize()).days).to_numpy()
    every = max(1, int(np.ceil(own.power.shape[0] / _MOST_STEPS)))
    steps = np.flatnonzero(days % every == 0)
    weather = _with_sensors(own.site, own.weather.isel(time=steps))
    expected = _simulated(own, own.site, weather)
    used = own.bright[steps] & ~own.dead[steps]
    grid = grid_of(own, steps, used, expected)
    return Probe(own, bins, steps, weather, grid, expected, grid.totals(expected))


def _with_sensors(site: Site, weather: xr.Dataset) -> xr.Dataset:
    """Return weather in which every sensor stays where it is when its plane moves."""
    found = weather.copy()
    for plane in site.planes:
        name = measured_name(POA, plane.name)
        if name in found:
            lies = {
                "sensor_tilt_deg": plane.tilt_deg,
                "sensor_azimuth_deg": plane.azimuth_deg,
            }
            found[name] = found[name].assign_attrs(lies | found[name].attrs)
    return found


def _simulated(own: Beside, site: Site, weather: xr.Dataset) -> Series:
    # Steps that anything holds back aren't looked at, so that no AC side is needed.
    directs = direct_sides(prepare(site, weather), own.wiring, Solutions())
    points = inputs_of(site, own.wiring, directs, tuple(each.free for each in directs)).points
    return Series(points.p_dc, points.i_dc, points.v_dc)


def _varied(probe: Probe, changes: dict[str, Any]) -> FloatArray:
    site = probe.own.site.variant(changes)
    return probe.change(_simulated(probe.own, site, probe.weather))


def tilted(probe: Probe, plane: int, by: float = _TILT_DEG) -> FloatArray:
    """Return how bins follow a plane's tilt [1/deg] (bin,); its sensor stays where it is."""
    before = probe.own.site.planes[plane].tilt_deg
    after = min(max(before + by, 0.0), 90.0)
    if after == before:
        after = before - by
    return _varied(probe, {f"planes.{plane}.tilt_deg": after}) / (after - before)


def turned(probe: Probe, plane: int, by: float = _AZIMUTH_DEG) -> FloatArray:
    """Return how bins follow a plane's azimuth [1/deg] (bin,); its sensor stays where it is."""
    before = probe.own.site.planes[plane].azimuth_deg
    return _varied(probe, {f"planes.{plane}.azimuth_deg": (before + by) % 360.0}) / by


def dirtied(probe: Probe, plane: int) -> FloatArray:
    """Return how bins follow the light that a plane loses [1/%] (bin,)."""
    before = probe.own.site.planes[plane].soiling_loss_percent
    after = min(before + _DIRT_PERCENT, 99.0)
    kept = (100.0 - after) / (100.0 - before)
    found = _varied(probe, {f"planes.{plane}.soiling_loss_percent": after})
    return found / (100.0 * (1.0 - kept))


def dirtied_by_rain(probe: Probe, plane: int) -> FloatArray | None:
    """Return how bins follow dirt that grows by the day until it rains [1/(%/day)] (bin,).

    None where there is no rain in the weather.
    """
    if "rain" not in probe.weather or probe.own.site.planes[plane].soiling_from_rain is not None:
        return None
    daily = 0.15
    said = {"model": "kimber", "loss_percent_per_day": daily}
    changes: dict[str, Any] = {f"planes.{plane}.soiling_from_rain": said}
    if probe.own.site.planes[plane].soiling_by_month_percent is not None:
        return None
    # Dirt remembers all days since the last rain: no day may be left out.
    site = probe.own.site.variant(changes)
    whole = _with_sensors(site, probe.own.weather)
    found = _simulated(probe.own, site, whole)
    return probe.change(Series(*(part[probe.steps] for part in found))) / daily


def warmed(probe: Probe, plane: int | None) -> FloatArray:
    """Return how bins follow the temperature of a plane's cells, or of all planes [1/K] (bin,)."""
    planes = probe.own.site.planes
    chosen = planes if plane is None else (planes[plane],)
    weather = probe.weather.copy()
    changes: dict[str, Any] = {}
    for each in chosen:
        measured = False
        for quantity in (MODULE, CELL):
            name = measured_name(quantity, each.name)
            if name in weather:
                weather[name] = (weather[name] + _HEAT_K).assign_attrs(weather[name].attrs)
                measured = True
        if not measured and plane is not None:
            # Cells stand some 25 K over the air in full light: this makes it 2 K more.
            at = planes.index(each)
            changes[f"planes.{at}.heat_loss_factor"] = max(each.heat_loss_factor * 0.92, 0.3)
    if plane is None:
        weather["temp_air"] = (weather["temp_air"] + _HEAT_K).assign_attrs(
            weather["temp_air"].attrs
        )
    site = probe.own.site.variant(changes) if changes else probe.own.site
    return probe.change(_simulated(probe.own, site, weather)) / _HEAT_K


def clock_ahead(probe: Probe, minutes: float = _CLOCK_MIN) -> FloatArray:
    """Return how bins follow a clock of light and power that is ahead of the sun [1/min] (bin,)."""
    times = pd.DatetimeIndex(probe.weather.indexes["time"]) - pd.Timedelta(minutes=minutes)
    weather = probe.weather.assign_coords(time=times)
    return probe.change(_simulated(probe.own, probe.own.site, weather)) / minutes


def light_ahead(probe: Probe, minutes: float = _CLOCK_MIN) -> FloatArray:
    """Return how bins follow power that is written later than its light [1/min] (bin,)."""
    seconds = probe.own.local[probe.steps].to_numpy().astype("datetime64[s]").astype(float)
    moved = [
        np.stack(
            [
                np.interp(seconds - 60.0 * minutes, seconds, np.nan_to_num(column))
                for column in part.T
            ],
            axis=1,
        )
        for part in probe.expected
    ]
    return probe.change(Series(*moved)) / minutes


def glass_loss(probe: Probe, plane: int) -> FloatArray:
    """Return how bins follow what a plane's glass takes, as a multiple of it (bin,)."""
    planes = probe.own.prepared.planes
    poa = planes["poa_global"].to_numpy()[probe.steps, plane]
    effective = planes["effective_irradiance"].to_numpy()[probe.steps, plane]
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(effective / poa)
    logs = np.nan_to_num(logs - np.nanmax(np.where(np.isfinite(logs), logs, -np.inf)), neginf=-1.0)
    return through(probe, plane, np.clip(logs, -1.0, 0.0))


def low_light(probe: Probe, plane: int) -> FloatArray:
    """Return how bins follow a loss of one percent for each e-fold less of light (bin,)."""
    poa = probe.own.prepared.planes["poa_global"].to_numpy()[probe.steps, plane]
    return through(probe, plane, 0.01 * np.log(np.clip(poa, 20.0, 1500.0) / 1000.0))


def through(probe: Probe, plane: int, logs: FloatArray) -> FloatArray:
    """Return how bins follow a small change of a plane's current (bin,).

    Each input follows by the share of it that hangs on the plane.

    Parameters
    ----------
    probe : Probe
        The log's days.
    plane : int
        The plane.
    logs : ndarray
        Change of the current's logarithm [1] (step,).
    """
    shares = probe.own.rated[:, plane] / probe.own.rated.sum(axis=1)
    factor = np.exp(logs[:, None] * shares)
    expected = probe.expected
    changed = Series(expected.power * factor, expected.current * factor, expected.voltage)
    return probe.change(changed)


def lacking(probe: Probe, tracker: int, string: int, substring: bool) -> FloatArray | None:
    """Return how bins change when a substring of a string is dead, or the string gives nothing.

    Parameters
    ----------
    probe : Probe
        The days.
    tracker, string : int
        Which.
    substring : bool
        Whether one substring is dead; else the whole string is open.

    Returns
    -------
    ndarray or None
        (bin,); None where nothing would be left.
    """
    own = probe.own
    wired = own.wiring.trackers[tracker]
    mppt = own.site.inputs()[own.site.input_name(wired)]
    strings = tuple(string_circuit(own.prepared, each, mppt) for each in wired.strings)
    changed = _without(strings, string, substring)
    if changed is None:
        return None
    base = StringsInLight(strings, own.prepared.conditions).at(probe.steps)
    other = StringsInLight(changed, own.prepared.conditions).at(probe.steps)
    limits = already_running(tracker_limits(mppt))
    interval_s = float(own.log.data.attrs["interval_s"])
    before, after = (each.point(limits, interval_s=interval_s) for each in (base, other))
    with np.errstate(divide="ignore", invalid="ignore"):
        power, current, voltage = (
            np.nan_to_num(getattr(after, name) / getattr(before, name), nan=1.0, posinf=1.0)
            for name in ("p_dc", "i_dc", "v_dc")
        )
    found = []
    for part, factor in zip(probe.expected, (power, current, voltage), strict=True):
        one = part.copy()
        one[:, tracker] *= factor
        found.append(one)
    return probe.change(Series(*found))


def _without(
    strings: tuple[StringCircuit, ...], at: int, substring: bool
) -> tuple[StringCircuit, ...] | None:
    own = strings[at]
    rest = strings[:at] + strings[at + 1 :]
    if not substring:
        return rest or None
    longest = max(range(len(own.runs)), key=lambda run: own.runs[run].count)
    runs = list(own.runs)
    runs[longest] = runs[longest]._replace(count=runs[longest].count - 1)
    if runs[longest].count < 1:
        return None
    return (*strings[:at], own._replace(runs=tuple(runs)), *strings[at + 1 :])
