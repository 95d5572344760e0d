"""The one further reading that would tell most about what is still open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.study.handover.judge import Judgement
from yieldkit.study.handover.meter import CURRENT, VOLTAGE, MeterReadings, surroundings
from yieldkit.study.handover.slips import Slip
from yieldkit.study.handover.string_model import StringModel
from yieldkit.study.simulation.plane_sky import cloudless, plane_sky

_SOON = pd.Timedelta(minutes=10)
_SUN_HOURS = (-3.0, 0.0, 3.0)
"""Other times of day that are thought of, from the sun's highest point [h]."""
_LEAST_W_M2 = 250.0
WORTH_NAMING = 1e-4
"""Slips of which less is believed don't count for what is to be read next [1]."""
_GRID = 241
_WIDTH = 4.0
_NAT = 1e-9
_AS_MUCH = 0.95
"""Share of the largest gain from which on an earlier reading is as good [1]."""


class NextReading(NamedTuple):
    """A further reading.

    Parameters
    ----------
    string : int
        Position of the string.
    quantity : int
        VOLTAGE or CURRENT.
    moment : Timestamp
        With a time zone.
    gain : float
        Share of what is open that it can be expected to settle [1].
    again : bool
        Whether it repeats one that was made.
    """

    string: int
    quantity: int
    moment: pd.Timestamp
    gain: float
    again: bool


def candidates(model: StringModel, strings_plane: IntArray) -> MeterReadings:
    """Return the readings that could be made: each string's two, soon and at other times of day.

    Parameters
    ----------
    model : StringModel
        What was read.
    strings_plane : ndarray of int
        The plane in which light is read with each string (string,).

    Returns
    -------
    MeterReadings
        With the light that may be hoped for: a cloudless sky's, as bright as the sky was.
    """
    made = model.readings
    last = made.moments.max()
    moments = [last + _SOON, *_at_other_times(model, last)]
    strings = len(model.slips[0].groups)
    string = np.tile(np.repeat(np.arange(strings), 2), len(moments))
    quantity = np.tile([VOLTAGE, CURRENT], strings * len(moments))
    when = pd.DatetimeIndex(np.repeat(pd.DatetimeIndex(moments), 2 * strings))
    light, heat = _hoped_for(model, strings_plane[string], when)
    bright = light >= _LEAST_W_M2
    if not bright.any():
        bright[: 2 * strings] = True
    nothing = np.full(light.shape, np.nan)
    read_light = bool((~np.isnan(made.poa_global)).any())
    read_heat = bool((~np.isnan(made.temp_module)).any())
    return MeterReadings(
        string[bright],
        quantity[bright],
        np.ones(int(bright.sum())),
        when[bright],
        (light if read_light else nothing)[bright],
        (heat if read_heat else nothing)[bright],
    )


def next_reading(
    model: StringModel, judgement: Judgement, strings_plane: IntArray
) -> NextReading | None:
    """Return the further reading of largest expected gain, None where nothing is open.

    Parameters
    ----------
    model : StringModel
        What was read.
    judgement : Judgement
        What it says.
    strings_plane : ndarray of int
        The plane in which light is read with each string (string,).
    """
    if entropy(judgement.probability) < _NAT:
        return None
    further = candidates(model, strings_plane)
    gains = expected_gains(model, judgement, strings_plane, further)
    # The soonest of those that tell as much: they come in the order of their moments.
    at = int(np.argmax(gains >= _AS_MUCH * gains.max()))
    made = model.readings
    again = bool(
        ((made.string == further.string[at]) & (made.quantity == further.quantity[at])).any()
    )
    share = float(gains[at] / entropy(judgement.probability))
    return NextReading(
        int(further.string[at]), int(further.quantity[at]), further.moments[at], share, again
    )


def entropy(probability: FloatArray) -> float:
    """Return how much is open [nat]."""
    own = probability[probability > 0.0]
    return float(-(own * np.log(own)).sum())


