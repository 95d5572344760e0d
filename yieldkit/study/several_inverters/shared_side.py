"""What wirings over several inverters deliver, exactly, from their solved trackers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.site.site import Site, TrackerStrings, Wiring
from yieldkit.physics.ac.inverter_totals import own_powers
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.study.several_inverters.inverter_rows import SolvedKind
from yieldkit.study.simulation.ac_chain import SAME, off_fractions, off_together
from yieldkit.study.simulation.ac_side import alternating_side
from yieldkit.study.simulation.connection_point import ConnectionPoint, connection_point
from yieldkit.study.simulation.dc_side import direct_sides
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import Solutions

Wired = tuple[tuple[int, ...], ...]
"""The rows on the inputs of each inverter, inverter by inverter, idle inputs left out."""

_AT_THE_METER = [AC_LIMIT["export"], AC_LIMIT["voltage-dependent power"]]
_SURELY = 0.9
"""A power below this share of the DC limit is reached even where that limit binds."""


class Delivered(NamedTuple):
    """What a wiring delivers in the weather's period (a year's mean of several).

    Parameters
    ----------
    energy_kwh : float
        Energy delivered [kWh].
    held_back_kwh : float
        Energy that limits of AC power and connection hold back [kWh].
    capped_hours : float
        Hours with any inverter at such a limit.
    limited_kwh : float
        Of the energy held back: by the export limit, and by power that falls with the voltage;
        the rest is clipped by the inverters' own limits.
    """

    energy_kwh: float
    held_back_kwh: float
    capped_hours: float
    limited_kwh: float


@dataclass(frozen=True)
class SharedSide:
    """Inverters behind one connection point at the steps with light.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    kinds : tuple of SolvedKind
        What may hang on each kind of inverter.
    kind_of : ndarray of int
        The kind of each inverter (inverter,).
    lit : ndarray of int
        The steps with light.
    point : ConnectionPoint
        The connection point at those steps.
    dark_kwh : float
        Energy of the dark steps, the same for every wiring [kWh].
    """

    prepared: Prepared
    kinds: tuple[SolvedKind, ...]
    kind_of: IntArray
    lit: IntArray
    point: ConnectionPoint
    dark_kwh: float
    _solutions: Solutions = field(default_factory=Solutions)

    @property
    def names(self) -> tuple[str, ...]:
        """The inverters."""
        return tuple(one.name for one in self.prepared.site.each_inverter())

    def solved(self, inverter: int) -> SolvedKind:
        """Return what may hang on an inverter."""
        return self.kinds[int(self.kind_of[inverter])]

    def powers(self, inverter: int, rows: Sequence[int]) -> tuple[FloatArray, FloatArray]:
        """Return an inverter's DC power and AC power before any limit [W] (lit step,)."""
        own = self.solved(inverter)
        inputs = np.concatenate([np.array(rows, dtype=np.int64), own.fixed_rows])
        return own_powers(inputs, own.arrangements, own.path)

    def wiring(self, wired: Wired, name: str) -> Wiring:
        """Return rows on inverters as a wiring of the site file."""
        site = self.prepared.site
        trackers = []
        for place, (one, rows) in enumerate(zip(site.each_inverter(), wired, strict=True)):
            own = self.solved(place)
            taken = {each.mppt: each for each in own.kind.fixed}
            taken |= {
                mppt: TrackerStrings(mppt=mppt, strings=own.strings(row))
                for mppt, row in own.inputs(rows)
            }
            trackers += [
                taken[mppt.name].model_copy(update={"inverter": one.name})
                for mppt in one.site.single_inverter.mppts
                if mppt.name in taken
            ]
        return Wiring(name=name, trackers=tuple(trackers))

    def delivered(self, wired: Wired) -> Delivered:
        """Return what a wiring delivers, as `simulate` does."""
        if coupled_inputs(self.prepared.site):
            return self._whole(wired)
        sides = [self.powers(place, rows) for place, rows in enumerate(wired)]
        dc, converted = (np.column_stack(each) for each in zip(*sides, strict=True))
        caps = np.column_stack([self.solved(place).cap for place in range(len(wired))])
        offer = np.minimum(converted, caps)
        limits = np.array([self.solved(place).dc_limit for place in range(len(wired))])
        over = dc > limits * (1.0 + 1e-12)
        if (over & ((offer > _SURELY * limits) | (offer >= converted))).any():
            return self._whole(wired)
        drawn = self.drawn(dc)
        fed = self.point.fed(offer, drawn)
        site = self.prepared.site
        off = off_fractions(site, self.point, drawn, fed)
        kept = (1.0 - off_together(drawn, fed, off)) * site.grid.availability_percent / 100.0
        hours = self.prepared.step_hours
        held = np.maximum(converted - fed.p, 0.0)
        at_meter = np.isin(fed.limit, _AT_THE_METER)
        return Delivered(
            float((kept * fed.arriving - fed.taken).sum()) * hours / 1000.0 + self.dark_kwh,
            float(held.sum()) * hours / 1000.0,
            float((held > SAME * converted).any(axis=1).sum()) * hours,
            float(held[at_meter].sum()) * hours / 1000.0,
        )

    def drawn(self, dc: FloatArray) -> FloatArray:
        """Return own consumption at DC powers [W] (time, inverter)."""
        every = [self.solved(place) for place in range(dc.shape[1])]
        night = np.array([own.night for own in every])
        found: FloatArray = np.where(dc <= 0.0, night, 0.0)
        found += np.array([own.auxiliary for own in every])
        return found

    def _whole(self, wired: Wired) -> Delivered:
        """Simulate a wiring whole: its inputs share limits of their inverter."""
        directs = direct_sides(self.prepared, self.wiring(wired, "candidate"), self._solutions)
        side = alternating_side(self.prepared, directs)
        total = self.prepared.total
        at_meter = np.isin(side.ac_limit, _AT_THE_METER)
        return Delivered(
            total(side.chain.available),
            total(side.p_held_back.sum(axis=1)),
            self.prepared.hours(side.clipped | side.derated),
            total(np.where(at_meter, side.p_held_back, 0.0).sum(axis=1)),
        )


