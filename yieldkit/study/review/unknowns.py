"""What may be otherwise although a plant is right: how bins follow it, and how widely it varies."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.base.measured_planes import CELL, MODULE, measured_name
from yieldkit.study.handover import reference_errors as errors
from yieldkit.study.review import shapes
from yieldkit.study.review.beside import ON_PLANES, ON_SOME_PLANES, Beside
from yieldkit.study.review.bins import CURRENT, VOLTAGE, Bins
from yieldkit.study.review.reckoned import measured_in, reckoned_by_hour
from yieldkit.study.review.shapes import Probe
from yieldkit.study.uncertainty.unknowns import UNKNOWNS

LIGHT, PLANE, HEAT, PLANE_HEAT = "light", "plane's light", "heat", "plane's heat"
TILT, AZIMUTH, GLASS, DARK = "tilt", "azimuth", "glass", "low light"
METER_V, METER_A, MODULES_V, TIME = "inverter's volts", "inverter's amperes", "modules", "time"
CLOCK, RECKONED = "clock", "reckoned light"
_GLASS_SHARE, _DARK_PERCENT, _TIME_MIN, _CLOCK_MIN = 0.3, 1.0, 2.0, 2.0
"""How much of the glass's loss, percent an e-fold of light and minutes may be off; common practice,
no source."""


class Unknown(NamedTuple):
    """Something that may be otherwise in a right plant.

    Parameters
    ----------
    kind : str
        What it is.
    of : int
        Which plane or input; -1 for all.
    spread : float
        Standard deviation, in its unit.
    shape : ndarray
        How bins' logarithms follow it, by its unit (bin,).
    """

    kind: str
    of: int
    spread: float
    shape: FloatArray


def unknowns(probe: Probe) -> tuple[Unknown, ...]:
    """Return what may be otherwise although a plant is right.

    Spreads are those that the handover's judge and the estimate's draws state.

    Parameters
    ----------
    probe : Probe
        The log's days.
    """
    bins, own = probe.bins, probe.own
    amount, volts = bins.quantity != VOLTAGE, bins.quantity == VOLTAGE
    found = []
    dirts = [shapes.dirtied(probe, plane) for plane in range(len(own.site.planes))]
    # Light that reads one percent high lets expect one percent more: as dirt does.
    found.append(Unknown(LIGHT, -1, _common_light(own), np.sum(dirts, axis=0)))
    found.append(Unknown(HEAT, -1, *_common_heat(probe)))
    drawn = {each.name: each.spread / math.sqrt(3.0) for each in UNKNOWNS}
    for plane, dirt in enumerate(dirts):
        found += [
            Unknown(PLANE, plane, _plane_light(own, plane), dirt),
            Unknown(PLANE_HEAT, plane, _plane_heat(own, plane), shapes.warmed(probe, plane)),
            Unknown(TILT, plane, drawn["tilt"], shapes.tilted(probe, plane)),
            Unknown(AZIMUTH, plane, drawn["azimuth"], shapes.turned(probe, plane)),
            Unknown(GLASS, plane, _GLASS_SHARE, shapes.glass_loss(probe, plane)),
            Unknown(DARK, plane, _DARK_PERCENT, shapes.low_light(probe, plane)),
        ]
    found += [Unknown(RECKONED, of, 1.0, shape) for of, shape in reckoned_by_hour(probe)]
    modules = errors.REFERENCE_ERRORS[errors.MODULES_V].spread
    found.append(Unknown(MODULES_V, -1, modules, np.where(bins.quantity != CURRENT, 0.01, 0.0)))
    found.append(Unknown(TIME, -1, _TIME_MIN, shapes.light_ahead(probe)))
    found.append(Unknown(CLOCK, -1, _CLOCK_MIN, shapes.clock_ahead(probe)))
    for tracker in range(len(own.names)):
        here = bins.tracker == tracker
        meter_a = errors.REFERENCE_ERRORS[errors.METER_A].spread
        meter_v = errors.REFERENCE_ERRORS[errors.METER_V].spread
        found.append(Unknown(METER_A, tracker, meter_a, np.where(here & amount, 0.01, 0.0)))
        if (here & volts).any():
            found.append(Unknown(METER_V, tracker, meter_v, np.where(here & volts, 0.01, 0.0)))
    return tuple(found)


def matrix(found: tuple[Unknown, ...]) -> tuple[FloatArray, FloatArray]:
    """Return columns (bin, unknown) and standard deviations (unknown,)."""
    columns = np.stack([each.shape for each in found], axis=1)
    return columns, np.array([each.spread for each in found])


def spread_of(found: tuple[Unknown, ...], bins: Bins, share: FloatArray) -> float:
    """Return the standard deviation of the logarithm of energies' ratio in a right plant [1].

    Parameters
    ----------
    found : tuple of Unknown
        What may be otherwise.
    bins : Bins
        The bins.
    share : ndarray
        What share of the energy each bin is (bin,), from `shares`; the difference of two for the
        ratio of two ratios.
    """
    systematic = sum((float(share @ each.shape) * each.spread) ** 2 for each in found)
    return math.sqrt(systematic + float(np.square(share * bins.spread).sum()))


def shares(bins: Bins, there: BoolArray) -> FloatArray:
    """Return what share of some bins' energy each is [1] (bin,); nan where they have none.

    Volts and amperes of one input and hour are two bins of the same energy, and count both.

    Parameters
    ----------
    bins : Bins
        The bins.
    there : ndarray of bool
        Those that belong (bin,).
    """
    total = float(bins.energy[there & (bins.quantity != VOLTAGE)].sum())
    if total <= 0.0:
        return np.full(there.size, math.nan)
    return np.where(there, bins.energy, 0.0) / total


def _common_light(own: Beside) -> float:
    """Return how far all light may be off together [%], with the modules' current."""
    sensor = errors.SENSOR_LIGHT
    if own.light not in (ON_PLANES, ON_SOME_PLANES) and own.log.weather is None:
        sensor = errors.SKY_LIGHT
    both = (errors.REFERENCE_ERRORS[key].spread for key in (sensor, errors.MODULES_A))
    return math.hypot(*both)


def _plane_light(own: Beside, plane: int) -> float:
    """Return how far a plane's own light may be off [%], with its modules' tolerance."""
    key = errors.PLANE_LIGHT if measured_in(own, plane) else errors.SKY_PLANE
    tolerance = next(each.spread for each in UNKNOWNS if each.name == "module tolerance")
    return math.hypot(errors.REFERENCE_ERRORS[key].spread, tolerance)


def _warm(own: Beside, plane: int) -> bool:
    name = own.site.planes[plane].name
    return any(measured_name(quantity, name) in own.weather for quantity in (MODULE, CELL))


def _common_heat(probe: Probe) -> tuple[float, FloatArray]:
    """Return how far all temperatures may be off [K], and how bins follow."""
    spread = errors.REFERENCE_ERRORS[errors.SENSOR_HEAT].spread
    return spread, shapes.warmed(probe, None)


def _plane_heat(own: Beside, plane: int) -> float:
    """Return how far a plane's cells may be warmer than said [K], in full light."""
    key = errors.PLANE_HEAT if _warm(own, plane) else errors.AIR_HEAT
    return math.hypot(
        errors.REFERENCE_ERRORS[key].spread, errors.REFERENCE_ERRORS[errors.CELL_HEAT].spread
    )