def expected_gains(
    model: StringModel, judgement: Judgement, strings_plane: IntArray, further: MeterReadings
) -> FloatArray:
    """Return how much of what is open each further reading would settle on average [nat].

    Parameters
    ----------
    model, judgement, strings_plane
        As for `next_reading`.
    further : MeterReadings
        The readings thought of (reading,); their values don't matter.

    Returns
    -------
    ndarray
        Mutual information of slip and reading (reading,): Lindley (1956), Annals of Mathematical
        Statistics 27, 986-1005; from memory.
    """
    chosen = np.flatnonzero(judgement.probability > WORTH_NAMING)
    slips = tuple(settled_of(judgement.slips[at]) for at in chosen)
    weight = judgement.probability[chosen] / judgement.probability[chosen].sum()
    around = surroundings(model.site, strings_plane, further, slips)
    later = replace(model, slips=slips, readings=further, around=around)
    mean, slopes = later.at(judgement.unknowns[chosen])
    known = np.einsum("hmu,huv,hmv->hm", slopes, judgement.spread[chosen], slopes)
    own = later.noise_under()
    spread = np.sqrt(np.maximum(known, 0.0) + np.square(own))
    return np.array(
        [information(weight, mean[:, at], spread[:, at]) for at in range(mean.shape[1])]
    )


def settled_of(slip: Slip) -> Slip:
    """Return a slip as it is for readings to come: the one that was misread isn't among them.

    Parameters
    ----------
    slip : Slip
        The slip.
    """
    return slip._replace(doubt=None) if slip.doubt is not None and slip.doubt >= 0 else slip


def information(weight: FloatArray, mean: FloatArray, spread: FloatArray) -> float:
    """Return the mutual information of a component and a value of a mixture of normals [nat].

    Parameters
    ----------
    weight, mean, spread : ndarray
        Of each component: its share [1], its mean and its standard deviation (component,).
    """
    low, high = (mean - _WIDTH * spread).min(), (mean + _WIDTH * spread).max()
    grid = np.unique(np.concatenate([np.linspace(low, high, _GRID), *_round(mean, spread)]))
    away = (grid - mean[:, None]) / spread[:, None]
    density = np.exp(-0.5 * np.square(away)) / (np.sqrt(2.0 * np.pi) * spread[:, None])
    mixed = weight @ density
    whole = np.trapezoid(-mixed * np.log(np.maximum(mixed, 1e-300)), grid)
    alone = weight @ (0.5 * (1.0 + np.log(2.0 * np.pi * np.square(spread))))
    return max(float(whole - alone), 0.0)


def _round(mean: FloatArray, spread: FloatArray) -> list[FloatArray]:
    steps = np.linspace(-_WIDTH, _WIDTH, 33)
    return [own + off * steps for own, off in zip(mean, spread, strict=True)]


def _at_other_times(model: StringModel, last: pd.Timestamp) -> Sequence[pd.Timestamp]:
    """Return times of day that are still to come, that day or the next."""
    noon = last.normalize() + pd.Timedelta(hours=12.0 - model.site.site.longitude / 15.0)
    times = [noon + pd.Timedelta(hours=hours) for hours in _SUN_HOURS]
    return [own if own > last else own + pd.Timedelta(days=1) for own in times]


def _hoped_for(
    model: StringModel, planes: IntArray, when: pd.DatetimeIndex
) -> tuple[FloatArray, FloatArray]:
    """Return light and heat of planes at moments to come (reading,)."""
    made, site = model.readings, model.site
    then = cloudless(site, when)
    glass = np.stack([plane_sky(site, plane, then).poa_global for plane in site.planes], axis=1)
    light = glass[np.arange(len(when)), planes]
    read = ~np.isnan(made.poa_global)
    if read.any():
        now = cloudless(site, made.moments)
        usual = np.stack([plane_sky(site, plane, now).poa_global for plane in site.planes], axis=1)
        own = np.array([np.argmax(model.slips[0].groups[at]) for at in made.string])
        was = usual[np.arange(len(own)), own]
        light = light * float(np.median(made.poa_global[read] / np.maximum(was[read], 1.0)))
    warm = made.temp_module[~np.isnan(made.temp_module)]
    heat = np.full(light.shape, float(np.median(warm)) if warm.size else np.nan)
    return light, heat
