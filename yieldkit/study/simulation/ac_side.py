"""The AC side: conversion, limits, curtailment, auxiliary power, leads and network."""

from __future__ import annotations

from collections.abc import Hashable
from functools import partial
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.ac.conversion import ac_power
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.ac.curtailment import curtail
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.study.simulation.ac_chain import SAME, Accounts, accounts, chain, which_limit
from yieldkit.study.simulation.connection_point import ConnectionPoint, Fed, connection_point
from yieldkit.study.simulation.dc_side import DirectSide, Points
from yieldkit.study.simulation.fluctuation import fluctuation
from yieldkit.study.simulation.kept import Keep, anew, fingerprint
from yieldkit.study.simulation.loss_budget import AcChain
from yieldkit.study.simulation.offer import Offer, offers
from yieldkit.study.simulation.prepare import Prepared

_MOST_ROUNDS = 8
_STUCK_W = 1e-6


class AlternatingSide(NamedTuple):
    """The AC side of a simulated wiring; arrays (time,) unless said otherwise.

    Parameters
    ----------
    chain : AcChain
        Power after each step of the loss budget [W].
    points : tuple of Points
        The trackers' final points of each inverter (time, tracker).
    p_ac : ndarray
        Power at the terminals of all inverters, own consumption taken off [W].
    p_held_back : ndarray
        Power a limit holds back [W] (time, inverter).
    p_ac_cap : ndarray
        Largest AC power allowed [W] (time, inverter).
    ac_limit : ndarray of int8
        Which limit holds, codes of `AC_LIMIT`, zero where none does (time, inverter).
    clipped, derated, clamped : ndarray of bool
        Steps held by an AC limit, by derating, and with a voltage outside the efficiencies.
    temp_inlet : ndarray
        Inlet air [degC] (time, inverter).
    off_fraction : ndarray
        Share of the step lost to switch-off (time, inverter).
    fed : Fed
        Powers, voltages and heat at the connection point while not switched off.
    p_lead_loss : ndarray
        Heat in all leads [W].
    accounts : Accounts
        Load, self-use, export and import [W].
    least : ndarray or None
        Power delivered where the sun shines as on the clearest hours or not at all [W], where the
        site asks what the steps hide.
    """

    chain: AcChain
    points: tuple[Points, ...]
    p_ac: FloatArray
    p_held_back: FloatArray
    p_ac_cap: FloatArray
    ac_limit: IntArray
    clipped: BoolArray
    derated: BoolArray
    clamped: BoolArray
    temp_inlet: FloatArray
    off_fraction: FloatArray
    fed: Fed
    p_lead_loss: FloatArray
    accounts: Accounts
    least: FloatArray | None = None


class _Moved(NamedTuple):
    """Trackers moved to what their inverter feeds in.

    Parameters
    ----------
    points : tuple of Points
        Of each inverter.
    p : ndarray
        AC power they give, no number where they weren't moved [W] (time, inverter).
    """

    points: tuple[Points, ...]
    p: FloatArray


def alternating_side(
    prepared: Prepared,
    directs: tuple[DirectSide, ...],
    point: ConnectionPoint | None = None,
    keep: Keep = anew,
) -> AlternatingSide:
    """Follow the trackers' power to the meter.

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    directs : tuple of DirectSide
        The solved trackers of each inverter.
    point : ConnectionPoint, optional
        The connection point, where it is another than the site's or known already.
    keep : Keep
        Knows what other runs have made already.

    Raises
    ------
    InputError
        Where the network cannot take the power.
    """
    each = prepared.each_inverter()
    point = connection_point(prepared, keep) if point is None else point
    offer = offers(each, directs, keep)
    power, fed, moved = _fed_and_moved(each, directs, point, offer, keep)
    powers, off = chain(prepared, point, offer, power, fed)
    accounted = accounts(point, fed, powers.available)
    hidden = fluctuation(prepared, directs, point, off, powers.available, accounted)
    least = None
    if hidden is not None:
        of_minutes = powers.available - hidden.transposition
        fluctuating = of_minutes - hidden.clipping
        powers = powers._replace(of_minutes=of_minutes, fluctuating=fluctuating)
        accounted, least = hidden.accounts, hidden.least
    by_connection = np.where(fed.limit != 0, fed.p, np.inf)
    allowed = np.minimum(np.minimum(offer.rated, offer.derated), by_connection)
    held_back = np.maximum(offer.converted - fed.p, 0.0)
    which = which_limit(offer, fed)
    missing = ~prepared.present
    allowed[missing] = np.nan
    off[missing] = np.nan
    by_heat = which == AC_LIMIT["derating"]
    return AlternatingSide(
        chain=powers,
        points=moved.points,
        p_ac=(fed.p - offer.drawn).sum(axis=1),
        p_held_back=held_back,
        p_ac_cap=allowed,
        ac_limit=which,
        clipped=((which != 0) & ~by_heat).any(axis=1),
        derated=by_heat.any(axis=1),
        clamped=np.asarray(offer.clamped.any(axis=1)),
        temp_inlet=offer.temp_inlet,
        off_fraction=off,
        fed=fed,
        p_lead_loss=fed.own_heat.sum(axis=1) + fed.common_heat,
        accounts=accounted,
        least=least,
    )