def coupled_inputs(site: Site) -> bool:
    """Tell whether inputs of an inverter are coupled hour by hour, so that no table answers."""
    for one in site.each_inverter():
        chosen = one.site.single_inverter
        by_voltage = any(point.dc_voltage_v is not None for point in chosen.derating)
        lower_top = any(mppt.max_operating_voltage_v is not None for mppt in chosen.mppts)
        if chosen.max_dc_power_pairs or by_voltage or lower_top:
            return True
    return False


def shared_side(
    prepared: Prepared, kinds: tuple[SolvedKind, ...], kind_of: IntArray, lit: IntArray
) -> SharedSide:
    """Return the inverters behind their connection point at the steps with light.

    Parameters
    ----------
    prepared, kinds, kind_of, lit
        As of `SharedSide`.
    """
    point = connection_point(prepared)
    dark = np.setdiff1d(np.flatnonzero(prepared.present), lit)
    side = SharedSide(prepared, kinds, kind_of, lit, _at(point, lit), 0.0)
    nothing = np.zeros((dark.size, kind_of.size))
    fed = _at(point, dark).fed(nothing, side.drawn(nothing))
    share = prepared.site.grid.availability_percent / 100.0
    power = float((share * fed.arriving - fed.taken).sum())
    return SharedSide(
        prepared, kinds, kind_of, lit, side.point, power * prepared.step_hours / 1000.0
    )


def _at(point: ConnectionPoint, steps: IntArray) -> ConnectionPoint:
    return point._replace(
        stiff_v=point.stiff_v[steps], load=point.load[steps], times=point.times[steps]
    )
