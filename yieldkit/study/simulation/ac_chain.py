"""The chain of powers from conversion to the meter, and where delivered energy goes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.site.site import Site
from yieldkit.design.checks.grid_profiles import site_rules
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.ac.voltage_rules import off_fraction, spread_nodes
from yieldkit.study.simulation.connection_point import ALL_RULES, ConnectionPoint, Fed, Rules
from yieldkit.study.simulation.loss_budget import AcChain
from yieldkit.study.simulation.network_voltage import within_step_spread
from yieldkit.study.simulation.offer import Offer
from yieldkit.study.simulation.prepare import Prepared

SAME = 1e-12
"""Share by which powers may differ that are the same but for rounding [1]."""
_SURELY_BELOW_V = 1e-6
"""Distance from a limit that no rounding bridges [V]."""


class Accounts(NamedTuple):
    """Where delivered energy goes, switch-off and availability taken off, each (time,) [W].

    Parameters
    ----------
    load : ndarray
        Consumption behind the meter.
    self_use : ndarray
        What of it comes from the plant.
    export : ndarray
        What leaves through the meter.
    imported : ndarray
        What the load, and the inverters at night, take from the network.
    """

    load: FloatArray
    self_use: FloatArray
    export: FloatArray
    imported: FloatArray


def which_limit(offer: Offer, fed: Fed) -> IntArray:
    """Return what holds each inverter, codes of `AC_LIMIT` (time, inverter).

    Parameters
    ----------
    offer : Offer
        What each inverter could give.
    fed : Fed
        What is fed in.
    """
    by_heat = offer.derated < np.minimum(offer.rated, offer.converted)
    fixed = np.where(by_heat, AC_LIMIT["derating"], AC_LIMIT["maximum power"])
    codes = np.where(fed.limit != 0, fed.limit, fixed)
    held = offer.converted * (1.0 - SAME) > fed.p
    return np.where(held, codes, 0).astype(np.int8)


def chain(
    prepared: Prepared, point: ConnectionPoint, offer: Offer, power: FloatArray, fed: Fed
) -> tuple[AcChain, FloatArray]:
    """Return the chain of powers, and the share lost to switch-off.

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    point : ConnectionPoint
        The connection point.
    offer : Offer
        What each inverter could give.
    power : ndarray
        What is on offer after what no tracker could be brought down to [W] (time, inverter).
    fed : Fed
        What is fed in under all rules.

    Returns
    -------
    tuple of (AcChain, ndarray)
        Sums over the inverters (time,) [W], and shares (time, inverter) [1].
    """
    known = {point.counting(ALL_RULES): fed.p}

    def under(*rules: bool) -> FloatArray:
        counting = point.counting(Rules(*rules))
        if counting not in known:
            known[counting] = point.fed(power, offer.drawn, counting).p
        return known[counting]

    bare = under(False, False, False)
    largest = np.minimum(offer.rated, point.converters.max_apparent)
    limited = np.minimum(offer.converted, largest)
    # What no tracker could be brought down to is the AC limit's cost, not that of heat.
    limited = np.where(offer.derated < limited, limited - (offer.power - power), bare)
    exportable = under(True, True, False)
    after_auxiliary = (exportable - offer.drawn).sum(axis=1)
    after_lead = after_auxiliary - fed.own_heat.sum(axis=1)
    after_common_lead = after_lead - fed.common_heat
    if not prepared.site.several_inverters:
        after_lead = after_common_lead
    off = off_fractions(prepared.site, point, offer.drawn, fed)
    kept = 1.0 - off_together(offer.drawn, fed, off)
    delivered = kept * fed.arriving - fed.taken
    share = prepared.site.grid.availability_percent / 100.0
    available = share * kept * fed.arriving - fed.taken
    return (
        AcChain(
            dc=offer.dc,
            converted=offer.converted.sum(axis=1),
            limited=limited.sum(axis=1),
            derated=bare.sum(axis=1),
            with_reactive=under(True, False, False).sum(axis=1),
            exportable=exportable.sum(axis=1),
            after_auxiliary=after_auxiliary,
            after_lead=after_lead,
            after_common_lead=after_common_lead,
            delivered=delivered,
            available=available,
            of_minutes=available,
            fluctuating=available,
        ),
        off,
    )


def off_fractions(site: Site, point: ConnectionPoint, drawn: FloatArray, fed: Fed) -> FloatArray:
    """Return the share of each step that each inverter loses to switch-off (time, inverter).

    Parameters
    ----------
    site : Site
        With the network's rules.
    point : ConnectionPoint
        The connection point.
    drawn : ndarray
        Own consumption [W] (time, inverter).
    fed : Fed
        What is fed in while not switched off.
    """
    rules = site_rules(site)
    if np.isnan(rules.mean_limit_v) and np.isnan(rules.stage_limit_v):
        return np.zeros(fed.p.shape)
    spread = within_step_spread(site.grid)
    # Whatever the voltage without an inverter is: with it none stays below the lowest limit and
    # switches off all the same. So only the other steps have to be solved again without each.
    highest = fed.v_ac.max(axis=1) + spread_nodes(spread)[:, 0].max()
    lowest = np.fmin(rules.mean_limit_v, rules.stage_limit_v)
    steps = np.flatnonzero(highest > lowest - _SURELY_BELOW_V)
    off = np.where(np.isnan(fed.v_ac), np.nan, 0.0)
    if not steps.size:
        return off
    near, used = Fed._make(part[steps] for part in fed), drawn[steps]
    alone = point.at(steps).without_own(near, used)
    rise = np.where(near.p > used, near.v_ac - alone, 0.0)
    for place, (one, up) in enumerate(zip(alone.T, rise.T, strict=True)):
        off[steps, place] = off_fraction(
            np.ascontiguousarray(one), np.ascontiguousarray(up), spread, rules
        )
    return off


def off_together(drawn: FloatArray, fed: Fed, off: FloatArray) -> FloatArray:
    """Return the share of all power that is lost to switch-off (time,).

    Parameters
    ----------
    drawn : ndarray
        Own consumption [W] (time, inverter).
    fed : Fed
        What is fed in while not switched off.
    off : ndarray
        What of each step each inverter loses [1] (time, inverter).
    """
    sent = np.maximum(fed.p - drawn - fed.own_heat, 0.0)
    total = sent.sum(axis=1)
    lost = (sent * off).sum(axis=1)
    share: FloatArray = np.divide(lost, total, out=np.zeros_like(total), where=total > 0.0)
    return share


def accounts(point: ConnectionPoint, fed: Fed, available: FloatArray) -> Accounts:
    """Return where delivered power goes: each account from the solved parts of the step.

    Parameters
    ----------
    point : ConnectionPoint
        The connection point, for its load.
    fed : Fed
        What is fed in while not switched off.
    available : ndarray
        Delivered power, switch-off and availability taken off [W] (time,).
    """
    load = point.load.mean(axis=1)
    kept = np.divide(
        available + fed.taken, fed.arriving, out=np.zeros_like(load), where=fed.arriving > 0.0
    )
    self_use = kept * fed.self_use
    return Accounts(
        np.where(np.isnan(available), np.nan, load),
        self_use,
        kept * fed.out,
        load - self_use + fed.taken,
    )
