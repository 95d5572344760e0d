"""What a meter reads at strings under each slip, as the unknowns of instruments and light vary."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.site.site import Site
from yieldkit.physics.circuit.api import CellConditions, Run, StringCircuit, string_current
from yieldkit.study.handover import reference_errors as errors
from yieldkit.study.handover.meter import CURRENT, VOLTAGE, MeterReadings, Surroundings
from yieldkit.study.handover.module_tables import ModuleTable, cell_groups
from yieldkit.study.handover.slips import Slip

COMMON = (
    errors.METER_V,
    errors.METER_A,
    errors.MODULES_V,
    errors.MODULES_A,
    errors.SENSOR_LIGHT,
    errors.SENSOR_HEAT,
    errors.SKY_LIGHT,
    errors.AIR_HEAT,
    errors.CELL_HEAT,
)
"""Unknowns that all readings share; each plane's own light and heat come after them."""
_FLOOR_V, _FLOOR_A = 0.5, 0.02
"""What a meter shows at nothing may be off by so much [V], [A]."""
_MISREAD_SHARE, _MISREAD_V_A = 0.3, (5.0, 0.3)
"""How far a reading that is worth nothing may be off: share of its value, and [V], [A]."""
_NONE_SHARE = 0.12
"""The same for all readings where none of the slips explains them."""


