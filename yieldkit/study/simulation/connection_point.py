"""The connection point through the weather's period: what inverters feed in under which rules."""

from __future__ import annotations

from collections.abc import Hashable
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.config.site.site import Site
from yieldkit.design.checks.connection_point import (
    branches,
    converters,
    export_limit,
    without_power_by_voltage,
    without_reactive_power,
)
from yieldkit.physics.ac.connection import connection, voltages_without
from yieldkit.physics.ac.connection_state import Branches, ConnectionState, ExportLimit
from yieldkit.physics.ac.reactive import Converters
from yieldkit.study.simulation.kept import Keep, anew, fingerprint
from yieldkit.study.simulation.load import load_power
from yieldkit.study.simulation.network_voltage import network_voltage
from yieldkit.study.simulation.prepare import Prepared


class Rules(NamedTuple):
    """Which rules count: for the loss budget they are taken up one after the other.

    Parameters
    ----------
    reactive, export, by_voltage : bool
        Reactive power, the export limit, and power that falls with the voltage.
    """

    reactive: bool
    export: bool
    by_voltage: bool


ALL_RULES = Rules(True, True, True)


class Fed(NamedTuple):
    """What inverters feed in, means over each step.

    Parameters
    ----------
    p, q : ndarray
        Active [W] and reactive power [var] made by each inverter (time, inverter).
    v_ac, v_meter : ndarray
        Voltages phase to neutral: at the terminals (time, inverter), at the meter (time,) [V].
    own_heat, common_heat : ndarray
        Heat of the leads [W] (time, inverter), (time,).
    limit : ndarray of int8
        What holds each inverter, codes of `AC_LIMIT` (time, inverter); of a step in parts, of that
        with the least power.
    arriving, taken : ndarray
        Power that arrives at the meter, before the load, and power that the plant takes through
        it at night [W] (time,).
    self_use, out : ndarray
        What of it the load takes at the same time, and what leaves through the meter [W] (time,).
    """

    p: FloatArray
    q: FloatArray
    v_ac: FloatArray
    v_meter: FloatArray
    own_heat: FloatArray
    common_heat: FloatArray
    limit: IntArray
    arriving: FloatArray
    taken: FloatArray
    self_use: FloatArray
    out: FloatArray


class ConnectionPoint(NamedTuple):
    """A site's connection point on the weather's steps.

    Parameters
    ----------
    branches : Branches
        Impedances.
    converters : Converters
        What each inverter can and must do.
    limit : ExportLimit
        At the meter.
    stiff_v : ndarray
        The network's voltage without the plant [V] (time,).
    load : ndarray
        Consumption [W] (time, part of the step).
    times : DatetimeIndex
        Starts of the steps, local standard time, for messages.
    """

    branches: Branches
    converters: Converters
    limit: ExportLimit
    stiff_v: FloatArray
    load: FloatArray
    times: pd.DatetimeIndex

    def at(self, steps: IntArray) -> ConnectionPoint:
        """Return the same at some steps."""
        return self._replace(
            stiff_v=self.stiff_v[steps], load=self.load[steps], times=self.times[steps]
        )

    def counting(self, rules: Rules) -> Rules:
        """Return which of some rules change anything here."""
        own = self.converters
        reactive = bool((own.reactive_kind != 0).any() or (own.tangent != 0.0).any())
        return Rules(
            rules.reactive and reactive,
            rules.export and bool(np.isfinite(self.limit.power)),
            rules.by_voltage and bool(np.isfinite(own.watt_start_v).any()),
        )

    def fed(self, offer: FloatArray, drawn: FloatArray, rules: Rules = ALL_RULES) -> Fed:
        """Return what is fed in where inverters could give so much.

        Parameters
        ----------
        offer, drawn : ndarray
            Power each could give, and its own consumption [W] (time, inverter).
        rules : Rules
            Which rules count.

        Raises
        ------
        InputError
            Where the network cannot take the power: its voltage collapses.
        """
        own = self.converters
        own = own if rules.reactive else without_reactive_power(own)
        own = own if rules.by_voltage else without_power_by_voltage(own)
        limit = self.limit if rules.export else None
        parts = self.load.shape[1]
        load = self.load.ravel()
        consumed = np.repeat(drawn, parts, axis=0)
        state = connection(
            np.repeat(offer, parts, axis=0),
            consumed,
            np.repeat(self.stiff_v, parts),
            load,
            self.branches,
            own,
            limit,
        )
        self._refuse_collapse(state)
        return _over_parts(state, consumed, load, parts)

    def without_own(self, fed: Fed, drawn: FloatArray) -> FloatArray:
        """Return each inverter's terminal voltage if it alone fed nothing in [V]."""
        return voltages_without(
            fed.p,
            fed.q,
            drawn,
            self.stiff_v,
            self.load.mean(axis=1),
            self.branches,
            self.converters,
        )

    def _refuse_collapse(self, state: ConnectionState) -> None:
        if state.solved.all():
            return
        step = int(np.flatnonzero(~state.solved)[0]) // self.load.shape[1]
        when = f"{self.times[step]:%Y-%m-%d %H:%M} (standard time)"
        refuse(
            "grid",
            f"no voltage at which the network could take the power at {when}",
            "a network that carries the inverters' power and the load",
            cause="Resistance or reactance of network or leads far too large, or the load?",
            remedy="Look at grid.network_resistance_ohm, network_reactance_ohm, the leads' lengths "
            "and sections, and the load",
        )


