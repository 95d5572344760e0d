"""A second opinion on the AC side: conversion, what caps it, the lead and the network."""

import numpy as np
from scipy import optimize

from tests.street.oracle_circuit import resistance_per_m

_EUROPEAN = {0.05: 0.03, 0.1: 0.06, 0.2: 0.13, 0.3: 0.1, 0.5: 0.48, 1.0: 0.2}
"""Loads and weights of the European efficiency, EN 50530; read."""
_INLET_K = {
    # Rise of the inlet air over ambient; common practice, no source.
    "outdoors-shaded": 0.0,
    "outdoors-sunlit": 10.0,
    "indoors-ventilated": 5.0,
    "indoors-tight": 15.0,
}
_REACTANCE_PER_M = 0.08e-3  # IEC 60364-5-52 annex G; from memory


def _efficiency(losses: np.ndarray, load: np.ndarray) -> np.ndarray:
    """Return the efficiency of losses c0 + c1 p + c2 p2 at an AC load p."""
    return load / (load + losses[0] + losses[1] * load + losses[2] * load**2)


def loss_curves(efficiency: dict) -> tuple[np.ndarray, np.ndarray]:
    """Return DC voltages and the loss coefficients at each, (voltage,) and (voltage, 3)."""
    if efficiency["kind"] == "table":
        loads = np.array(efficiency["loads"])
        rows = [
            optimize.least_squares(
                lambda c, row=row: _efficiency(c, loads) - np.array(row),
                [0.005, 0.005, 0.01],
                bounds=(0.0, 0.3),
                xtol=1e-14,
                ftol=1e-14,
            ).x
            for row in efficiency["values"]
        ]
        return np.array(efficiency["voltages_v"], dtype=float), np.array(rows)
    peak = efficiency.get("load_at_maximum", 0.5)

    def gaps(c: np.ndarray) -> list[float]:
        weighted = sum(w * _efficiency(c, np.float64(p)) for p, w in _EUROPEAN.items())
        return [
            weighted - efficiency["european"],
            _efficiency(c, np.float64(peak)) - efficiency["maximum"],
            0.1 * (c[0] - c[2] * peak**2),  # the maximum lies there
        ]

    found = optimize.least_squares(gaps, [0.003, 0.005, 0.01], bounds=(0.0, 0.5), xtol=1e-14)
    return np.array([efficiency.get("voltage_v", 1.0)]), found.x[None, :]


def convert(inverter: dict, power: np.ndarray, volts: np.ndarray) -> np.ndarray:
    """Return AC power before any limit [W]: all of it at each input's voltage, by its share.

    Parameters
    ----------
    inverter : dict
        The site file's.
    power, volts : ndarray
        DC power [W] and voltage [V] of each input (time, input).
    """
    levels, losses = loss_curves(inverter["efficiency"])
    nominal = inverter["ac"]["nominal_power_w"]
    total = power.sum(axis=1)
    share = power / np.maximum(total, 1e-9)[:, None]
    found = np.zeros(total.size)
    for column in range(power.shape[1]):
        c0, c1, c2 = (np.interp(volts[:, column], levels, losses[:, k]) for k in range(3))
        load = np.maximum(total / nominal - c0, 0.0)
        slope = 1.0 + c1
        found += (
            share[:, column] * nominal * 2.0 * load / (slope + np.sqrt(slope**2 + 4.0 * c2 * load))
        )
    return np.clip(found, 0.0, total)


def fixed_caps(site: dict, air: np.ndarray, highest_v: np.ndarray, outside: np.ndarray) -> dict:
    """Return each limit of the AC power [W] by name, (time,) or a number."""
    inverter = site["inverter"]
    ac = inverter["ac"]
    caps = {"power": ac.get("max_power_w", ac["nominal_power_w"])}
    if "max_apparent_power_va" in ac:
        caps["apparent"] = ac["max_apparent_power_va"]
    caps["derating"] = _derating(site, air, highest_v)
    return caps


def _derating(site: dict, air: np.ndarray, highest_v: np.ndarray) -> np.ndarray:
    inverter = site["inverter"]
    thin, share = inverter.get("altitude_derating"), 1.0
    if thin is not None:
        above = max(site["site"]["altitude_m"] - thin["above_m"], 0.0)
        share = max(1.0 - above / 100.0 * thin["percent_per_100_m"] / 100.0, 0.0)
    curve = inverter.get("derating", [])
    if not curve:
        nominal = inverter["ac"]["nominal_power_w"]
        return np.full(air.shape, np.inf if thin is None else nominal * share)
    place = site.get("inverter_place", {})
    rise = place.get("inlet_offset_k", _INLET_K.get(place.get("surroundings"), 0.0))
    levels = sorted({point.get("dc_voltage_v") for point in curve}, key=lambda v: v or 0.0)
    by_level = [
        np.interp(
            air + rise,
            *np.array(
                [
                    (point["temp_inlet_c"], point["max_power_w"])
                    for point in curve
                    if point.get("dc_voltage_v") == level
                ]
            ).T,
        )
        for level in levels
    ]
    if len(levels) == 1:
        return by_level[0] * share
    assert len(levels) == 2, "two voltages of a derating curve are foreseen here"
    part = np.clip((highest_v - levels[0]) / (levels[1] - levels[0]), 0.0, 1.0)
    return ((1.0 - part) * by_level[0] + part * by_level[1]) * share