@dataclass(frozen=True)
class StringModel:
    """Readings as functions of the unknowns, for all slips at once.

    Parameters
    ----------
    site : Site
        The site.
    slips : tuple of Slip
        The slips.
    readings : MeterReadings
        The readings.
    around : Surroundings
        Light and heat under each slip.
    tables : tuple of ModuleTable
        Cell groups of each plane.
    spreads : mapping of str to float
        Standard deviation of each cause, in % or K.
    """

    site: Site
    slips: tuple[Slip, ...]
    readings: MeterReadings
    around: Surroundings
    tables: tuple[ModuleTable, ...]
    spreads: Mapping[str, float]

    @property
    def unknowns(self) -> int:
        """How many unknowns there are."""
        return len(COMMON) + 2 * len(self.tables)

    @property
    def value(self) -> FloatArray:
        """What was read [V or A] (reading,)."""
        return self.readings.value

    def only(self, at: IntArray) -> StringModel:
        """Return the same for some of the slips, by their positions."""
        slips = tuple(self.slips[own] for own in at)
        around = self.around._replace(
            light=self.around.light[at],
            on_glass=self.around.on_glass[at],
            heat=self.around.heat[at],
        )
        return replace(self, slips=slips, around=around)

    def at(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what is read, and how it follows the unknowns.

        Parameters
        ----------
        unknowns : ndarray
            In standard deviations (slip, unknown).

        Returns
        -------
        tuple of ndarray
            Values [V or A] (slip, reading) and slopes (slip, reading, unknown).
        """
        of_light, of_heat = self._light_by(), self._heat_by()
        light = self.around.light * np.exp(np.einsum("hu,mpu->hmp", unknowns, of_light))
        heat = self.around.heat + np.einsum("hu,hmpu->hmp", unknowns, of_heat)
        volts, volts_by, amperes, amperes_by = self._at(light, heat)
        meters = np.zeros((2, self.unknowns))
        for quantity, causes in enumerate(
            ((errors.METER_V, errors.MODULES_V), (errors.METER_A, errors.MODULES_A))
        ):
            for cause in causes:
                meters[quantity, COMMON.index(cause)] = self.spreads[cause] / 100.0
        own = meters[self.readings.quantity]
        gain = np.exp(unknowns @ own.T)
        is_volt = self.readings.quantity == VOLTAGE
        bare = np.where(is_volt, volts, amperes) * gain
        by_light = np.where(is_volt[:, None], volts_by[0], amperes_by[0])
        by_heat = np.where(is_volt[:, None], volts_by[1], amperes_by[1])
        slopes = np.einsum("hmp,mpu->hmu", by_light, of_light)
        slopes += np.einsum("hmp,hmpu->hmu", by_heat, of_heat)
        return bare, bare[..., None] * (own[None] + slopes)

    def noise(self, values: FloatArray) -> FloatArray:
        """Return standard deviations of single readings [V or A], as `values` (..., reading)."""
        is_volt = self.readings.quantity == VOLTAGE
        volt, ampere = self.spreads[errors.READING_V], self.spreads[errors.READING_A]
        share = np.where(is_volt, volt, ampere) / 100.0
        return np.hypot(share * values, np.where(is_volt, _FLOOR_V, _FLOOR_A))

    def noise_under(self) -> FloatArray:
        """Return the standard deviation of each reading by itself (slip, reading).

        One that a slip calls worth nothing may be far off.
        """
        plain, _ = self.at(np.zeros((len(self.slips), self.unknowns)))
        noise = self.noise(plain)
        floor = np.where(self.readings.quantity == VOLTAGE, *_MISREAD_V_A)
        value = np.abs(self.value)
        for at, own in enumerate(self.slips):
            if own.doubt is None:
                continue
            every = own.doubt < 0
            chosen = slice(None) if every else slice(own.doubt, own.doubt + 1)
            share = _NONE_SHARE if every else _MISREAD_SHARE
            size = np.maximum(value, np.abs(plain[at]))
            noise[at, chosen] = np.hypot(noise[at], np.hypot(share * size, floor))[chosen]
        return noise

    def _light_by(self) -> FloatArray:
        """Return how the logarithm of light follows the unknowns (reading, plane, unknown)."""
        by_sensor = self.around.lit_by_sensor
        readings, planes = by_sensor.shape
        found = np.zeros((readings, planes, self.unknowns))
        read = bool((~np.isnan(self.readings.poa_global)).any())
        common = errors.SENSOR_LIGHT if read else errors.SKY_LIGHT
        found[..., COMMON.index(common)] = self.spreads[common] / 100.0
        own, sky = self.spreads[errors.PLANE_LIGHT], self.spreads[errors.SKY_PLANE]
        for plane in range(planes):
            found[:, plane, len(COMMON) + plane] = np.where(by_sensor[:, plane], own, sky) / 100.0
        return found

    def _heat_by(self) -> FloatArray:
        """Return how cells' heat follows the unknowns [K] (slip, reading, plane, unknown)."""
        by_sensor = self.around.warm_by_sensor
        readings, planes = by_sensor.shape
        found = np.zeros((len(self.slips), readings, planes, self.unknowns))
        read = bool((~np.isnan(self.readings.temp_module)).any())
        common = errors.SENSOR_HEAT if read else errors.AIR_HEAT
        found[..., COMMON.index(common)] = self.spreads[common]
        above = self.around.on_glass / 1000.0
        found[..., COMMON.index(errors.CELL_HEAT)] = self.spreads[errors.CELL_HEAT] * above
        for plane in range(planes):
            found[:, :, plane, len(COMMON) + planes + plane] = self.spreads[errors.PLANE_HEAT]
        return found

    def _at(
        self, light: FloatArray, heat: FloatArray
    ) -> tuple[
        FloatArray, tuple[FloatArray, FloatArray], FloatArray, tuple[FloatArray, FloatArray]
    ]:
        """Return voltages and currents (slip, reading), and slopes of their logarithms."""
        groups = np.stack([own.groups for own in self.slips])[:, self.readings.string]
        sign = np.stack([own.sign for own in self.slips])[:, self.readings.string]
        closed = 1.0 - np.stack([own.open for own in self.slips])[:, self.readings.string]
        volts = np.zeros(light.shape[:2])
        volts_by = np.zeros(light.shape), np.zeros(light.shape)
        currents = np.zeros(light.shape)
        currents_by = np.zeros(light.shape), np.zeros(light.shape)
        at_voltage = np.flatnonzero(self.readings.quantity == VOLTAGE)
        at_current = np.flatnonzero(self.readings.quantity == CURRENT)
        for plane, table in enumerate(self.tables):
            own = groups[:, at_voltage, plane]
            here = light[:, at_voltage, plane], heat[:, at_voltage, plane]
            each, *by = table.open_circuit(*here)
            volts[:, at_voltage] += own * each
            for kept, slope in zip(volts_by, by, strict=True):
                kept[:, at_voltage, plane] = own * slope
            here = light[:, at_current, plane], heat[:, at_current, plane]
            currents[:, at_current, plane], *by = table.short_circuit(*here)
            for kept, slope in zip(currents_by, by, strict=True):
                kept[:, at_current, plane] = slope
        for kept in volts_by:
            np.divide(kept, volts[..., None], out=kept, where=volts[..., None] > 0.0)
        # The brightest modules carry the current of a short circuit; diodes bypass the others.
        used = np.where(groups > 0.0, currents, -np.inf)
        leading = np.argmax(used, axis=2)[..., None]
        amperes = np.take_along_axis(currents, leading, axis=2)[..., 0]
        self._mixed(groups, light, heat, amperes)
        mask = np.zeros(light.shape)
        np.put_along_axis(mask, leading, 1.0, axis=2)
        whole = closed * sign
        return (
            volts * whole,
            volts_by,
            amperes * closed,
            (currents_by[0] * mask, currents_by[1] * mask),
        )

    def _mixed(
        self, groups: FloatArray, light: FloatArray, heat: FloatArray, amperes: FloatArray
    ) -> None:
        """Fill in currents of strings over several planes: the circuit solves them."""
        several = (groups > 0.0).sum(axis=2) > 1
        several &= self.readings.quantity == CURRENT
        if not several.any():
            return
        at = np.argwhere(several)
        made_of = groups[several]
        for one in np.unique(made_of, axis=0):
            rows = at[(made_of == one).all(axis=1)]
            here = light[rows[:, 0], rows[:, 1]], heat[rows[:, 0], rows[:, 1]]
            amperes[rows[:, 0], rows[:, 1]] = mixed_current(self.site, one, *here)


def runs_of(groups: FloatArray) -> tuple[Run, ...]:
    """Return cell groups on each plane (plane,) as runs of a circuit."""
    return tuple(Run(at, round(count)) for at, count in enumerate(groups) if count > 0.0)


def mixed_current(
    site: Site, groups: FloatArray, light: FloatArray, heat: FloatArray
) -> FloatArray:
    """Return the short-circuit current of a string over several planes [A] (row,).

    Parameters
    ----------
    site : Site
        Its planes and module types.
    groups : ndarray
        Cell groups on each plane (plane,).
    light, heat : ndarray
        In the cells [W/m2], [degC] (row, plane).
    """
    planes = zip(site.planes, light.T, heat.T, strict=True)
    each = [cell_groups(site, plane, own, warm) for plane, own, warm in planes]
    conditions = CellConditions(*(np.hstack(parts) for parts in zip(*each, strict=True)))
    string = StringCircuit(runs_of(groups), 0.0, False)
    return string_current(conditions, string, np.zeros(len(light)))


def spreads_of(stated: Mapping[str, float] | None = None) -> dict[str, float]:
    """Return the spread of each cause, in % or K.

    Parameters
    ----------
    stated : mapping of str to float, optional
        What the sheet's instruments state of themselves, by the keys of `REFERENCE_ERRORS`.
    """
    return {key: own.spread for key, own in errors.REFERENCE_ERRORS.items()} | dict(stated or {})
