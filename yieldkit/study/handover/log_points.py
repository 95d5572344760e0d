"""Operating points of inputs under every slip at once, and how they follow light and heat."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.models.inverters import MpptInput
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.cables import string_resistance
from yieldkit.physics.circuit.api import (
    CellConditions,
    StringCircuit,
    TrackerLimits,
    operating_point,
)
from yieldkit.study.handover.module_tables import ModuleTable, cell_groups
from yieldkit.study.handover.names import NamedString
from yieldkit.study.handover.slips import Slip
from yieldkit.study.handover.string_model import runs_of
from yieldkit.study.simulation.trackers import tracker_limits

_BRIGHTER, _WARMER_K = 0.01, 0.5
_STEEPEST, _STEEPEST_K = 3.0, 0.05
"""Steeper slopes are a jump from one maximum to another, which says nothing of the way there."""


class Input(NamedTuple):
    """An input of an inverter with its strings.

    Parameters
    ----------
    name : str
        As results name it.
    mppt : MpptInput
        Its limits.
    strings : tuple of int
        Positions of its strings.
    resistances : tuple of float
        Of their cables [ohm].
    """

    name: str
    mppt: MpptInput
    strings: tuple[int, ...]
    resistances: tuple[float, ...]


class Points(NamedTuple):
    """Operating points.

    Parameters
    ----------
    values : tuple of ndarray
        Voltage [V], current [A] and power [W]; 0 where an input doesn't run (slip, step, input).
    by : tuple of tuple of ndarray
        Slopes of their logarithms by the logarithm of each plane's light [1], and by its heat
        [1/K] (slip, step, input, plane).
    """

    values: tuple[FloatArray, FloatArray, FloatArray]
    by: tuple[tuple[FloatArray, FloatArray], ...]


def inputs_of(site: Site, strings: Sequence[NamedString]) -> tuple[Input, ...]:
    """Return the inputs that have strings, in the wiring's order.

    Parameters
    ----------
    site : Site
        The site.
    strings : sequence of NamedString
        The strings of a wiring.
    """
    found = []
    for name in dict.fromkeys(each.input_name for each in strings):
        own = [at for at, each in enumerate(strings) if each.input_name == name]
        cables = [strings[at].string.cable for at in own]
        ohms = tuple(0.0 if each is None else string_resistance(each) for each in cables)
        found.append(Input(name, site.inputs()[name], tuple(own), ohms))
    return tuple(found)


def input_points(
    site: Site,
    tables: Sequence[ModuleTable],
    inputs: Sequence[Input],
    slips: Sequence[Slip],
    conditions: tuple[FloatArray, FloatArray],
    day: IntArray,
) -> Points:
    """Return operating points under each slip, and their slopes.

    What slips have in common is solved together: each distinct set of strings on an input once,
    for all slips that leave it so.

    Parameters
    ----------
    site : Site
        The site.
    tables : sequence of ModuleTable
        Cell groups of each plane.
    inputs : sequence of Input
        From `inputs_of`.
    slips : sequence of Slip
        The slips.
    conditions : tuple of ndarray
        Light in the cells [W/m2] and their temperature [degC] (slip, step, plane).
    day : ndarray of int
        The day of each step: an input starts anew on each (step,).
    """
    light, heat = conditions
    shape = *light.shape[:2], len(inputs)
    slopes = *shape, light.shape[2]
    found = Points(
        (np.zeros(shape), np.zeros(shape), np.zeros(shape)),
        tuple((np.zeros(slopes), np.zeros(slopes)) for _ in range(3)),
    )
    lanes = _Lanes(site, light, heat)
    v_oc = [own.open_circuit_voltage(light[..., p], heat[..., p]) for p, own in enumerate(tables)]
    for at, own in enumerate(inputs):
        groups: dict[tuple[StringCircuit, ...], list[int]] = {}
        for place, slip in enumerate(slips):
            groups.setdefault(_circuit(own, slip), []).append(place)
        for strings, members in groups.items():
            if strings:
                which = np.array(members)
                _solve(found, at, own, strings, which, lanes)
                _stand_still(found, at, own, strings, which, v_oc, day)
    return found


def _circuit(own: Input, slip: Slip) -> tuple[StringCircuit, ...]:
    """Return an input's strings under a slip; none where one drags all down."""
    if (slip.sign[list(own.strings)] < 0.0).any():
        return ()
    found = tuple(
        StringCircuit(runs_of(slip.groups[at]), ohms, own.mppt.blocking_diodes)
        for at, ohms in zip(own.strings, own.resistances, strict=True)
        if not slip.open[at]
    )
    # A string of which nothing is left is a short circuit.
    return found if all(string.runs for string in found) else ()


