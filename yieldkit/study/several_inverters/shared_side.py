"""What wirings over several inverters deliver, exactly, from their solved trackers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.site.site import TrackerStrings, Wiring
from yieldkit.physics.ac.inverter_totals import own_powers
from yieldkit.study.several_inverters.inverter_rows import SolvedKind
from yieldkit.study.simulation.connection_point import ConnectionPoint, connection_point
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.wiring_energies.behind_meter import (
    Delivered,
    OwnLimits,
    coupled_inputs,
    dark_kwh,
    delivered_at,
    own_limits,
    simulated_whole,
    weights_of,
)

Wired = tuple[tuple[int, ...], ...]
"""The rows on the inputs of each inverter, inverter by inverter, idle inputs left out."""


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
    limits : OwnLimits
        The inverters' limits at those steps.
    dark_kwh : float
        Energy of the dark steps, the same for every wiring [kWh].
    """

    prepared: Prepared
    kinds: tuple[SolvedKind, ...]
    kind_of: IntArray
    lit: IntArray
    point: ConnectionPoint
    limits: OwnLimits
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
        return self.solved_whole(wired)[0]

    def solved_whole(self, wired: Wired) -> tuple[Delivered, bool]:
        """Return what a wiring delivers, and whether its trackers had to be solved for that."""
        sides = [self.powers(place, rows) for place, rows in enumerate(wired)]
        dc, converted = (np.column_stack(each) for each in zip(*sides, strict=True))
        if coupled_inputs(self.prepared.site) or self.limits.bind(dc, converted):
            wiring = self.wiring(wired, "candidate")
            return simulated_whole(self.prepared, wiring, self._solutions), True
        weights = weights_of(self.prepared, self.lit)
        found = delivered_at(self.prepared, self.point, self.limits, dc, converted, weights)
        return found._replace(energy_kwh=found.energy_kwh + self.dark_kwh), False


def shared_side(
    prepared: Prepared, kinds: tuple[SolvedKind, ...], kind_of: IntArray, lit: IntArray
) -> SharedSide:
    """Return the inverters behind their connection point at the steps with light.

    Parameters
    ----------
    prepared, kinds, kind_of, lit
        As of `SharedSide`.
    """
    point, limits = connection_point(prepared), own_limits(prepared)
    return SharedSide(
        prepared,
        kinds,
        kind_of,
        lit,
        point.at(lit),
        limits.at(lit),
        dark_kwh(prepared, point, limits, lit),
    )