def _over_parts(state: ConnectionState, drawn: FloatArray, load: FloatArray, parts: int) -> Fed:
    """Return means over the parts of each step."""
    # In the order of the loss budget, so that a step without a cause is exactly nothing.
    total = (state.p - drawn).sum(axis=1) - state.own_heat.sum(axis=1) - state.common_heat
    arriving, taken = np.maximum(total, 0.0), np.maximum(-total, 0.0)
    self_use, out = np.minimum(load, arriving), np.maximum(state.p_export, 0.0)
    if parts == 1:
        return Fed(
            state.p,
            state.q,
            state.v_ac,
            state.v_meter,
            state.own_heat,
            state.common_heat,
            state.limit,
            arriving,
            taken,
            self_use,
            out,
        )
    steps, inverters = state.p.shape[0] // parts, state.p.shape[1]

    def mean(values: FloatArray) -> FloatArray:
        shape = (steps, parts, *values.shape[1:])
        averaged: FloatArray = values.reshape(shape).mean(axis=1)
        return averaged

    least = state.p.reshape(steps, parts, inverters).argmin(axis=1)
    codes = np.take_along_axis(
        state.limit.reshape(steps, parts, inverters), least[:, None, :], axis=1
    )
    return Fed(
        p=mean(state.p),
        q=mean(state.q),
        v_ac=mean(state.v_ac),
        v_meter=mean(state.v_meter),
        own_heat=mean(state.own_heat),
        common_heat=mean(state.common_heat),
        limit=codes[:, 0, :],
        arriving=mean(arriving),
        taken=mean(taken),
        self_use=mean(self_use),
        out=mean(out),
    )


def connection_point(prepared: Prepared, keep: Keep = anew) -> ConnectionPoint:
    """Return a site's connection point on its weather's steps.

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    keep : Keep
        Knows what other runs have made already.

    Raises
    ------
    InputError
        If the network's voltage or the load can't be read, or a curve of reactive power is missing.
    """
    site = prepared.site
    offset = pd.Timedelta(seconds=prepared.weather.attrs["utc_offset_s"])
    return ConnectionPoint(
        branches(site),
        converters(site.each_inverter()),
        export_limit(site),
        keep(
            partial(_content, site, "network voltage", site.grid.network_voltage),
            partial(network_voltage, prepared),
        ),
        keep(
            partial(_content, site, "load", site.grid.load, site.grid.load_w),
            partial(load_power, prepared),
        ),
        pd.DatetimeIndex(prepared.weather.indexes["time"]) + offset,
    )


def _content(site: Site, what: str, described: object, *more: object) -> Hashable:
    """Return all that a series at the connection point depends on, a measured one's bytes too."""
    named = getattr(described, "file", None)
    path = Path(site.folder) / str(named)
    path = path if path.is_file() else Path(str(named))
    data = path.read_bytes() if named is not None and path.is_file() else b""
    place = fingerprint(site.site, described, *more, site.nominal_voltage_v, site.folder, data)
    return what, place
