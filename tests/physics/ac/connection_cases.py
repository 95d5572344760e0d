"""Connection points that several tests of their physics speak of."""

import numpy as np

from yieldkit.physics.ac.connection import connection
from yieldkit.physics.ac.connection_state import Branches, ExportLimit
from yieldkit.physics.ac.reactive import REACTIVE_KIND, Converters, departure

NOMINAL_V = 230.0
K = Branches(0.24 + 0.15j, 0.05 + 0.01j, np.array([0.02 + 0.002j, 0.10 + 0.01j]), 3)
"""Case K: two inverters of 15 and 10 kW on one lead behind a weak network."""
TANGENT_95 = 0.328684
"""Q/P of cos phi 0.95; computed: sqrt(1 / 0.95^2 - 1)."""
Q_OF_U_B = {
    "reactive_kind": REACTIVE_KIND["q-of-u"],
    "reactive_x": np.array([0.92, 0.98, 1.02, 1.08]) * NOMINAL_V,
    "reactive_y": np.array([0.44, 0.0, 0.0, -0.44]),
}
"""IEEE 1547-2018, category B, Q(U): +-0.44 at 0.92 and 1.08, none from 0.98 to 1.02; read, from a
secondary source."""
COS_PHI_90 = {
    "reactive_kind": REACTIVE_KIND["cos-phi-of-p"],
    "reactive_x": np.array([0.5, 1.0]),
    "reactive_y": departure(np.array([1.0, 0.90]), injecting=False),
}
"""VDE-AR-N 4105: cos phi from 1 at half to 0.90 absorbing at full power; read, from a secondary
source."""


def converters(count, **given):
    """Return inverters without any rule, but for what is given for all or for each."""
    each = np.full(count, np.nan)
    points = len(given.get("reactive_x", [0.0]))
    plain = {
        "nominal_power": 10_000.0,
        "apparent_rating": 10_000.0,
        "max_apparent": np.inf,
        "max_current": np.inf,
        "watt_start_v": np.nan,
        "watt_end_v": np.nan,
        "watt_end_share": 0.2,
        "reactive_kind": REACTIVE_KIND["fixed"],
        "tangent": 0.0,
        "reactive_x": np.zeros(points),
        "reactive_y": np.zeros(points),
        "reactive_first": 1,
    }
    assert set(given) <= set(plain), set(given) - set(plain)
    parts = {}
    for name, value in (plain | given).items():
        shape = (count, points) if name in ("reactive_x", "reactive_y") else each.shape
        parts[name] = np.array(np.broadcast_to(value, shape))
    return Converters(**parts)


def at_once(offer, stiff_v, rules, branches=K, load=0.0, limit=None):
    """Return one step's state at a power on offer [W] to each."""
    power = np.array([offer], dtype=float)
    return connection(
        power,
        np.zeros(power.shape),
        np.array([stiff_v]),
        load,
        branches,
        rules,
        limit or ExportLimit(),
    )
