"""A second opinion on what an inverter does at a voltage of its own: reactive power, P(U), bounds.

Curves of the rules: AS/NZS 4777.2:2020 region A, P(U) from 253 to 260 V down to a fifth;
VDE-AR-N 4105:2018, cos phi(P) of inverters up to 4.6 kVA; from memory.
"""

import numpy as np

_WATTS_BY_VOLTS = {"as-nzs-4777-2-a": ([253.0, 260.0], [1.0, 0.2])}
_COS_PHI_OF_P = {"vde-ar-n-4105-2018": ([0.5, 1.0], [1.0, 0.95])}
_HALVINGS = 50


class Inverter:
    """What the rules ask of one installed inverter.

    Parameters
    ----------
    view : dict
        The site as a house of this inverter alone.
    installed : dict
        Its entry of `inverters`.
    """

    def __init__(self, view: dict, installed: dict) -> None:
        ac = view["inverter"]["ac"]
        profile = view["grid"].get("profile")
        self.sheet = view["inverter"]
        self.phases, self.nominal = ac["phases"], ac["nominal_power_w"]
        self.rated = ac.get("max_power_w", self.nominal)
        self.largest_va = ac.get("max_apparent_power_va", np.inf)
        self.amperes = ac.get("max_current_a", np.inf)
        self.falling = _WATTS_BY_VOLTS.get(profile)
        reactive = installed.get("reactive", {"kind": "fixed"})
        self.kind = reactive["kind"]
        self.reactive_first = reactive.get("priority", "reactive") == "reactive"
        self.sign = 1.0 if ac.get("power_factor_sign", "absorbing") == "injecting" else -1.0
        self.factor = ac.get("power_factor", 1.0)
        self.follows_volts = self.kind == "q-of-u" or self.falling is not None
        points = np.array(reactive.get("points", [])).T
        if self.kind == "q-of-u":
            rating = ac.get("max_apparent_power_va", self.rated)
            self.points = points[0] * ac["nominal_voltage_v"], points[1] * rating
        elif self.kind == "cos-phi-of-p":
            assert points.size or rating_of(ac) <= 4600.0
            self.points = tuple(points) if points.size else _COS_PHI_OF_P[profile]

    def reactive(self, watts: np.ndarray) -> np.ndarray:
        """Return the reactive power that goes with an active power [var]."""
        if self.kind == "fixed":
            cosine = np.full(watts.shape, self.factor)
        else:
            cosine = np.interp(watts / self.nominal, *self.points)
        return self.sign * watts * np.sqrt(1.0 - cosine**2) / cosine


def rating_of(ac: dict) -> float:
    """Return the apparent power an inverter is rated at [VA]."""
    return ac.get("max_apparent_power_va", ac.get("max_power_w", ac["nominal_power_w"]))


def given(
    inverter: Inverter,
    volts: np.ndarray,
    most: np.ndarray,
    offer: np.ndarray,
    *,
    reactive: bool,
    by_voltage: bool,
) -> tuple[np.ndarray, np.ndarray]:
    """Return active [W] and reactive power [var] at a voltage of the terminals (time,).

    Parameters
    ----------
    inverter : Inverter
        Which.
    volts : ndarray
        At its terminals [V].
    most : ndarray
        Most it may give of its offer [W].
    offer : ndarray
        What it could give: without any it keeps out of the network [W].
    reactive, by_voltage : bool
        Whether reactive power, and power that falls with the voltage, count.
    """
    bound = np.minimum(inverter.largest_va, inverter.phases * inverter.amperes * volts)
    if by_voltage and inverter.falling:
        at, shares = inverter.falling
        allowed = np.where(volts > at[0], inverter.nominal * np.interp(volts, at, shares), np.inf)
        most = np.minimum(most, allowed)
    if not reactive:
        return np.minimum(most, bound), np.zeros(most.shape)
    if inverter.kind == "q-of-u":
        asked = np.where(offer > 0.0, np.interp(volts, *inverter.points), 0.0)
        if inverter.reactive_first:
            asked = np.clip(asked, -bound, bound)
            return np.minimum(most, np.sqrt(bound**2 - asked**2)), asked
        watts = np.minimum(most, bound)
        room = np.sqrt(bound**2 - watts**2)
        return watts, np.clip(asked, -room, room)
    if not inverter.reactive_first:
        watts = np.minimum(most, bound)
        room = np.sqrt(bound**2 - watts**2)
        return watts, np.clip(inverter.reactive(watts), -room, room)
    watts = _inside(inverter, most, bound)
    return watts, inverter.reactive(watts)


def _inside(inverter: Inverter, most: np.ndarray, bound: np.ndarray) -> np.ndarray:
    """Return the active power whose apparent power keeps inside a bound [W]."""
    over = np.flatnonzero(np.hypot(most, inverter.reactive(most)) > bound)
    watts = most.copy()
    low, high, allowed = np.zeros(over.size), most[over], bound[over]
    for _ in range(_HALVINGS):
        half = 0.5 * (low + high)
        fits = np.hypot(half, inverter.reactive(half)) <= allowed
        low, high = np.where(fits, half, low), np.where(fits, high, half)
    watts[over] = low
    return watts