def at_unity(site: dict) -> dict:
    """Return a site whose inverter makes no reactive power."""
    inverter = site["inverter"]
    return {**site, "inverter": {**inverter, "ac": {**inverter["ac"], "power_factor": 1.0}}}


def held_by_amperes(site: dict, power: np.ndarray, own: np.ndarray, outside: np.ndarray):
    """Return the power [W] whose current is allowed at the voltage it makes itself (time,)."""
    ac = site["inverter"]["ac"]
    per_volt = ac.get("max_current_a", np.inf) * ac["phases"] * ac.get("power_factor", 1.0)

    def allowed(tried: np.ndarray) -> np.ndarray:
        return tried <= per_volt * terminals(site, tried - own, outside)[0]

    return _largest(power, allowed)


def held_at_the_meter(site: dict, power: np.ndarray, own: np.ndarray, outside: np.ndarray):
    """Return the power [W] of which no more than the export limit leaves the house (time,)."""
    limit = site["inverter"]["ac"].get("export_limit_w", np.inf)
    load = site.get("grid", {}).get("load_w", 0.0)

    def allowed(tried: np.ndarray) -> np.ndarray:
        return tried - own - terminals(site, tried - own, outside)[1] - load <= limit

    return _largest(power, allowed)


def _largest(power: np.ndarray, allowed: object) -> np.ndarray:
    """Return the largest power up to a given one that is allowed, by bisection."""
    low, high = np.zeros_like(power), power.copy()
    whole = allowed(power)
    for _ in range(60):
        middle = 0.5 * (low + high)
        good = allowed(middle)
        low, high = np.where(good, middle, low), np.where(good, high, middle)
    return np.where(whole, power, low)


def impedances(site: dict) -> tuple[complex, complex]:
    """Return what a phase's current meets in the lead and in the network [ohm]."""
    grid, phases = site.get("grid", {}), site["inverter"]["ac"]["phases"]
    lead = 0j
    if "lead" in grid:
        paths = 2.0 if phases == 1 else 1.0
        per_m = resistance_per_m(grid["lead"], "class-2", 70.0)
        lead = paths * grid["lead"]["length_m"] * complex(per_m, _REACTANCE_PER_M)
    network = complex(
        grid.get("network_resistance_ohm", 0.0), grid.get("network_reactance_ohm", 0.0)
    )
    return lead, network


def terminals(site: dict, power: np.ndarray, outside: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the voltage at the terminals [V] and the lead's heat [W], each (time,).

    With power P + jQ of a phase behind an impedance Z at a stiff voltage V the square u of the
    terminal voltage solves u2 - u (2 (R P + X Q) + V2) + |Z|2 |S|2 = 0. With a load in the
    house, which relieves the network and not the lead, the currents are gone through in turn.
    """
    ac = site["inverter"]["ac"]
    phases, factor = ac["phases"], ac.get("power_factor", 1.0)
    sign = 1.0 if ac.get("power_factor_sign", "absorbing") == "injecting" else -1.0
    apparent = power / phases * complex(1.0, sign * np.sqrt(1.0 - factor**2) / factor)
    lead, network = impedances(site)
    load = site.get("grid", {}).get("load_w", 0.0) / phases
    if load == 0.0:
        volts = _behind(lead + network, apparent, outside)
    else:
        volts = meter = outside.astype(complex)
        for _ in range(100):
            current = np.conj(apparent / volts)
            meter = outside + network * (current - np.conj(load / meter))
            volts = meter + lead * current
    amperes = np.abs(apparent) / np.abs(volts)
    return np.abs(volts), phases * amperes**2 * lead.real


def _behind(ohms: complex, apparent: np.ndarray, stiff: np.ndarray) -> np.ndarray:
    drive = 2.0 * (ohms.real * apparent.real + ohms.imag * apparent.imag) + stiff**2
    root = np.sqrt(np.maximum(drive**2 - 4.0 * abs(ohms) ** 2 * np.abs(apparent) ** 2, 0.0))
    return np.sqrt(0.5 * (drive + root))


def network_voltage(site: dict, ghi: np.ndarray, hour: np.ndarray) -> np.ndarray:
    """Return the network's voltage without this plant [V]: constant, or the model without noise."""
    told = site.get("grid", {}).get("network_voltage", {})
    volts = np.full(ghi.shape, float(told.get("voltage_v", 230.0)))
    if told.get("kind", "constant") == "constant":
        return volts
    assert told["kind"] == "modelled", "a series of voltages is looked at elsewhere"
    assert told.get("noise_v", 0.0) == 0.0, "noise is looked at elsewhere"
    volts = volts + told.get("daily_swing_v", 0.0) * np.cos(2.0 * np.pi * (hour - 4.0) / 24.0)
    volts = volts - told.get("load_term_v", 0.0) * np.exp(-0.5 * ((hour - 19.0) / 2.0) ** 2)
    return volts + told.get("neighbours_rise_v", 0.0) * ghi / 1000.0