class _Lanes:
    """Diode parameters of each plane: as it is, brighter, and warmer."""

    def __init__(self, site: Site, light: FloatArray, heat: FloatArray):
        self.shape = light.shape
        moved = [(0.0, 0.0), (_BRIGHTER, 0.0), (0.0, _WARMER_K)]
        self.planes = [
            [
                CellConditions(
                    *(
                        part.reshape(self.shape[:2])
                        for part in cell_groups(
                            site,
                            plane,
                            (light[..., at] * np.exp(brighter)).ravel(),
                            (heat[..., at] + warmer).ravel(),
                        )
                    )
                )
                for brighter, warmer in moved
            ]
            for at, plane in enumerate(site.planes)
        ]

    def of(self, members: IntArray, used: Sequence[int]) -> CellConditions:
        """Return conditions of some slips: as they are, then each used plane moved (row, plane)."""
        moves = [(-1, 0), *((plane, kind) for plane in used for kind in (1, 2))]
        columns = [
            [
                np.stack(
                    [each[kind if plane == at else 0][field][members] for plane, kind in moves]
                )
                for at, each in enumerate(self.planes)
            ]
            for field in range(len(CellConditions._fields))
        ]
        return CellConditions(
            *(np.stack([own.ravel() for own in parts], axis=1) for parts in columns)
        )


def _solve(
    found: Points,
    at: int,
    own: Input,
    strings: tuple[StringCircuit, ...],
    members: IntArray,
    lanes: _Lanes,
) -> None:
    """Fill in the points of an input under slips that leave its strings alike."""
    used = sorted({run.condition for string in strings for run in string.runs})
    point = operating_point(lanes.of(members, used), strings, _never_off(own.mppt))
    shape = 1 + 2 * len(used), len(members), lanes.shape[1]
    for values, by, read in zip(
        found.values, found.by, (point.v_dc, point.i_dc, point.p_dc), strict=True
    ):
        each = np.nan_to_num(read.reshape(shape))
        values[members, :, at] = each[0]
        logs = np.log(np.maximum(each, 1e-3))
        for place, plane in enumerate(used):
            brighter = (logs[1 + 2 * place] - logs[0]) / _BRIGHTER
            warmer = (logs[2 + 2 * place] - logs[0]) / _WARMER_K
            by[0][members, :, at, plane] = np.clip(brighter, -_STEEPEST, _STEEPEST)
            by[1][members, :, at, plane] = np.clip(warmer, -_STEEPEST_K, _STEEPEST_K)


def _never_off(mppt: MpptInput) -> TrackerLimits:
    """Return an input's limits without start and stop, which go from step to step."""
    return tracker_limits(mppt)._replace(
        v_start=0.0,
        p_start=0.0,
        start_delay_s=0.0,
        v_stop=0.0,
        p_stop=0.0,
        restart_delay_s=0.0,
        global_search=True,
    )


def _stand_still(
    found: Points,
    at: int,
    own: Input,
    strings: tuple[StringCircuit, ...],
    members: IntArray,
    v_oc: Sequence[FloatArray],
    day: IntArray,
) -> None:
    """Take out what an input gives before it starts: it gives nothing below its start voltage."""
    highest = np.max(
        [
            np.sum([run.count * v_oc[run.condition][members] for run in string.runs], axis=0)
            for string in strings
        ],
        axis=0,
    )
    limits = tracker_limits(own.mppt)
    volts, power = found.values[0][members, :, at], found.values[2][members, :, at]
    may_start = (highest >= limits.v_start) & (power >= limits.p_start)
    stays = (volts >= limits.v_stop) & (power >= limits.p_stop) & (power > 0.0)
    runs, on = np.zeros(volts.shape, dtype=bool), np.zeros(len(members), dtype=bool)
    for step in range(volts.shape[1]):
        if step and day[step] != day[step - 1]:
            on = np.zeros(len(members), dtype=bool)
        on = (on | may_start[:, step]) & stays[:, step]
        runs[:, step] = on
    for values, slopes in zip(found.values, found.by, strict=True):
        values[members, :, at] *= runs
        for by in slopes:
            by[members, :, at] *= runs[..., None]
