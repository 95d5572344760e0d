"""The network's voltage at the connection point, as the site file describes it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import refuse
from yieldkit.config.models.grid import GridConnection
from yieldkit.physics.ac.network_voltage import correlated_noise, modelled_voltage, window_spread
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.weather.readers.series import read_series

_PLAUSIBLE = (0.7, 1.3)
"""Voltage from phase to neutral by the nominal one, as site files are checked: common practice."""


def network_voltage(prepared: Prepared) -> FloatArray:
    """Return the network's mean voltage at every step, without this plant [V] (time,).

    Parameters
    ----------
    prepared : Prepared
        Site and weather.

    Raises
    ------
    InputError
        If a measured series has no voltage, by its times, for a step of the weather.
    """
    described = prepared.site.grid.network_voltage
    steps = prepared.weather.sizes["time"]
    if described.kind == "constant":
        return np.full(steps, described.voltage_v)
    if described.kind == "series":
        return _measured(prepared)
    attrs = prepared.weather.attrs
    local = pd.DatetimeIndex(prepared.weather.indexes["time"]) + pd.Timedelta(
        seconds=attrs["utc_offset_s"] + attrs["interval_s"] / 2.0
    )
    mean = modelled_voltage(
        np.asarray(local.hour + local.minute / 60.0, dtype=float),
        prepared.weather["ghi"].to_numpy(),
        described.voltage_v,
        described.daily_swing_v,
        described.load_term_v,
        described.neighbours_rise_v,
    )
    return mean + correlated_noise(
        steps,
        attrs["interval_s"],
        described.noise_v,
        described.correlation_time_min,
        described.seed,
    )


def _measured(prepared: Prepared) -> FloatArray:
    """Return a measured series on the weather's steps, joined by its times."""
    described = prepared.site.grid.network_voltage
    path = Path(prepared.site.folder) / str(described.file)
    if described.file is None or not path.is_file():
        refuse(
            "grid.network_voltage.file",
            f"'{described.file}', which is not there",
            "a CSV file of voltages with their times",
        )
    zone = described.zone or prepared.site.site.time_zone
    series = read_series(
        path, described.time, described.column, "grid.network_voltage", described.label, zone
    )
    _refuse_other_voltages(prepared, series, path.name)
    return _on_steps(prepared, series, path.name, zone)


def _refuse_other_voltages(prepared: Prepared, series: pd.Series, where: str) -> None:
    nominal = prepared.site.nominal_voltage_v
    low, high = float(series.min()), float(series.max())
    if _PLAUSIBLE[0] * nominal <= low and high <= _PLAUSIBLE[1] * nominal:
        return
    middle = float(series.median())
    phases = 1.6 < middle / nominal < 1.9
    refuse(
        f"{where}, {series.name}",
        f"voltages from {low:g} to {high:g} V in a network of nominally {nominal:g} V",
        "voltages from phase to neutral, within 30 % of the nominal voltage",
        cause="The voltage between phases?" if phases else "A mark for missing values?",
        remedy="Leave out hours of outage from the file's voltages, or mend them.",
    )


def _on_steps(prepared: Prepared, series: pd.Series, where: str, zone: str) -> FloatArray:
    """Average a series over the steps of the weather; every step with weather needs one."""
    attrs = prepared.weather.attrs
    starts = pd.DatetimeIndex(prepared.weather.indexes["time"])
    interval = pd.Timedelta(seconds=attrs["interval_s"])
    times = pd.DatetimeIndex(series.index)
    if attrs.get("typical"):
        # Months of several years stand in one year: a measured year is joined by its dates.
        offset = pd.Timedelta(seconds=attrs["utc_offset_s"])
        times = _as_year(times + offset, (starts + offset)[0].year) - offset
    place = np.floor(((times - starts[0]) / interval).to_numpy()).astype(int)
    inside = (place >= 0) & (place < len(starts))
    values = pd.Series(series.to_numpy()[inside]).groupby(place[inside]).mean()
    lacking = np.setdiff1d(np.flatnonzero(prepared.present), values.index.to_numpy())
    if lacking.size == 0:
        return values.reindex(np.arange(len(starts))).to_numpy()
    first = starts[lacking[0]] + pd.Timedelta(seconds=attrs["utc_offset_s"])
    refuse(
        f"{where}, {series.name}",
        f"no voltage in {lacking.size:,} of the weather's {len(starts):,} steps, the first at "
        f"{first:%Y-%m-%d %H:%M} ({attrs['time_zone']})",
        "a voltage in every step of the weather, by its time",
        cause="A series of other dates, with gaps, of longer steps, or by another clock?",
        remedy=f"Its times were read in zone {zone}; another is written as zone: UTC+01:00 into "
        "grid.network_voltage",
    )


def _as_year(local: pd.DatetimeIndex, year: int) -> pd.DatetimeIndex:
    """Return local times with another year; 29 February has no place in it and goes outside."""
    leap = (local.month == 2) & (local.day == 29)
    moved = local + pd.to_timedelta(
        [pd.Timestamp(year, 1, 1) - pd.Timestamp(each, 1, 1) for each in local.year]
    )
    after = local.is_leap_year & (local.month > 2)
    moved = moved - pd.to_timedelta(np.where(after, 1, 0), unit="D")
    return moved.where(~leap, pd.Timestamp(1900, 1, 1))


def within_step_spread(connection: GridConnection) -> float:
    """Return the spread of the voltage's 10-minute mean within a step [V]; zero if not modelled."""
    described = connection.network_voltage
    if described.kind != "modelled":
        return 0.0
    return window_spread(described.noise_v, described.correlation_time_min)
