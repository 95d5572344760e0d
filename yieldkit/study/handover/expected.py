"""What a meter and the inverter should read at given light and heat, and how far off is usual."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.equipment.cables import string_resistance
from yieldkit.physics.circuit.api import (
    CellConditions,
    OperatingPoint,
    StringCircuit,
    operating_point,
)
from yieldkit.study.handover import reference_errors as errors
from yieldkit.study.handover.meter import (
    CURRENT,
    TEMP_AIR_C,
    VOLTAGE,
    MeterReadings,
    Surroundings,
)
from yieldkit.study.handover.module_tables import cell_groups, module_table
from yieldkit.study.handover.names import named_strings
from yieldkit.study.handover.slips import all_slips, drawn_wiring
from yieldkit.study.handover.string_model import StringModel, runs_of, spreads_of
from yieldkit.study.simulation.plane_sky import (
    cells_behind,
    cells_without_thermometer,
    cloudless,
    plane_sky,
)
from yieldkit.study.simulation.trackers import tracker_limits

BAND = 2.0
"""A reading is within its band up to so many standard deviations: 19 of 20 are."""


class Conditions(NamedTuple):
    """Light and heat at a moment.

    Parameters
    ----------
    moment : Timestamp
        With a time zone.
    poa_global : ndarray
        In-plane irradiance [W/m2] (plane,).
    temp_module : ndarray
        Temperature of the modules' back [degC] (plane,).
    sensed : bool
        Whether both were read; else they are a cloudless sky's.
    """

    moment: pd.Timestamp
    poa_global: FloatArray
    temp_module: FloatArray
    sensed: bool


class ExpectedReading(NamedTuple):
    """What should be read.

    Parameters
    ----------
    subject : str
        Name of the string or the input.
    quantity : str
        `v_oc`, `i_sc`, `v_dc`, `i_dc` or `p_dc`.
    value, low, high : float
        Expected, and the band of what is usual [V], [A] or [W].
    """

    subject: str
    quantity: str
    value: float
    low: float
    high: float


def cloudless_conditions(
    site: Site, moment: pd.Timestamp, temp_air: float = TEMP_AIR_C
) -> Conditions:
    """Return light and heat below a cloudless sky, where nothing was read.

    Parameters
    ----------
    site : Site
        The site.
    moment : Timestamp
        With a time zone.
    temp_air : float
        [degC].
    """
    lit = cloudless(site, pd.DatetimeIndex([moment]))
    light = np.array([plane_sky(site, plane, lit).poa_global[0] for plane in site.planes])
    heat = [
        cells_without_thermometer(plane, own[None], temp_air)[0]
        for plane, own in zip(site.planes, light, strict=True)
    ]
    above = [cells_behind(plane, 0.0, own) for plane, own in zip(site.planes, light, strict=True)]
    return Conditions(moment, light, np.array(heat) - np.array(above), False)


def expected_readings(
    site: Site, wiring: Wiring, conditions: Conditions
) -> tuple[ExpectedReading, ...]:
    """Return what each string and input should read.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring.
    conditions : Conditions
        Light and heat.

    Returns
    -------
    tuple of ExpectedReading
        Open-circuit voltage and short-circuit current of each string, standing alone; then
        voltage, current and power of each input with its strings in parallel behind their cables,
        at the best point its limits allow. Bands are of `REFERENCE_ERRORS`.
    """
    return (*_strings(site, wiring, conditions), *expected_inputs(site, wiring, conditions))


def _strings(site: Site, wiring: Wiring, conditions: Conditions) -> tuple[ExpectedReading, ...]:
    names = [each.name for each in named_strings(site, wiring)]
    drawn = drawn_wiring(site, wiring, names)
    strings = np.repeat(np.arange(len(names)), 2)
    nothing = np.full(strings.size, np.nan)
    readings = MeterReadings(
        strings,
        np.tile([VOLTAGE, CURRENT], len(names)),
        np.ones(strings.size),
        pd.DatetimeIndex([conditions.moment] * strings.size),
        np.ones(strings.size) if conditions.sensed else nothing,
        np.ones(strings.size) if conditions.sensed else nothing,
    )
    slips = all_slips(drawn, [])[:1]
    around = _everywhere(site, conditions, strings.size)
    tables = tuple(module_table(site, plane) for plane in site.planes)
    model = StringModel(site, slips, readings, around, tables, spreads_of())
    values, slopes = model.at(np.zeros((1, model.unknowns)))
    spread = np.hypot(np.sqrt(np.square(slopes[0]).sum(axis=1)), model.noise(values)[0])
    return tuple(
        ExpectedReading(
            names[string],
            "v_oc" if at % 2 == VOLTAGE else "i_sc",
            value,
            value - BAND * off,
            value + BAND * off,
        )
        for at, (string, value, off) in enumerate(
            zip(strings.tolist(), values[0].tolist(), spread.tolist(), strict=True)
        )
    )


def _everywhere(site: Site, conditions: Conditions, readings: int) -> Surroundings:
    """Return light and heat of all planes as they are stated, for each of some readings."""
    glass = conditions.poa_global
    passed = _passed(site, conditions)
    heat = [
        cells_behind(plane, conditions.temp_module[at], glass[at])
        for at, plane in enumerate(site.planes)
    ]
    shape = 1, readings, len(site.planes)
    sensed = np.full(shape[1:], conditions.sensed)
    return Surroundings(
        np.broadcast_to(glass * passed, shape),
        np.broadcast_to(glass, shape),
        np.broadcast_to(np.array(heat), shape),
        sensed,
        sensed,
    )


def _passed(site: Site, conditions: Conditions) -> FloatArray:
    """Return the share of each plane's light that reaches the cells [1] (plane,)."""
    lit = cloudless(site, pd.DatetimeIndex([conditions.moment]))
    return np.array([plane_sky(site, plane, lit).passed[0] for plane in site.planes])


