"""A second road to a connection point's state: sweeps of bisections, the others standing still.

Each inverter in turn: the voltage at which what its rules give makes just that voltage, found by
halving; the voltages from the whole matrix of impedances by turns. All hours at once, slowly.
"""

import numpy as np

from tests.physics.ac.drawn_connections import Drawn, voltages
from yieldkit.physics.ac.reactive import REACTIVE_KIND

_HALVINGS = 46


def given(case: Drawn, i: int, volts: np.ndarray, most: np.ndarray | None = None):
    """Return P and Q of one inverter at voltages, or at a power in place of P(U)'s (time,)."""
    rules, offer = case.rules, case.offer[:, i]
    bound = np.minimum(rules.max_apparent[i], case.branches.phases * rules.max_current[i] * volts)
    start, end = rules.watt_start_v[i], rules.watt_end_v[i]
    if most is None:
        falling = np.array([1.0, rules.watt_end_share[i]]) * rules.nominal_power[i]
        by_volts = np.interp(volts, [start, end], falling)
        most = np.where(volts > start, np.minimum(offer, by_volts), offer)
    first = bool(rules.reactive_first[i])
    points = rules.reactive_x[i], rules.reactive_y[i]
    if rules.reactive_kind[i] == REACTIVE_KIND["q-of-u"]:
        q = np.clip(np.interp(volts, *points) * rules.apparent_rating[i], -bound, bound)
        if first:
            p = np.minimum(most, np.sqrt(bound**2 - q**2))
        else:
            p = np.minimum(most, bound)
            room = np.sqrt(bound**2 - p**2)
            q = np.clip(q, -room, room)
        return p, np.where(offer > 0.0, q, 0.0)

    def reactive(p: np.ndarray) -> np.ndarray:
        if rules.reactive_kind[i] == REACTIVE_KIND["fixed"]:
            return p * rules.tangent[i]
        lacking = np.interp(p / rules.nominal_power[i], *points)
        return p * np.sign(lacking) * np.tan(np.arccos(1.0 - np.abs(lacking)))

    if not first:
        p = np.minimum(most, bound)
        room = np.sqrt(bound**2 - p**2)
        return p, np.clip(reactive(p), -room, room)
    low, high = np.zeros(most.shape), most.copy()
    fits = np.hypot(high, reactive(high)) <= bound
    for _ in range(_HALVINGS):
        half = 0.5 * (low + high)
        inside = np.hypot(half, reactive(half)) <= bound
        low, high = np.where(inside, half, low), np.where(inside, high, half)
    p = np.where(fits, most, low)
    return p, reactive(p)


def bisected(case: Drawn, sweeps: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return P, Q and voltages at the terminals (time, inverter) after so many sweeps."""
    p, q = np.zeros(case.offer.shape), np.zeros(case.offer.shape)
    for _ in range(sweeps):
        before = p.copy(), q.copy()
        for i in range(p.shape[1]):
            _one(case, i, p, q)
        if max(np.abs(p - before[0]).max(), np.abs(q - before[1]).max()) < 1e-6:
            break
    return p, q, np.abs(voltages(case, p, q))[:, 1:]


def _one(case: Drawn, i: int, p: np.ndarray, q: np.ndarray) -> None:
    def made() -> np.ndarray:
        return np.abs(voltages(case, p, q))[:, 1 + i]

    low, high = np.full(p.shape[0], 150.0), np.full(p.shape[0], 350.0)
    for _ in range(_HALVINGS):
        half = 0.5 * (low + high)
        p[:, i], q[:, i] = given(case, i, half)
        above = made() > half
        low, high = np.where(above, half, low), np.where(above, high, half)
    start = case.rules.watt_start_v[i]
    at_jump = np.abs(low - start) < 1e-9
    p[:, i], q[:, i] = given(case, i, np.where(at_jump, start, low))
    if not at_jump.any():
        return
    least, most = np.minimum(case.rules.nominal_power[i], p[:, i]), p[:, i].copy()
    volts = np.full(p.shape[0], start)
    kept = p[:, i].copy(), q[:, i].copy()
    for _ in range(_HALVINGS):
        half = 0.5 * (least + most)
        p[:, i], q[:, i] = given(case, i, volts, half)
        too_much = made() > start
        least, most = np.where(too_much, least, half), np.where(too_much, half, most)
    p[:, i] = np.where(at_jump, p[:, i], kept[0])
    q[:, i] = np.where(at_jump, q[:, i], kept[1])
