"""Connection points drawn without choosing, and a look at whether an answer is one.

The look shares nothing with the solver: the whole matrix of impedances, currents and voltages by
turns, and every rule as a plain formula on the voltages that are told.
"""

from typing import NamedTuple

import numpy as np

from yieldkit.physics.ac.connection import connection
from yieldkit.physics.ac.connection_state import Branches, ConnectionState, ExportLimit
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.ac.reactive import REACTIVE_KIND, Converters


class Drawn(NamedTuple):
    """A connection point and some hours of it."""

    offer: np.ndarray
    drawn: np.ndarray
    stiff_v: np.ndarray
    load: np.ndarray
    branches: Branches
    rules: Converters
    limit: ExportLimit

    def solved(self, start_v: np.ndarray | None = None) -> ConnectionState:
        """Return what the solver makes of it."""
        return connection(*self, start_v=start_v)

    def of(self, places: list[int]) -> "Drawn":
        """Return it with some of the inverters only, or in another order."""
        rules = Converters(*(part[places] for part in self.rules))
        branches = self.branches._replace(own_leads=self.branches.own_leads[places])
        return self._replace(
            offer=self.offer[:, places].copy(),
            drawn=self.drawn[:, places].copy(),
            branches=branches,
            rules=rules,
        )


def draw(rng: np.random.Generator, hours: int) -> Drawn:
    """Return a connection point of one to six inverters with steep rules."""
    count, phases = int(rng.integers(1, 7)), int(rng.choice([1, 3]))
    rating = rng.uniform(3e3, 15e3, count) if phases == 3 else rng.uniform(1e3, 5e3, count)
    # Impedances by the rise that the whole rating makes in each: up to 18, 5 and 5 V.
    whole = rating.sum() / (phases * 230.0)
    network = rng.uniform(0.0, 18.0) / whole * complex(1.0, rng.uniform(0.0, 1.5))
    common = rng.choice([0.0, rng.uniform(0.0, 5.0)]) / whole * complex(1.0, rng.uniform(0.0, 0.3))
    each = rng.uniform(0.0, 5.0, count) / (rating / (phases * 230.0))
    own = each * (1.0 + 1j * rng.uniform(0.0, 0.3))
    kinds = rng.integers(0, 3, count)
    x, y = np.zeros((count, 4)), np.zeros((count, 4))
    for i in range(count):
        x[i], y[i] = _curve(rng, kinds[i])
    start = np.where(rng.random(count) < 0.6, rng.uniform(238.0, 254.0, count), np.nan)
    # What can have two states that are both right has a test of its own: cos phi by a power that
    # falls with the voltage, and reactive power injected into the room such a power leaves.
    first = rng.integers(0, 2, count)
    start[kinds == REACTIVE_KIND["cos-phi-of-p"]] = np.nan
    tangent = rng.uniform(-0.5, 0.3, count)
    tangent[(first == 0) & ~np.isnan(start)] *= -np.sign(tangent[(first == 0) & ~np.isnan(start)])
    rules = Converters(
        nominal_power=rating,
        apparent_rating=rating,
        max_apparent=np.where(rng.random(count) < 0.6, rating * rng.uniform(0.8, 1.1), np.inf),
        max_current=np.where(
            rng.random(count) < 0.3, rating / (phases * 230.0) * rng.uniform(0.7, 1.0), np.inf
        ),
        watt_start_v=start,
        watt_end_v=start + rng.uniform(0.3, 10.0, count),
        watt_end_share=rng.uniform(0.0, 0.6, count),
        reactive_kind=kinds,
        tangent=tangent,
        reactive_x=x,
        reactive_y=y,
        reactive_first=first,
    )
    bright = rng.random((hours, 1)) * (rng.random((hours, 1)) < 0.9)
    offer = rating * rng.uniform(0.5, 1.2, (hours, count)) * bright
    load = np.where(rng.random(hours) < 0.5, 0.0, rng.uniform(0.0, 0.8, hours) * rating.sum())
    power = rng.choice([np.inf, 0.0, 0.3 * rating.sum(), 0.7 * rating.sum()])
    return Drawn(
        offer,
        rng.uniform(0.0, 40.0, (hours, count)),
        rng.normal(236.0, 6.0, hours),
        load,
        Branches(complex(network), complex(common), own, phases),
        rules,
        ExportLimit(float(power), bool(rng.random() < 0.5)),
    )


def _curve(rng: np.random.Generator, kind: int) -> tuple[np.ndarray, np.ndarray]:
    if kind == REACTIVE_KIND["cos-phi-of-p"]:
        return np.array([0.2, 0.5, 1.0, 1.2]), np.array([0.0, 0.0, *-rng.uniform(0.0, 0.2, 2)])
    widths = rng.uniform(0.5, 12.0, 3)
    x = rng.uniform(215.0, 235.0) + np.concatenate([[0.0], np.cumsum(widths)])
    return x, np.array([rng.uniform(0.1, 0.5), 0.0, 0.0, -rng.uniform(0.1, 0.6)])


