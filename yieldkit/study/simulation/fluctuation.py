"""What the light's fluctuation within the weather's steps costs, from trackers to the meter."""

from __future__ import annotations

from collections.abc import Sequence
from math import lcm
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.simulation.ac_chain import Accounts, accounts, off_together
from yieldkit.study.simulation.connection_point import ConnectionPoint
from yieldkit.study.simulation.dc_side import DirectSide
from yieldkit.study.simulation.minute_rows import Rows, steps_with_all
from yieldkit.study.simulation.offer import Offer
from yieldkit.study.simulation.other_light import Light, held_by_inputs, offered
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.within_step import WithinStep

_HOUR_MIN = 60


class Fluctuation(NamedTuple):
    """What the steps' means hide; each (time,) [W].

    Parameters
    ----------
    transposition : ndarray
        Power that the means promise because light, glass and cells do not follow a mean; negative
        where they promise too little.
    clipping : ndarray
        What limits behind the trackers take of the minutes and not of their mean.
    accounts : Accounts
        Where the minutes' power goes.
    least : ndarray
        What is delivered where the sun shines as on the clearest hours or not at all.
    """

    transposition: FloatArray
    clipping: FloatArray
    accounts: Accounts
    least: FloatArray


class Given(NamedTuple):
    """What is delivered of some offer.

    Parameters
    ----------
    delivered : ndarray
        At the meter, switch-off and availability taken off [W] (row,).
    accounts : Accounts
        Where it goes.
    """

    delivered: FloatArray
    accounts: Accounts


def fluctuation(
    prepared: Prepared,
    directs: tuple[DirectSide, ...],
    point: ConnectionPoint,
    off: FloatArray,
    delivered: FloatArray,
    accounted: Accounts,
) -> Fluctuation | None:
    """Return what the weather's steps hide of a wiring's power; None where nothing is asked for.

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    directs : tuple of DirectSide
        The solved trackers of each inverter.
    point : ConnectionPoint
        The connection point.
    off : ndarray
        Share of each step that each inverter is switched off [1] (time, inverter): minutes take
        that of their step, for the rule is one of long means.
    delivered : ndarray
        What is delivered on the means [W] (time,).
    accounted : Accounts
        Where that goes.
    """
    within = prepared.within
    if within is None:
        return None
    size = delivered.size
    whole = np.arange(size)
    at_means = Light("means", prepared.conditions, whole)
    bare, _ = offered(prepared, directs, within, at_means)
    even = given(prepared, point, off, bare, whole)
    least = _least(prepared, directs, within, point, off)
    # Shadow leaves every step the share of its energy that it leaves of the means.
    left = np.divide(delivered, even.delivered, out=np.ones(size), where=even.delivered > 0.0)
    if not prepared.shaded:
        left = np.ones(size)
    if within.minutes is None:
        nothing = np.zeros(size)
        return Fluctuation(nothing, nothing, accounted, least * left)
    rows = within.minutes
    in_minutes = Light("minutes", rows.conditions, rows.step)
    offer, sound = offered(prepared, directs, within, in_minutes)
    minute = given(prepared, point_at(point, rows), off, offer, rows.step)
    there = steps_with_all(rows, sound & np.isfinite(minute.delivered))
    held = [
        held_by_inputs(prepared, directs, within, light, bound)
        for light, bound in ((at_means, bare), (in_minutes, offer))
    ]
    mean = given(prepared, point, off, mean_offer(rows, offer, bare, there, held), whole)
    kept = rows.mean(np.where(sound, minute.delivered, 0.0))
    there &= np.isfinite(even.delivered)

    def booked(before: FloatArray, after: FloatArray) -> FloatArray:
        return np.where(there, (before - after) * left, 0.0)

    return Fluctuation(
        booked(even.delivered, mean.delivered),
        booked(mean.delivered, kept),
        _accounts(rows, minute.accounts, accounted, left, there),
        least * left,
    )


def _accounts(
    rows: Rows, minute: Accounts, usual: Accounts, left: FloatArray, there: BoolArray
) -> Accounts:
    """Return where the minutes' power goes, step by step."""
    self_use, export, taken = (
        np.where(there, rows.mean(np.nan_to_num(own)) * left, otherwise)
        for own, otherwise in (
            (minute.self_use, usual.self_use),
            (minute.export, usual.export),
            (_taken(minute), _taken(usual)),
        )
    )
    return Accounts(usual.load, self_use, export, usual.load - self_use + taken)


