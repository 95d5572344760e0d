"""Which steps of a log's inputs are held by the inverter's AC limit, and which by another."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.models.inverters import Inverter
from yieldkit.config.site.site import Site
from yieldkit.study.logs import held_back
from yieldkit.study.logs.columns import own_columns, resolution
from yieldkit.study.logs.drawn_inputs import DrawnInputs
from yieldkit.study.logs.light_on_inputs import LogTime
from yieldkit.study.logs.plant_log import PlantLog

_CONVERTED = 0.97
"""AC over DC power near full load, where only DC power was written [1]; usual."""


class Held(NamedTuple):
    """Where inputs are held (step, tracker).

    Parameters
    ----------
    clipped : ndarray of bool
        By their inverter's AC limit.
    limited : ndarray of bool
        By another limit.
    """

    clipped: BoolArray
    limited: BoolArray


def held_inputs(
    site: Site,
    drawn: DrawnInputs,
    log: PlantLog,
    time: LogTime,
    light: FloatArray,
    unusable: BoolArray,
) -> Held:
    """Return where a log's inputs are held back.

    Parameters
    ----------
    site : Site
        Its inverters' limits.
    drawn : DrawnInputs
        The inputs.
    log : PlantLog
        The log.
    time : LogTime
        Its steps.
    light : ndarray
        Light on the inputs, measured or cloudless [W/m2] (step, tracker).
    unusable : ndarray of bool
        What doesn't count anyway (step, tracker).
    """
    clipped, limited = np.zeros((2, *unusable.shape), dtype=bool)
    for at, one in enumerate(site.each_inverter()):
        own = drawn.inverter == at
        if not own.any():
            continue
        kind = one.site.single_inverter
        both = _inverter_held(kind, drawn, log, time, light, unusable, at)
        clipped[:, own], limited[:, own] = both[0][:, None], both[1][:, None]
    volts, amperes, power = (_column(log, name, unusable) for name in ("v_dc", "i_dc", "p_dc"))
    measured = own_columns(log.data)
    for at, mppt in enumerate(drawn.mppts):
        if not drawn.mixed[at]:
            for name, values in (("i_dc", amperes), ("p_dc", power)):
                if values is None:
                    continue
                rated = drawn.i_mp[at] if name == "i_dc" else drawn.i_mp[at] * drawn.v_mp[at]
                limits = held_back.input_limits(mppt, name, float(rated))
                if name not in measured and volts is not None and amperes is not None:
                    by_volts = resolution(volts[:, at]) / drawn.v_mp[at]
                    by_amperes = resolution(amperes[:, at]) / drawn.i_mp[at]
                    limits = limits._replace(fine=float(rated * (by_volts + by_amperes)))
                steps = held_back.plateau(
                    values[:, at], light[:, at], time.day, limits, time.interval_s
                ).steps
                limited[:, at] |= steps
        if volts is not None and amperes is not None:
            limited[:, at] |= held_back.voltage_kept(volts[:, at], amperes[:, at], mppt)
    return Held(clipped, limited & ~clipped)


def _inverter_held(
    kind: Inverter,
    drawn: DrawnInputs,
    log: PlantLog,
    time: LogTime,
    light: FloatArray,
    unusable: BoolArray,
    at: int,
) -> tuple[BoolArray, BoolArray]:
    """Return where an inverter is held by its AC limit, and where by another (step,)."""
    own = drawn.inverter == at
    watts = drawn.i_mp * drawn.v_mp
    on_all = light[:, own] @ (watts[own] / watts[own].sum())
    power = _power(log, own, at)
    clipped, limited = np.zeros((2, time.day.size), dtype=bool)
    if power is not None:
        limits = held_back.inverter_limits(kind)
        found = held_back.plateau(power, on_all, time.day, limits, time.interval_s)
        clipped, limited = held_back.by_rating(found, power, limits.rated)
    volts, amperes = (_column(log, name, unusable) for name in ("v_dc", "i_dc"))
    if volts is not None and amperes is not None:
        electric = held_back.Electric(
            volts[:, own],
            amperes[:, own],
            drawn.v_mp[own],
            drawn.i_mp[own],
            light[:, own],
            _air(log),
        )
        limited = limited | (held_back.moved_up(electric, time.day) & ~clipped)
    return clipped, limited


def _power(log: PlantLog, own: BoolArray, at: int) -> FloatArray | None:
    """Return an inverter's AC power [W], or what its DC power makes; None without any."""
    names = log.data
    if "p_ac" in names:
        power: FloatArray = names["p_ac"].to_numpy()[:, at].astype(float)
        if np.isfinite(power).any():
            return power
    if "p_dc" in names:
        direct: FloatArray = names["p_dc"].to_numpy()[:, own].astype(float).sum(axis=1)
        return _CONVERTED * direct
    return None


def _column(log: PlantLog, name: str, without: BoolArray) -> FloatArray | None:
    """Return a quantity of all inputs, nan where it doesn't count; None where it wasn't written."""
    if name not in log.data:
        return None
    values = log.data[name].to_numpy().astype(float)
    return np.where(without, np.nan, values)


def _air(log: PlantLog) -> FloatArray | None:
    """Return the temperature of the air where it was written [degC] (step,)."""
    if log.weather is None or "temp_air" not in log.weather:
        return None
    found: FloatArray = log.weather["temp_air"].to_numpy().astype(float)
    return found if np.isfinite(found).any() else None
