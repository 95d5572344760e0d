"""Which rows of a plant's log are judged: those that count, in enough light, below a clear sky."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.base.measured_planes import CELL, MODULE
from yieldkit.config.site.site import Site
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.study.handover.clear_steps import clear_steps
from yieldkit.study.handover.log_shadows import in_shadow
from yieldkit.study.handover.log_table import LogTable
from yieldkit.study.handover.slips import Drawn
from yieldkit.study.logs.plant_log import PlantLog
from yieldkit.study.simulation.plane_sky import cloudless, plane_sky

LEAST_STEPS = 20
"""Fewer steps say too little."""
_LOWEST_DEG = 15.0
"""Sun below which light is not reckoned for a plane: what share of it is direct is off by a quarter
and more there (`diffuse_share.py`) [deg]."""
_LEAST_W_M2 = 100.0
_DAYS = 3
"""More days than these say little more, and take long."""
_JUMP = 0.1
"""Between two steps a voltage that changes by more than this share jumps [1]."""
_APART_S = 1200.0
"""Of steps that lie closer than this one is judged [s]."""


class LogRows(NamedTuple):
    """Readings of a log, one after another.

    Parameters
    ----------
    moments : DatetimeIndex
        Middles of the chosen steps by the log's clock, what is known of it taken out, UTC (step,).
    day : ndarray of int
        The day of each step, from 0 (step,).
    clock_spread : ndarray
        How far each day's clock may still be off [min] (day,).
    step, column : ndarray of int
        Step and column of each reading (reading,).
    value : ndarray
        [V], [A] or [W] (reading,).
    columns : tuple of (str, str)
        Input and quantity of each column.
    light, heat, cells : ndarray
        Light, temperature of modules' backs and of cells measured on planes [W/m2], [degC], nan
        where they weren't (step, plane).
    in_plane : ndarray of bool
        Whether a plane's sensor, where it has one, lies as the plane does (plane,).
    beside : ndarray
        Global irradiance where it was measured and no plane's [W/m2] (step,), nan where not.
    temp_air : ndarray
        Temperature of the air [degC], nan where it wasn't measured (step,).
    power : ndarray
        Of each input [W], nan where it isn't judged or wasn't written (step, tracker).
    trackers : tuple of str
        Names of all inputs of the log.
    shaded : int
        Steps left out of an input because something stands in the light of its planes.
    apart_s : float
        How far chosen steps lie apart in the least [s].
    """

    moments: pd.DatetimeIndex
    day: IntArray
    clock_spread: FloatArray
    step: IntArray
    column: IntArray
    value: FloatArray
    columns: tuple[tuple[str, str], ...]
    light: FloatArray
    in_plane: BoolArray
    heat: FloatArray
    cells: FloatArray
    beside: FloatArray
    temp_air: FloatArray
    power: FloatArray
    trackers: tuple[str, ...]
    shaded: int
    apart_s: float

    @property
    def steps(self) -> int:
        """How many steps there are."""
        return len(self.moments)

    @property
    def measured(self) -> bool:
        """Whether any light was measured."""
        return bool(np.isfinite(self.light).any() or np.isfinite(self.beside).any())

    def by_power(self, there: Mapping[str, BoolArray]) -> LogRows:
        """Return the readings with power in place of voltage and current at some steps.

        Parameters
        ----------
        there : mapping of str to ndarray of bool
            Inputs, and at which steps (step,).
        """
        kept = np.ones(self.value.size, dtype=bool)
        columns = list(self.columns)
        more: list[tuple[IntArray, IntArray, FloatArray]] = []
        for name, steps in there.items():
            own = [at for at, column in enumerate(columns) if column[0] == name]
            if not steps.any() or (name, "p_dc") in columns:
                continue
            kept &= ~(np.isin(self.column, own) & steps[self.step])
            power = self.power[:, self.trackers.index(name)]
            told = np.flatnonzero(steps & np.isfinite(power))
            more.append((told, np.full(told.size, len(columns)), power[told]))
            columns.append((name, "p_dc"))
        return self._replace(
            step=np.concatenate([self.step[kept], *(own[0] for own in more)]),
            column=np.concatenate([self.column[kept], *(own[1] for own in more)]),
            value=np.concatenate([self.value[kept], *(own[2] for own in more)]),
            columns=tuple(columns),
        )


def log_rows(site: Site, drawn: Drawn, log: PlantLog) -> LogRows:
    """Return the readings of a log that can be judged.

    Where light was measured on every plane that has modules, all steps that count in enough light
    are taken; elsewhere those below a clear sky, told by how smoothly currents or powers change.

    Parameters
    ----------
    site : Site
        The site.
    drawn : Drawn
        The wiring.
    log : PlantLog
        The log.

    Raises
    ------
    InputError
        With less than 20 such steps.
    """
    table = LogTable(site, log)
    columns = _columns(table)
    chosen, shaded = _chosen(site, drawn, table)
    values = np.full((len(table.moments), len(columns)), np.nan)
    for at, (name, quantity) in enumerate(columns):
        own = table.names.index(name)
        there = chosen[:, own]
        if quantity == "v_dc":
            there = there & ~_idle(table, own)
        if quantity != "p_dc":
            there = there & ~_jumps(table, own)
        values[there, at] = table.values[quantity][there, own]
    lit = np.isfinite(values).any(axis=1)
    days, number = np.unique(table.day[lit], return_counts=True)
    kept: IntArray = np.sort(days[np.argsort(-number, kind="stable")][:_DAYS])
    steps: IntArray = np.flatnonzero(lit & np.isin(table.day, kept))
    if steps.size < LEAST_STEPS:
        _too_few(log, table, steps.size, shaded)
    steps = _thinned(table.moments, steps)
    step, column = np.nonzero(np.isfinite(values[steps]))
    return LogRows(
        table.moments[steps],
        np.searchsorted(kept, table.day[steps]),
        np.array([table.clock_spread[own] for own in kept]),
        step,
        column,
        values[steps][step, column],
        columns,
        table.light[steps],
        table.in_plane,
        table.of_planes(site, MODULE)[steps],
        table.of_planes(site, CELL)[steps],
        table.beside[steps],
        table.weather_column("temp_air")[steps],
        _power(table, chosen)[steps],
        tuple(table.names),
        shaded,
        max(table.interval_s, _APART_S),
    )


def _thinned(moments: pd.DatetimeIndex, steps: IntArray) -> IntArray:
    """Return the first of steps that lie close together, for the others tell the same."""
    seconds = moments[steps].to_numpy(dtype="datetime64[s]").astype(np.int64)
    _, first = np.unique(seconds // int(_APART_S), return_index=True)
    found: IntArray = steps[first]
    return found


def _columns(table: LogTable) -> tuple[tuple[str, str], ...]:
    """Return input and quantity of what is judged: voltage and current, or what there is of them.

    Power is no third reading where both are there: an inverter shows it as their product.
    """
    found: list[tuple[str, str]] = []
    for at, name in enumerate(table.names):
        told = [quantity for quantity, own in table.values.items() if np.isfinite(own[:, at]).any()]
        both = {"v_dc", "i_dc"} <= set(told)
        found += [(name, own) for own in told if not (both and own == "p_dc")]
    return tuple(found)


def _idle(table: LogTable, at: int) -> BoolArray:
    """Return where an input takes nothing, so that what its voltage is depends on its make."""
    found = np.zeros(len(table.moments), dtype=bool)
    for quantity in ("i_dc", "p_dc"):
        if quantity in table.values:
            found |= table.values[quantity][:, at] <= 0.0
    return found


def _jumps(table: LogTable, at: int) -> BoolArray:
    """Return where the voltage jumps: strings in unlike light go from one maximum to another."""
    found = np.zeros(len(table.moments), dtype=bool)
    volts = table.values.get("v_dc")
    if volts is None:
        return found
    own = volts[:, at]
    runs = (own[1:] > 0.0) & (own[:-1] > 0.0)
    ratio = np.divide(own[1:], own[:-1], out=np.ones(runs.size), where=runs)
    jump = np.abs(np.log(ratio)) > _JUMP
    found[1:] |= jump
    found[:-1] |= jump
    return found


def _power(table: LogTable, chosen: BoolArray) -> FloatArray:
    """Return the power of all inputs where it is judged [W] (step, tracker)."""
    nothing = np.full(chosen.shape, np.nan)
    power = table.values.get("p_dc", nothing)
    if "v_dc" in table.values and "i_dc" in table.values:
        power = np.where(np.isfinite(power), power, table.values["v_dc"] * table.values["i_dc"])
    return np.where(chosen, power, np.nan)


def _chosen(site: Site, drawn: Drawn, table: LogTable) -> tuple[BoolArray, int]:
    """Return steps of inputs in enough light (step, tracker), clear ones where that matters.

    Returns
    -------
    tuple of ndarray and int
        The steps, and how many were left out for shadows.
    """
    lit = cloudless(site, table.moments)
    sky = np.stack([plane_sky(site, own, lit).poa_global for own in site.planes], axis=1)
    sensed = np.asarray(np.isfinite(table.light).any(axis=0))
    light = np.where(sensed, table.light, sky)
    used = drawn.modules.sum(axis=0) > 0.0
    known = np.isfinite(light[:, used]).all(axis=1)
    if not (sensed & table.in_plane)[used].all():
        known &= _high_sun(site, table)
    if not sensed[used].all():
        known &= clear_steps(site, drawn, table, sky)
        if sensed.any():
            known &= (np.where(sensed, sky, 0.0) > _LEAST_W_M2).any(axis=1)
    dim = in_shadow(site, table.moments, lit)
    found, shaded = np.zeros(table.counted.shape, dtype=bool), 0
    for at, name in enumerate(table.names):
        own = np.array([each == name for each in drawn.inputs])
        planes = (drawn.modules[own] > 0.0).any(axis=0)
        if planes.any():
            bright = known & (light[:, planes].max(axis=1) >= _LEAST_W_M2) & table.counted[:, at]
            behind = dim[:, planes].any(axis=1)
            found[:, at] = bright & ~behind
            shaded += int((bright & behind).sum())
    return found, shaded


def _high_sun(site: Site, table: LogTable) -> BoolArray:
    """Return the steps in which light can be reckoned for a plane (step,)."""
    place = site.site
    sun = sun_position(table.moments, place.latitude, place.longitude, place.altitude_m)
    found: BoolArray = sun.apparent_zenith < 90.0 - _LOWEST_DEG
    return found


def _too_few(log: PlantLog, table: LogTable, steps: int, shaded: int) -> None:
    """Refuse a log of too few steps."""
    left = int(np.count_nonzero(~table.counted.any(axis=1)))
    sensed = bool(np.isfinite(table.light).any(axis=0).all())
    sky = "" if sensed else " below a clear sky, as no light was measured on some planes,"
    held = {name: hours for own in log.left_out_hours().values() for name, hours in own.items()}
    most = f" (most: {max(held, key=lambda name: held[name])})" if held else ""
    or_sensors = "" if sensed else ", or give light measured on the planes"
    refuse(
        log.name,
        f"{steps} steps that can be judged; {left} of {len(table.moments)} don't count for any "
        f"input{most}",
        f"at least {LEAST_STEPS} steps{sky} of {_LEAST_W_M2:g} W/m2 and more",
        f"{shaded} steps of inputs were left out for shadows." if shaded else "",
        remedy=f"Take the log of a whole clear day{or_sensors}.",
    )
