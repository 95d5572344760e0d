"""Sites of two or three inverters drawn without choosing: leads, networks, rules and limits."""

import numpy as np

from tests.study.several_inverters.wide_roofs import LEAD, WITHIN, days, kind, roofs, side_of
from yieldkit.study.several_inverters.shared_side import SharedSide, Wired

NARROW = WITHIN._replace(shortest=7, longest=12, strings_per_tracker=1)
"""Few string lengths, so that a site is solved in a moment."""
SUBJECTS = ("q-of-u", "switch-off", "amperes")
VOLTS = 230.0
PROFILES = ("en-50549-1", "vde-ar-n-4105-2018")


def _lead(rng):
    """Return a lead of some length, or none."""
    length = float(rng.uniform(5.0, 120.0))
    section = float(rng.choice([4.0, 6.0, 10.0, 16.0]))
    lead = {**LEAD, "length_m": length, "cross_section_mm2": section, "overcurrent_device_a": 16.0}
    return lead if rng.random() < 0.7 else None


def _q_of_u(rng):
    """Return reactive power that falls with the voltage, absorbing or injecting."""
    edges = np.sort(rng.uniform(0.94, 1.10, 4)) + np.array([0.0, 0.005, 0.01, 0.015])
    inject, absorb = rng.uniform(0.0, 0.45, 2) * (rng.random(2) < 0.8)
    points = zip(edges.tolist(), [float(inject), 0.0, 0.0, -float(absorb)], strict=True)
    priority = str(rng.choice(["reactive", "active"]))
    return {"kind": "q-of-u", "points": tuple(points), "priority": priority}


def _type(rng, name, watts, subject):
    """Return a kind of inverter, with a limit of amperes where that is the subject."""
    ac = {"max_apparent_power_va": watts * float(rng.uniform(1.0, 1.1))}
    if rng.random() < 0.4:
        ac["power_factor"] = float(rng.uniform(0.85, 1.0))
        ac["power_factor_sign"] = str(rng.choice(["injecting", "absorbing"]))
    if subject == "amperes":
        ac["max_current_a"] = watts / (3.0 * VOLTS) * float(rng.uniform(0.75, 1.05))
    own = {"ac": ac, "night_power_w": float(rng.uniform(0.0, 0.01)) * watts}
    own["auxiliary_power_w"] = float(rng.choice([0.0, 0.01])) * watts
    return kind(name, watts, 2, **own)


def _grid(rng, whole_w, subject):
    """Return a connection point whose voltage the whole power raises by up to 15 V."""
    ohm = 3.0 * VOLTS / whole_w * float(rng.uniform(0.0, 15.0))
    volts = float(rng.normal(236.0, 5.0))
    grid = {
        "lead": _lead(rng),
        "network_resistance_ohm": ohm,
        "network_reactance_ohm": ohm * float(rng.uniform(0.0, 1.5)),
        "network_voltage": {"kind": "constant", "voltage_v": volts},
        "availability_percent": float(rng.choice([100.0, 97.0])),
        "export_sharing": str(rng.choice(["proportional", "in-order"])),
    }
    if rng.random() < 0.5:
        grid["export_limit_w"] = whole_w * float(rng.choice([0.0, 0.3, 0.6]))
    if rng.random() < 0.5:
        hours = rng.uniform(0.0, 0.4, 24) * whole_w
        grid["load"] = {"kind": "day", "hours_w": tuple(float(each) for each in np.round(hours))}
    if subject == "switch-off":
        grid["profile"] = str(rng.choice(PROFILES))
        grid["network_voltage"]["voltage_v"] = float(rng.uniform(245.0, 253.0))
    return grid


def drawn_side(rng: np.random.Generator, subject: str) -> SharedSide:
    """Return two or three inverters of which one subject is certain and the rest drawn."""
    count = int(rng.integers(2, 4))
    watts = [float(each) for each in rng.uniform(1500.0, 5000.0, count)]
    if rng.random() < 0.5:
        watts[1] = watts[0]
    types = {each: _type(rng, f"{each:.0f} W (invented)", each, subject) for each in watts}
    installed = []
    for each in watts:
        keys = {"lead": _lead(rng)}
        if subject == "q-of-u" or rng.random() < 0.3:
            keys["reactive"] = _q_of_u(rng)
        installed.append((types[each], keys))
    if rng.random() < 0.5:
        installed[1] = (installed[1][0], installed[0][1])
    modules = tuple(int(each) for each in rng.integers(14, 31, 2))
    site = roofs(modules, installed, _grid(rng, sum(watts), subject))
    first = int(rng.choice([20, 121, 170, 260]))
    return side_of(site, days(first, 1), NARROW)


def drawn_wiring(rng: np.random.Generator, side: SharedSide) -> Wired:
    """Return something on each inverter, on one of three nothing; modules are not counted."""
    wired = []
    for place in range(side.kind_of.size):
        own = side.solved(place)
        count = int(rng.integers(1, own.kind.slots.size + 1)) if rng.random() < 0.8 else 0
        rows = rng.integers(0, len(own.rows), count)
        wired.append(tuple(sorted(int(row) for row in rows)))
    return tuple(wired)
