"""What a plant's log reads under each slip, as light, heat, clock and instruments vary."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.config.site.site import Site
from yieldkit.study.handover import log_errors as own_errors
from yieldkit.study.handover import reference_errors as errors
from yieldkit.study.handover.log_points import Input, Points, input_points
from yieldkit.study.handover.log_rows import LogRows
from yieldkit.study.handover.log_sky import LogSky
from yieldkit.study.handover.log_table import QUANTITIES
from yieldkit.study.handover.module_tables import ModuleTable
from yieldkit.study.handover.slips import Slip
from yieldkit.study.handover.string_model import COMMON

_UNDECIDED, _JUMP = 0.06, 0.03
"""So much more or less light on a plane [1] changes no voltage by more than this share but where
another maximum becomes the highest."""
_NODES = 5
"""Between so many hours of a day errors change along straight lines."""


@dataclass(frozen=True)
class LogModel:
    """Readings of a log as functions of the unknowns, for all slips at once.

    The unknowns are those of a meter's readings (`COMMON`; the meters are the inverters'), each
    plane's light and heat, both once more by the hour of each day, each day's clock, how much
    warmer light makes modules without a thermometer, how much of each plane's light is direct,
    and each column's own error, once for all and by the hour.

    Parameters
    ----------
    site : Site
        The site.
    slips : tuple of Slip
        The slips.
    rows : LogRows
        The readings.
    sky : LogSky
        Light and heat under each slip.
    inputs : tuple of Input
        The inputs.
    tables : tuple of ModuleTable
        Cell groups of each plane.
    spreads : mapping of str to float
        Standard deviation of each common cause, in % or K.
    """

    site: Site
    slips: tuple[Slip, ...]
    rows: LogRows
    sky: LogSky
    inputs: tuple[Input, ...]
    tables: tuple[ModuleTable, ...]
    spreads: Mapping[str, float]

    @property
    def value(self) -> FloatArray:
        """What was read [V, A or W] (reading,)."""
        return self.rows.value

    @property
    def unknowns(self) -> int:
        """How many unknowns there are."""
        return self._columns_from + len(self.rows.columns) * (1 + _NODES)

    def only(self, at: IntArray) -> LogModel:
        """Return the same for some of the slips, by their positions."""
        sky = self.sky._replace(
            light=self.sky.light[at],
            on_glass=self.sky.on_glass[at],
            heat=self.sky.heat[at],
            by_clock=self.sky.by_clock[at],
            by_clouds=self.sky.by_clouds[at],
        )
        return replace(self, slips=tuple(self.slips[own] for own in at), sky=sky)

    def points(self, unknowns: FloatArray) -> Points:
        """Return the operating points of all inputs.

        Parameters
        ----------
        unknowns : ndarray
            In standard deviations (slip, unknown).
        """
        light = self.sky.light * np.exp(np.einsum("hu,hspu->hsp", unknowns, self._light_by))
        heat = self.sky.heat + np.einsum("hu,hspu->hsp", unknowns, self._heat_by)
        return input_points(
            self.site, self.tables, self.inputs, self.slips, (light, heat), self.rows.day
        )

    def at(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what is read, and how it follows the unknowns.

        Parameters
        ----------
        unknowns : ndarray
            In standard deviations (slip, unknown).

        Returns
        -------
        tuple of ndarray
            Values [V, A or W] (slip, reading) and slopes (slip, reading, unknown).
        """
        points = self.points(unknowns)
        gains = self._gains
        values = np.empty(gains.shape[:2])
        slopes = gains.copy()
        for column, (_, quantity) in enumerate(self.rows.columns):
            own = np.flatnonzero(self.rows.column == column)
            if not own.size:
                continue
            kind, step = QUANTITIES.index(quantity), self.rows.step[own]
            at = int(self._input_of[own[0]])
            values[:, own] = points.values[kind][:, step, at]
            more = np.zeros((len(self.slips), own.size, self.unknowns))
            for by, moved in zip(points.by[kind], (self._light_by, self._heat_by), strict=True):
                logs = by[:, step, at]
                for plane in np.flatnonzero(logs.any(axis=(0, 1))):
                    more += logs[..., plane, None] * moved[:, step, plane]
            slopes[:, own] += more
        values *= np.exp(np.einsum("hu,hmu->hm", unknowns, gains))
        return values, values[..., None] * slopes

    def noise_under(self) -> FloatArray:
        """Return the standard deviation of each reading by itself (slip, reading).

        It goes by what was read, so that it is the same under all slips. Rows closer together than
        errors change count less, for they tell the same.
        """
        quantities = [quantity for _, quantity in self.rows.columns]
        share = np.array([own_errors.ROW[own] for own in quantities])[self.rows.column] / 100.0
        floor = np.array([own_errors.FLOOR[own] for own in quantities])[self.rows.column]
        light = self._brightest[self.rows.step, self._input_of]
        dim = np.where(self._kind > 0, own_errors.DIM_W_M2 / np.maximum(light, 50.0), 0.0)
        size = np.abs(self.value)
        clouds = np.abs(self.sky.by_clouds[0]).max(axis=1)[self.rows.step] * (self._kind > 0)
        shares = np.sqrt(np.square(share) + np.square(dim) + np.square(clouds))
        own = np.hypot(shares * size, floor)
        like = max(1.0, own_errors.ALIKE_S / self.rows.apart_s)
        return np.broadcast_to(own * np.sqrt(like), (len(self.slips), own.size)).copy()

    def jumps(self) -> dict[str, BoolArray]:
        """Return for each input of several planes at which steps its voltage is undecided (step,).

        Strings in unlike light have several maxima; where a little more light on one plane would
        make another the highest, the voltage jumps while the power hardly changes.
        """
        planes = self._planes
        moved = np.zeros((1 + 2 * planes, self.unknowns))
        for plane in range(planes):
            at = len(COMMON) + plane
            sensed = self.sky.lit_by_sensor[plane]
            own = self.spreads[errors.PLANE_LIGHT if sensed else errors.SKY_PLANE] / 100.0
            moved[1 + 2 * plane : 3 + 2 * plane, at] = _UNDECIDED / own, -_UNDECIDED / own
        volts = self.only(np.zeros(len(moved), dtype=int)).points(moved).values[0]
        logs = np.log(np.maximum(volts, 1.0))
        far = (np.abs(logs - logs[0]) > _JUMP).any(axis=0)
        several = [
            (self.slips[0].groups[list(own.strings)] > 0.0).any(axis=0).sum() > 1
            for own in self.inputs
        ]
        return {own.name: far[:, at] for at, own in enumerate(self.inputs) if several[at]}

    @property
    def clock_at(self) -> int:
        """Position of the first day's clock among the unknowns."""
        return len(COMMON) + 2 * self._planes + 2 * self._planes * self._nodes

    @property
    def _rise_at(self) -> int:
        return self.clock_at + len(self.rows.clock_spread)

    @property
    def _clouds_at(self) -> int:
        return self._rise_at + 1

    @property
    def _columns_from(self) -> int:
        return self._clouds_at + self._planes

    @property
    def _planes(self) -> int:
        return len(self.tables)

    @property
    def _nodes(self) -> int:
        return _NODES * len(self.rows.clock_spread)

    @cached_property
    def _input_of(self) -> IntArray:
        """The input of each reading (reading,)."""
        names = [own.name for own in self.inputs]
        return np.array([names.index(name) for name, _ in self.rows.columns])[self.rows.column]

    @cached_property
    def _kind(self) -> IntArray:
        """The quantity of each reading, by its place in `QUANTITIES` (reading,)."""
        kinds = np.array([QUANTITIES.index(quantity) for _, quantity in self.rows.columns])
        return kinds[self.rows.column]

    @cached_property
    def _brightest(self) -> FloatArray:
        """Light on the brightest plane of each input as it is drawn [W/m2] (step, input)."""
        groups = self.slips[0].groups
        return np.stack(
            [
                self.sky.on_glass[0][:, groups[list(own.strings)].sum(axis=0) > 0.0].max(axis=1)
                for own in self.inputs
            ],
            axis=1,
        )

    @cached_property
    def _hats(self) -> tuple[FloatArray, FloatArray]:
        """What each node counts at each step: of its own day, and of any (step, node)."""
        moments = self.rows.moments.to_numpy(dtype="datetime64[s]").astype(np.int64) / 3600.0
        by_day = np.zeros((self.rows.steps, self._nodes))
        for day in range(len(self.rows.clock_spread)):
            there = self.rows.day == day
            first = day * _NODES
            by_day[there, first : first + _NODES] = _hats(moments[there])
        return by_day, _hats(np.mod(moments + self.site.site.longitude / 15.0, 24.0))

    @cached_property
    def _light_by(self) -> FloatArray:
        """How the logarithm of light follows the unknowns (slip, step, plane, unknown)."""
        planes, nodes = self._planes, self._nodes
        found = np.zeros((len(self.slips), self.rows.steps, planes, self.unknowns))
        common = errors.SENSOR_LIGHT if self.rows.measured else errors.SKY_LIGHT
        found[..., COMMON.index(common)] = self.spreads[common] / 100.0
        hats, _ = self._hats
        for plane in range(planes):
            sensed = self.sky.lit_by_sensor[plane]
            own = self.spreads[errors.PLANE_LIGHT if sensed else errors.SKY_PLANE]
            drift = own_errors.LIGHT_DRIFT if sensed else own_errors.SKY_DRIFT
            found[:, :, plane, len(COMMON) + plane] = own / 100.0
            first = len(COMMON) + 2 * planes + plane * nodes
            found[:, :, plane, first : first + nodes] = drift / 100.0 * hats
            found[:, :, plane, self._clouds_at + plane] = self.sky.by_clouds[..., plane]
        for day, spread in enumerate(self.rows.clock_spread):
            there = (self.rows.day == day)[:, None]
            found[..., self.clock_at + day] = spread * self.sky.by_clock * there
        return found

    @cached_property
    def _heat_by(self) -> FloatArray:
        """How cells' heat follows the unknowns [K] (slip, step, plane, unknown)."""
        planes, nodes = self._planes, self._nodes
        found = np.zeros((len(self.slips), self.rows.steps, planes, self.unknowns))
        warm = bool(self.sky.warm_by_sensor.any())
        common = errors.SENSOR_HEAT if warm else errors.AIR_HEAT
        found[..., COMMON.index(common)] = self.spreads[common]
        above, there = self.sky.on_glass / 1000.0, self.sky.warm_by_sensor
        found[..., COMMON.index(errors.CELL_HEAT)] = self.spreads[errors.CELL_HEAT] * above
        known = above[..., there].mean(axis=2, keepdims=True) if warm else 0.0
        found[..., self._rise_at] = own_errors.RISE * np.where(there, 0.0, above - known)
        hats, _ = self._hats
        for plane in range(planes):
            found[:, :, plane, len(COMMON) + planes + plane] = self.spreads[errors.PLANE_HEAT]
            sensed = self.sky.warm_by_sensor[plane]
            drift = own_errors.HEAT_DRIFT if sensed else own_errors.AIR_DRIFT
            first = len(COMMON) + 2 * planes + (planes + plane) * nodes
            found[:, :, plane, first : first + nodes] = drift * hats
        return found

    @cached_property
    def _gains(self) -> FloatArray:
        """How the logarithm of a reading follows the instruments (slip, reading, unknown)."""
        found = np.zeros((len(self.slips), self.value.size, self.unknowns))
        for without, causes in (
            (QUANTITIES.index("i_dc"), (errors.METER_V, errors.MODULES_V)),
            (QUANTITIES.index("v_dc"), (errors.METER_A, errors.MODULES_A)),
        ):
            has = (self._kind != without).astype(float)
            for cause in causes:
                found[..., COMMON.index(cause)] = has * self.spreads[cause] / 100.0
        _, by_hour = self._hats
        for at, (_, quantity) in enumerate(self.rows.columns):
            there = np.flatnonzero(self.rows.column == at)
            first = self._columns_from + at * (1 + _NODES)
            for place, slip in enumerate(self.slips):
                share = _column_error(quantity, slip.doubt, at) / 100.0
                found[place, there, first] = share
                more = own_errors.BY_THE_HOUR * share * by_hour[self.rows.step[there]]
                found[place, there, first + 1 : first + 1 + _NODES] = more
        return found


def _column_error(quantity: str, doubt: int | None, at: int) -> float:
    """Return how far a column may be off under a slip [%]."""
    if doubt == at:
        return own_errors.MISREAD
    return own_errors.COLUMN[quantity] if doubt is None or doubt >= 0 else own_errors.NONE


def _hats(hours: FloatArray) -> FloatArray:
    """Return what each node counts at some hours, with straight lines between (step, node)."""
    nodes = np.linspace(hours.min(), hours.max() + 1e-6, _NODES)
    return np.stack([np.interp(hours, nodes, own) for own in np.eye(_NODES)], axis=1)