def voltages(case: Drawn, p: np.ndarray, q: np.ndarray) -> np.ndarray:
    """Return the complex voltages of meter and terminals at powers that are given (time, node)."""
    branches, count = case.branches, case.offer.shape[1]
    ohms = np.full((count + 1, count + 1), branches.network)
    ohms[1:, 1:] += branches.common_lead
    ohms[1:, 1:] += np.diag(branches.own_leads)
    power = np.concatenate([-case.load[:, None], p - case.drawn + 1j * q], axis=1)
    found = np.repeat(case.stiff_v[:, None], count + 1, axis=1).astype(complex)
    for _ in range(400):
        moved = case.stiff_v[:, None] + np.conj(power / found) / branches.phases @ ohms.T
        gap = np.abs(moved - found).max()
        found = moved
        if gap < 1e-11:
            break
    return found


def rules_missed(case: Drawn, state: ConnectionState) -> np.ndarray:
    """Return by how much the told power misses every rule at the told voltage [VA].

    Where a limit holds P, P is the limit; where none does, P is the offer; Q is the rule's, cut.
    Where the voltage is that of a jump, to half a nanovolt, P may be anything between.
    """
    rules, phases = case.rules, case.branches.phases
    p, q, volts = state.p, state.q, state.v_ac
    bound = np.minimum(rules.max_apparent, phases * rules.max_current * volts)
    by_volts = np.empty(p.shape)
    wanted_q = np.empty(p.shape)
    for i in range(p.shape[1]):
        by_volts[:, i] = np.interp(
            volts[:, i],
            [rules.watt_start_v[i], rules.watt_end_v[i]],
            np.array([1.0, rules.watt_end_share[i]]) * rules.nominal_power[i],
        )
        points = rules.reactive_x[i], rules.reactive_y[i]
        if rules.reactive_kind[i] == REACTIVE_KIND["q-of-u"]:
            wanted_q[:, i] = np.interp(volts[:, i], *points) * rules.apparent_rating[i]
        elif rules.reactive_kind[i] == REACTIVE_KIND["cos-phi-of-p"]:
            lacking = np.interp(p[:, i] / rules.nominal_power[i], *points)
            tangent = np.tan(np.arccos(1.0 - np.abs(lacking))) * np.sign(lacking)
            wanted_q[:, i] = p[:, i] * tangent
        else:
            wanted_q[:, i] = p[:, i] * rules.tangent[i]
    wanted_q[case.offer <= 0.0] = 0.0
    free = np.isnan(rules.watt_start_v) | (volts < rules.watt_start_v)
    at_jump = np.abs(volts - rules.watt_start_v) < 5e-10
    by_volts[free] = np.inf
    by_volts[at_jump] = np.maximum(p, np.broadcast_to(rules.nominal_power, p.shape))[at_jump]
    first = rules.reactive_first == 1
    by_rule = rules.reactive_kind == REACTIVE_KIND["q-of-u"]
    wanted_q = np.clip(wanted_q, -bound, bound)
    room_p = np.where(first & by_rule, np.sqrt(np.maximum(bound**2 - wanted_q**2, 0.0)), bound)
    room_q = np.sqrt(np.maximum(bound**2 - p**2, 0.0))
    wanted_q = np.where(first, wanted_q, np.clip(wanted_q, -room_q, room_q))
    most = np.minimum(np.minimum(case.offer, by_volts), room_p)
    # A cos phi that is kept takes P down with Q until both together meet the bound.
    together = np.hypot(p, q) >= bound * (1.0 - 1e-12)
    most = np.where(first & ~by_rule & together, np.minimum(most, p), most)
    missed = np.maximum(p - most, np.abs(q - wanted_q))
    held = state.limit != AC_LIMIT["export"]
    return np.where(held, np.maximum(missed, np.abs(p - most)), missed)


def sharing_missed(case: Drawn, state: ConnectionState) -> np.ndarray:
    """Return by how much of the offer the sharing of an export limit is missed [1] (time,).

    Those that the export limit holds have one share of their offer, and nobody has a larger one;
    in order, everything before the first that is held is free of it, and all behind give nothing.
    """
    held = state.limit == AC_LIMIT["export"]
    share = state.p / np.where(case.offer > 0.0, case.offer, 1.0)
    missed = np.zeros(held.shape[0])
    for t in np.flatnonzero(held.any(axis=1)):
        if case.limit.in_order:
            behind = share[t, np.argmax(held[t]) + 1 :]
            missed[t] = behind.max(initial=0.0)
        else:
            largest = share[t, held[t]].max()
            missed[t] = max(largest - share[t, held[t]].min(), share[t].max() - largest)
    return missed
