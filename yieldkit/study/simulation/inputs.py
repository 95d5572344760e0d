"""The inputs of all inverters side by side, in the order of the wiring."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.simulation.dc_side import DirectSide, Points
from yieldkit.study.simulation.trackers import TrackerStates


class Inputs(NamedTuple):
    """All inputs in use.

    Parameters
    ----------
    names : tuple of str
        Of the inputs; with their inverter where there are several.
    string_names : tuple of str
        Of the strings.
    inverter : ndarray of int
        Position of the inverter of each input (tracker,).
    string_tracker, string_modules : ndarray of int
        Position of the input each string hangs on, and its modules (string,).
    states : tuple of TrackerStates
        The inputs' states for the loss budget.
    points : Points
        Final points (time, tracker), (time, string).
    p_dc_available : ndarray
        Power the inputs could draw [W] (time, tracker).
    """

    names: tuple[str, ...]
    string_names: tuple[str, ...]
    inverter: IntArray
    string_tracker: IntArray
    string_modules: IntArray
    states: tuple[TrackerStates, ...]
    points: Points
    p_dc_available: FloatArray


def inputs_of(
    site: Site, wiring: Wiring, directs: tuple[DirectSide, ...], points: tuple[Points, ...]
) -> Inputs:
    """Return the inputs of all inverters side by side.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring, whose order they have.
    directs : tuple of DirectSide
        The solved trackers of each inverter.
    points : tuple of Points
        Their final points.
    """
    prefixes = [""] * len(directs)
    if site.several_inverters:
        prefixes = [f"{one.name} / " for one in site.each_inverter()]
    sides = list(zip(prefixes, directs, strict=True))
    found = [prefix + name for prefix, own in sides for name in own.names]
    names = tuple(site.input_name(tracker) for tracker in wiring.trackers)
    order = np.array([found.index(name) for name in names], dtype=np.int64)
    counts = [len(own.names) for own in directs]
    firsts = np.cumsum([0, *counts[:-1]])
    on = np.concatenate(
        [own.string_tracker + first for own, first in zip(directs, firsts, strict=True)]
    )
    place = np.argsort(order)[on]
    strings = np.argsort(place, kind="stable")
    texts = [prefix + name for prefix, own in sides for name in own.string_names]
    modules = np.concatenate([own.string_modules for own in directs])
    states = [state for own in directs for state in own.states]
    return Inputs(
        names=names,
        string_names=tuple(texts[string] for string in strings),
        inverter=np.repeat(np.arange(len(directs)), counts)[order],
        string_tracker=place[strings],
        string_modules=modules[strings],
        states=tuple(states[tracker] for tracker in order),
        points=_side_by_side(points, order, strings),
        p_dc_available=np.concatenate([own.free.p_dc for own in directs], axis=1)[:, order],
    )


def _side_by_side(points: tuple[Points, ...], order: IntArray, strings: IntArray) -> Points:
    return Points(
        **{
            name: np.concatenate([getattr(own, name) for own in points], axis=1)[
                :, strings if name == "i_string" else order
            ]
            for name in Points._fields
        }
    )