def _fed_and_moved(
    each: tuple[Prepared, ...],
    directs: tuple[DirectSide, ...],
    point: ConnectionPoint,
    offer: Offer,
    keep: Keep,
) -> tuple[FloatArray, Fed, _Moved]:
    """Solve the connection point and move the trackers to it, until both agree.

    A tracker that no voltage brings down to its share is off; what its inverter then lacks is on
    offer no longer, and an export limit leaves it to the others.

    Returns
    -------
    tuple of (ndarray, Fed, _Moved)
        What is on offer [W] (time, inverter), what is fed in, and the trackers' points.
    """
    power = offer.power
    limit = np.zeros(power.shape, dtype=np.int8)
    for _ in range(_MOST_ROUNDS):
        fed = point.fed(power, offer.drawn)
        limit = np.where(fed.limit != 0, fed.limit, limit)
        moved = _moved(each, directs, offer.converted, fed.p, keep)
        stuck = moved.p < fed.p - _STUCK_W
        if not stuck.any():
            break
        power = np.where(stuck, moved.p, power)
    return power, fed._replace(limit=limit), moved


def _moved(
    each: tuple[Prepared, ...],
    directs: tuple[DirectSide, ...],
    converted: FloatArray,
    wanted: FloatArray,
    keep: Keep,
) -> _Moved:
    points, reached = [], np.full(wanted.shape, np.nan)
    for place, (own, direct) in enumerate(zip(each, directs, strict=True)):
        held = wanted[:, place] < converted[:, place] * (1.0 - SAME)
        cap = np.where(held, wanted[:, place], np.inf)
        found, reached[:, place] = keep(
            partial(_curtailed_content, direct, cap),
            partial(_curtailed, direct, own.conversion, converted[:, place], cap),
        )
        points.append(found)
    return _Moved(tuple(points), reached)


def _curtailed_content(direct: DirectSide, cap: FloatArray) -> Hashable:
    return "curtailed", direct.content, fingerprint(cap)


def _curtailed(
    direct: DirectSide,
    curve: ConversionCurve | ListedConversion,
    p_ac: FloatArray,
    cap: FloatArray,
) -> tuple[Points, FloatArray]:
    """Move the trackers at capped steps; return their points and the AC power where it was held.

    Where the cap is met the power is the cap; where a tracker has no point below its maximum
    voltage, it is what is left.
    """
    points = Points._make(before.copy() for before in direct.free)
    tried = np.full(direct.free.p_dc.shape, np.nan)

    def move(bound: FloatArray, steps: IntArray) -> Points:
        moved = direct.under(bound, steps)
        tried[steps] = bound
        for before, after in zip(points, moved, strict=True):
            before[steps] = after
        return moved

    def convert(bound: FloatArray, steps: IntArray) -> FloatArray:
        moved = move(bound, steps)
        return ac_power(curve, moved.p_dc, moved.v_dc).p_ac

    limited_power = np.full(p_ac.shape, np.nan)
    found = curtail(direct.free.p_dc, p_ac, cap, convert)
    if found.steps.size == 0:
        return direct.free, limited_power
    # Most steps stand where the search has left them; a cap of nothing was never tried.
    other = (tried[found.steps] != found.bound).any(axis=1)
    if other.any():
        move(found.bound[other], found.steps[other])
    limited_power[found.steps] = np.where(found.met, cap[found.steps], found.p_ac)
    return points, limited_power
