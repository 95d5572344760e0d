"""A year of several inverters behind one connection point, against a root finder hour by hour."""

import time

import numpy as np
from scipy import optimize

from benchmarks.timing import best_of
from yieldkit.physics.ac.connection import connection
from yieldkit.physics.ac.connection_state import Branches, ConnectionState, ExportLimit
from yieldkit.physics.ac.reactive import REACTIVE_KIND, Converters

NOMINAL_V, RATING = 230.0, 12e3
SAMPLE = 100
# IEEE 1547-2018, category B: Q(U), and P(U) from 1.06 to 1.10; read, from a secondary source.
Q_OF_U = (np.array([0.92, 0.98, 1.02, 1.08]) * NOMINAL_V, np.array([0.44, 0.0, 0.0, -0.44]))
P_OF_U = (np.array([1.06, 1.10]) * NOMINAL_V, np.array([1.0, 0.2]))


def rules(count: int) -> Converters:
    """Return inverters with Q(U), P(U) and a limit of apparent power, reactive power first."""
    same = np.full(count, RATING)
    return Converters(
        nominal_power=same,
        apparent_rating=same,
        max_apparent=same,
        max_current=np.full(count, 1.05 * RATING / (3.0 * NOMINAL_V)),
        watt_start_v=np.full(count, P_OF_U[0][0]),
        watt_end_v=np.full(count, P_OF_U[0][1]),
        watt_end_share=np.full(count, P_OF_U[1][1]),
        reactive_kind=np.full(count, REACTIVE_KIND["q-of-u"]),
        tangent=np.zeros(count),
        reactive_x=np.tile(Q_OF_U[0], (count, 1)),
        reactive_y=np.tile(Q_OF_U[1], (count, 1)),
        reactive_first=np.ones(count, dtype=int),
    ).numbers


class Year:
    """A year of hours: sun of a plain shape with clouds, a network that is high on some days."""

    def __init__(self, count: int) -> None:
        rng = np.random.default_rng(16)
        hour, day = np.arange(8760) % 24, np.arange(8760) // 24
        height = np.sin((hour - 5.5) / 13.0 * np.pi) * (0.65 - 0.35 * np.cos(day / 58.1))
        sun = np.clip(height, 0.0, 1.0) * rng.uniform(0.3, 1.0, 8760)
        self.offer = np.minimum(sun[:, None] * rng.uniform(0.9, 1.3, count) * RATING, RATING)
        self.drawn = np.where(self.offer > 0.0, 0.0, 4.0)
        self.stiff_v = 236.0 + 4.0 * rng.standard_normal(8760)
        self.load = rng.uniform(300.0, 3000.0, 8760)
        share = 2.0 / count
        self.branches = Branches(
            share * (0.24 + 0.15j),
            share * (0.05 + 0.01j),
            rng.uniform(0.02, 0.10, count) * (1.0 + 0.1j),
            3,
        )
        self.rules = rules(count)

    def solved(self, limit: ExportLimit | None = None) -> ConnectionState:
        """Return the whole year's state."""
        return connection(
            self.offer, self.drawn, self.stiff_v, self.load, self.branches, self.rules, limit
        )

    def by_root_finder(self, hour: int) -> np.ndarray:
        """Return one hour's voltages at the terminals, by a root of all equations [V]."""
        count, lines = self.offer.shape[1], self.branches
        ohms = np.full((count + 1, count + 1), lines.network)
        ohms[1:, 1:] += lines.common_lead
        ohms[1:, 1:] += np.diag(lines.own_leads)
        offer, awake = self.offer[hour], self.offer[hour] > 0.0
        amperes = 3.0 * float(self.rules.max_current[0])

        def gaps(parts: np.ndarray) -> np.ndarray:
            volts = parts[: count + 1] + 1j * parts[count + 1 :]
            size = np.abs(volts[1:])
            bound = np.minimum(RATING, amperes * size)
            q = np.where(awake, np.interp(size, *Q_OF_U) * RATING, 0.0)
            most = np.minimum(np.interp(size, *P_OF_U) * RATING, np.sqrt(bound**2 - q**2))
            p = np.minimum(offer, most) - self.drawn[hour]
            power = np.concatenate([[-self.load[hour]], p + 1j * q])
            gap = volts - self.stiff_v[hour] - ohms @ np.conj(power / volts) / lines.phases
            return np.concatenate([gap.real, gap.imag])

        start = np.concatenate([np.full(count + 1, self.stiff_v[hour]), np.zeros(count + 1)])
        found = optimize.root(gaps, start, tol=1e-10).x
        return np.abs(found[1 : count + 1] + 1j * found[count + 2 :])


def run() -> dict[str, float]:
    """Return the times of a year, and how much faster than a root finder it is for two inverters.

    Of six inverters a quarter of the year's bright hours meet an export limit. The root finder's
    time is that of hours drawn from the whole year.

    Raises
    ------
    RuntimeError
        If the two don't agree.
    """
    two, six = Year(2), Year(6)
    hours = np.random.default_rng(1).choice(8760, SAMPLE, replace=False)
    started = time.perf_counter()
    found = np.array([two.by_root_finder(int(hour)) for hour in hours])
    by_root = (time.perf_counter() - started) / SAMPLE * 8760
    gap = np.abs(found - two.solved().v_ac[hours]).max()
    if gap > 1e-6:
        raise RuntimeError(f"the root finder's voltages differ by {gap:.2g} V")
    two_s = best_of(lambda: two.solved(), 5)
    return {
        "connection_year_2_inverters_s": two_s,
        "connection_year_6_inverters_s": best_of(lambda: six.solved(ExportLimit(30e3)), 5),
        "connection_speedup": by_root / two_s,
    }