def _taken(accounted: Accounts) -> FloatArray:
    """Return what the plant itself takes from the network [W]."""
    return accounted.imported - accounted.load + accounted.self_use


def _least(
    prepared: Prepared,
    directs: tuple[DirectSide, ...],
    within: WithinStep,
    point: ConnectionPoint,
    off: FloatArray,
) -> FloatArray:
    """Return what is delivered under a sun that shines wholly or not at all [W] (time,)."""
    whole = np.arange(off.shape[0])
    shining, hidden = (
        given(
            prepared,
            point,
            off,
            offered(prepared, directs, within, Light(name, conditions, whole))[0],
            whole,
        ).delivered
        for name, conditions in (
            ("shining", within.extremes.shining),
            ("hidden", within.extremes.hidden),
        )
    )
    share = within.extremes.share
    return share * shining + (1.0 - share) * hidden


def given(
    prepared: Prepared, point: ConnectionPoint, off: FloatArray, offer: Offer, step: IntArray
) -> Given:
    """Return what is delivered of an offer, and where it goes.

    Parameters
    ----------
    prepared : Prepared
        The site.
    point : ConnectionPoint
        The connection point at the rows.
    off : ndarray
        Share of each step that each inverter is switched off [1] (time, inverter).
    offer : Offer
        What each inverter could give (row, inverter).
    step : ndarray of int
        The step each row belongs to (row,).
    """
    fed = point.fed(offer.power, offer.drawn)
    kept = 1.0 - off_together(offer.drawn, fed, np.nan_to_num(off[step]))
    share = prepared.site.grid.availability_percent / 100.0
    delivered = share * kept * fed.arriving - fed.taken
    return Given(delivered, accounts(point, fed, delivered))


def mean_offer(
    rows: Rows, offer: Offer, usual: Offer, there: BoolArray, held: Sequence[FloatArray] = ()
) -> Offer:
    """Return an offer for whole steps: the mean of the minutes' where they are known.

    Parameters
    ----------
    rows : Rows
        The minutes.
    offer : Offer
        Theirs (row, inverter).
    usual : Offer
        That of the steps themselves (time, inverter).
    there : ndarray of bool
        Steps whose minutes are known (time,).
    held : sequence of ndarray
        What inputs' largest currents and powers take of the steps' own offer, and of the
        minutes' [W]: only the former is taken of the mean.
    """

    def mean(values: FloatArray, otherwise: FloatArray) -> FloatArray:
        means = np.column_stack([rows.mean(np.nan_to_num(own)) for own in values.T])
        return np.where(there[:, None], means, otherwise)

    converted = mean(offer.converted, usual.converted)
    if len(held):
        of_steps, of_minutes = held
        converted += np.where(there[:, None], mean(of_minutes, of_steps) - of_steps, 0.0)
    return usual._replace(
        converted=np.maximum(converted, 0.0),
        derated=mean(np.minimum(offer.derated, offer.rated), usual.derated),
        drawn=mean(offer.drawn, usual.drawn),
    )


def point_at(point: ConnectionPoint, rows: Rows) -> ConnectionPoint:
    """Return the connection point at rows: the step's own voltage, the load of the minute.

    Minutes that are not the whole hour meet all of its load's parts.

    Parameters
    ----------
    point : ConnectionPoint
        The connection point at the steps.
    rows : Rows
        The rows.
    """
    parts = point.load.shape[1]
    if rows.minutes != _HOUR_MIN:
        return point.at(rows.step)
    fine = lcm(parts, rows.minutes)
    by_minute = np.repeat(point.load, fine // parts, axis=1)
    by_minute = by_minute.reshape(point.load.shape[0], rows.minutes, fine // rows.minutes)
    return point._replace(
        stiff_v=point.stiff_v[rows.step],
        load=np.ascontiguousarray(by_minute[rows.step, rows.part]),
        times=pd.DatetimeIndex(point.times[rows.step]),
    )
