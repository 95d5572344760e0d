"""What the drawn wiring says of a log's inputs: their planes, their size and what none exceeds."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import pvlib

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.config.models.inverters import MpptInput
from yieldkit.config.models.modules import ModuleType
from yieldkit.config.site.site import Site, TrackerStrings, Wiring
from yieldkit.design.equipment.modules import fit_module_type

_BEYOND = 1.6
"""Brightest light behind the edge of a cloud over that of standard test conditions [1]: up to 1.6
was measured (Jarvela et al. (2020), Renewable Energy 152, 1233-1242; from memory)."""
_COLD = 1.25
"""Open-circuit voltage in the coldest light over that at 25 degC [1]: -0.35 %/K over 70 K."""
_MODULES_MORE = 2


class ModulePoint(NamedTuple):
    """A module at standard test conditions: open and short circuit, and the point of most power.

    Parameters
    ----------
    v_oc, i_sc, v_mp, i_mp : float
        [V], [A].
    """

    v_oc: float
    i_sc: float
    v_mp: float
    i_mp: float


class DrawnInputs(NamedTuple):
    """A log's inputs as they are drawn, in the log's order.

    Parameters
    ----------
    names : tuple of str
        As `Site.input_name` gives them.
    mppts : tuple of MpptInput
        Their kinds.
    inverter : ndarray of int
        Position of the inverter of each, in the order of `Site.each_inverter` (tracker,).
    by_power : ndarray
        Share of each plane in the power (tracker, plane).
    by_current : ndarray
        Share of each plane in the current (tracker, plane).
    v_mp, i_mp : ndarray
        At most power in standard test conditions [V], [A] (tracker,).
    v_most, i_most, p_most : ndarray
        What no slip and no light exceeds [V], [A], [W] (tracker,).
    mixed : ndarray of bool
        Whether a string of it lies on several planes (tracker,).
    """

    names: tuple[str, ...]
    mppts: tuple[MpptInput, ...]
    inverter: IntArray
    by_power: FloatArray
    by_current: FloatArray
    v_mp: FloatArray
    i_mp: FloatArray
    v_most: FloatArray
    i_most: FloatArray
    p_most: FloatArray
    mixed: BoolArray


@lru_cache
def module_point(module: ModuleType) -> ModulePoint:
    """Return a module type's points at standard test conditions, from its diode."""
    own = fit_module_type(module).reference
    found = pvlib.pvsystem.singlediode(
        own.photocurrent,
        own.saturation_current,
        own.resistance_series,
        own.resistance_shunt,
        own.n_ns_vth,
    )
    return ModulePoint(*(float(found[name]) for name in ModulePoint._fields))


def drawn_inputs(site: Site, wiring: Wiring, names: tuple[str, ...]) -> DrawnInputs:
    """Return what is drawn of a log's inputs.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring.
    names : tuple of str
        Inputs of the log.

    Raises
    ------
    InputError
        For an input that the wiring doesn't have.
    """
    drawn = {site.input_name(own): own for own in wiring.trackers}
    for name in names:
        if name not in drawn:
            known = ", ".join(f"'{each}'" for each in drawn)
            refuse(f"log, input {name}", f"'{name}'", f"an input of '{wiring.name}': {known}")
    points = _points(site)
    longest, most_amperes = _most(wiring, points)
    rows = [_row(site, drawn[name], points) for name in names]
    power, current, volts, amperes, brightest, modules, mixed = zip(*rows, strict=True)
    mppts, inverters = site.inputs(), [one.name for one in site.each_inverter()]
    on = [drawn[name].inverter if site.several_inverters else inverters[0] for name in names]
    own_power = np.array(modules)
    more = longest * most_amperes
    return DrawnInputs(
        names=names,
        mppts=tuple(mppts[name] for name in names),
        inverter=np.array([inverters.index(str(each)) for each in on], dtype=np.int64),
        by_power=np.array(power),
        by_current=np.array(current),
        v_mp=np.array(volts),
        i_mp=np.array(amperes),
        v_most=np.full(len(names), _COLD * longest),
        i_most=_BEYOND * (np.array(brightest) + most_amperes),
        p_most=_BEYOND * (own_power + more),
        mixed=np.array(mixed),
    )


def _points(site: Site) -> dict[str, ModulePoint]:
    """Return the points of the modules on each plane, by its name."""
    types = {module.name: module for module in site.module_types}
    return {plane.name: module_point(types[plane.module_type]) for plane in site.planes}


def _most(wiring: Wiring, points: dict[str, ModulePoint]) -> tuple[float, float]:
    """Return the longest string's open-circuit voltage [V] and the largest module current [A].

    Two modules more than the longest has count in: a slip may put any string on any input.
    """
    longest = 0.0
    for tracker in wiring.trackers:
        for string in tracker.strings:
            volts = sum(own.modules * points[own.plane].v_oc for own in string.groups)
            each = max(points[own.plane].v_oc for own in string.groups)
            longest = max(longest, volts + _MODULES_MORE * each)
    return longest, max(point.i_sc for point in points.values())


def _row(
    site: Site, tracker: TrackerStrings, points: dict[str, ModulePoint]
) -> tuple[FloatArray, FloatArray, float, float, float, float, bool]:
    """Return shares of planes in power and current, and sizes of an input."""
    planes = [plane.name for plane in site.planes]
    power, current = np.zeros(len(planes)), np.zeros(len(planes))
    volts = amperes = brightest = 0.0
    mixed = False
    for string in tracker.strings:
        own = {group.plane for group in string.groups}
        mixed |= len(own) > 1
        modules = sum(group.modules for group in string.groups)
        length = sum(group.modules * points[group.plane].v_mp for group in string.groups)
        volts = max(volts, length)
        amperes += min(points[plane].i_mp for plane in own)
        brightest += max(points[plane].i_sc for plane in own)
        for group in string.groups:
            point, at = points[group.plane], planes.index(group.plane)
            power[at] += group.modules * point.v_mp * point.i_mp
            current[at] += point.i_mp * group.modules / modules
    watts = float(power.sum())
    return power / watts, current / current.sum(), volts, amperes, brightest, watts, mixed