def expected_inputs(site: Site, wiring: Wiring, conditions: Conditions) -> list[ExpectedReading]:
    """Return operating points of the inputs, each unknown moved by itself for its band.

    Parameters
    ----------
    site, wiring, conditions
        As for `expected_readings`.
    """
    light, heat = _moved(site, conditions)
    each = [
        cell_groups(site, plane, own, warm)
        for plane, own, warm in zip(site.planes, light.T, heat.T, strict=True)
    ]
    cells = CellConditions(*(np.hstack(parts) for parts in zip(*each, strict=True)))
    names = named_strings(site, wiring)
    drawn = drawn_wiring(site, wiring, [own.name for own in names])
    groups = drawn.modules * drawn.groups_per_module
    found: list[ExpectedReading] = []
    for name in dict.fromkeys(drawn.inputs):
        mppt = site.inputs()[name]
        strings = tuple(
            StringCircuit(
                runs_of(groups[at]),
                0.0 if own.string.cable is None else string_resistance(own.string.cable),
                mppt.blocking_diodes,
            )
            for at, own in enumerate(names)
            if own.input_name == name
        )
        found += _input(name, operating_point(cells, strings, tracker_limits(mppt)))
    return found


def _moved(site: Site, conditions: Conditions) -> tuple[FloatArray, FloatArray]:
    """Return light in the cells and their temperature, as they are and each unknown moved.

    Returns
    -------
    tuple of ndarray
        [W/m2] and [degC] (row, plane): the expectation, all planes' light and heat moved together,
        and each plane's by itself.
    """
    spreads, planes = spreads_of(), len(site.planes)
    sensed = conditions.sensed
    common = errors.SENSOR_LIGHT if sensed else errors.SKY_LIGHT
    own = errors.PLANE_LIGHT if sensed else errors.SKY_PLANE
    lighter = np.vstack([np.zeros(planes), np.full(planes, spreads[common]), np.zeros(planes)])
    lighter = np.vstack([lighter, spreads[own] * np.eye(planes), np.zeros((planes, planes))])
    warm = errors.SENSOR_HEAT if sensed else errors.AIR_HEAT
    warmer = np.vstack([np.zeros(planes), np.zeros(planes), np.full(planes, spreads[warm])])
    alone = spreads[errors.PLANE_HEAT] * np.eye(planes)
    warmer = np.vstack([warmer, np.zeros((planes, planes)), alone])
    glass = conditions.poa_global * (1.0 + lighter / 100.0)
    heat = np.stack(
        [
            cells_behind(plane, conditions.temp_module[at] + warmer[:, at], glass[:, at])
            for at, plane in enumerate(site.planes)
        ],
        axis=1,
    )
    return glass * _passed(site, conditions), heat


def _input(name: str, point: OperatingPoint) -> list[ExpectedReading]:
    spreads = spreads_of()
    volt = np.hypot(spreads[errors.METER_V], spreads[errors.MODULES_V]) / 100.0
    ampere = np.hypot(spreads[errors.METER_A], spreads[errors.MODULES_A]) / 100.0
    rows = []
    for quantity, values, own in (
        ("v_dc", point.v_dc, volt),
        ("i_dc", point.i_dc, ampere),
        ("p_dc", point.p_dc, np.hypot(volt, ampere)),
    ):
        value = float(values[0])
        off = float(np.hypot(np.sqrt(np.square(values[1:] - value).sum()), own * value))
        rows.append(ExpectedReading(name, quantity, value, value - BAND * off, value + BAND * off))
    return rows
