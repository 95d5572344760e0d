"""Variants of the demonstration site, with weather read once."""

import copy
from functools import cache

import yieldkit
from yieldkit.config.reading.changes import changed
from yieldkit.config.site.files import site_from_mapping
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.simulation.weather import site_weather

NO_LOSSES_BEHIND = {
    "grid.lead": None,
    "grid.profile": None,
    "grid.network_resistance_ohm": 0.0,
    "grid.network_reactance_ohm": 0.0,
    "inverter.derating": (),
    "inverter.night_power_w": 0.0,
}
"""Changes that leave nothing behind the inverter's own limits."""


def ac_held_at(watts):
    """Return changes that leave the AC side one limit."""
    return {
        "inverter.ac.nominal_power_w": watts,
        "inverter.ac.max_power_w": watts,
        "inverter.ac.max_apparent_power_va": None,
        "inverter.ac.max_current_a": None,
    }


@cache
def demo():
    """Return the demonstration site."""
    return yieldkit.load_site()


def demo_mapping():
    """Return its content with every key, without the modules' places, so that counts may change.

    Each time anew: a test may put its own parts into it.
    """
    return dict(_demo_content())


@cache
def _demo_content():
    content = demo().model_dump(exclude={"folder"})
    nowhere = {"positions": (), "drawing": (), "cable_exit": None}
    return {**content, "planes": tuple({**plane, **nowhere} for plane in content["planes"])}


@cache
def weather():
    """Return its weather."""
    return site_weather(demo())


def variant(changes=None, wirings=None, planes=None):
    """Return the site with parts replaced by path, validated again."""
    content = copy.deepcopy(demo_mapping())
    if planes is not None:
        content["planes"] = planes
    if wirings is not None:
        content["wirings"] = wirings
    return site_from_mapping(changed(content, changes or {}))


def string(*groups, length_m=None):
    """Return a wired string of (plane, modules) groups, with a cable or without."""
    wired = {"groups": [{"plane": plane, "modules": modules} for plane, modules in groups]}
    if length_m is not None:
        wired["cable"] = {"length_m": length_m, "cross_section_mm2": 4.0}
    return wired


def wiring(name, **trackers):
    """Return a wiring of tracker number (as MPPT_1) to strings."""
    return {
        "name": name,
        "trackers": [
            {"mppt": mppt.replace("_", " "), "strings": strings}
            for mppt, strings in trackers.items()
        ],
    }


def run(site, name=None):
    """Return a site's simulated wiring on the shared weather."""
    chosen = site.wirings[0] if name is None else next(w for w in site.wirings if w.name == name)
    return simulate_prepared(prepare(site, weather()), chosen, Solutions())


@cache
def demo_results():
    """Return the demonstration site's prepared part and its results by wiring."""
    prepared = prepare(demo(), weather())
    solutions = Solutions()
    return prepared, {
        each.name: simulate_prepared(prepared, each, solutions) for each in demo().wirings
    }
