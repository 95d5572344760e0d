"""Every choice of up to three of five kinds of inverters for two planes, each with its best wiring.

The kinds are sizes of the invented one in the example with two inverters.
"""

import copy

import yieldkit
from benchmarks.timing import best_of
from yieldkit.base.shipped import shipped
from yieldkit.config.site.files import site_from_mapping
from yieldkit.config.site.site import Site
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.study.several_inverters.choice import choose
from yieldkit.study.simulation.weather import site_weather

KILOWATTS = (5, 6, 8, 10, 12)
MODULES = 24
WITHIN = Constraints(shortest=6, longest=22)


def two_planes() -> Site:
    """Return a site of two planes whose file has five kinds of inverters."""
    content = yieldkit.load_site(shipped("site_configs", "two_inverters.yaml")).model_dump(
        exclude={"folder"}
    )
    like = content["inverter_types"][0]
    mppt = like["mppts"][0] | {"connectors": 2, "max_power_w": None}
    kinds = []
    for size in KILOWATTS:
        kind = copy.deepcopy(like) | {"name": f"{size} kW (invented)", "max_dc_power_w": None}
        kind["mppts"] = [mppt | {"name": name} for name in ("MPPT 1", "MPPT 2")]
        limits = {"max_apparent_power_va": 1000.0 * size, "max_current_a": None}
        kind["ac"] = like["ac"] | {"nominal_power_w": 1000.0 * size} | limits
        kinds.append(kind)
    content["inverter_types"] = kinds
    content["inverters"] = [
        installed | {"type": kinds[place]["name"]}
        for place, installed in enumerate(content["inverters"])
    ]
    content["planes"] = [plane | {"modules": MODULES} for plane in content["planes"][:2]]
    group = {"plane": content["planes"][0]["name"], "modules": MODULES // 2}
    tracker = {"inverter": content["inverters"][0]["name"], "mppt": "MPPT 1"}
    wiring = {"name": "one string", "trackers": [tracker | {"strings": [{"groups": [group]}]}]}
    content["wirings"] = [wiring]
    content["grid"] |= {"load": None, "export_limit_w": None}
    return site_from_mapping(content)


def run() -> dict[str, float]:
    """Return the time of all choices, tables of tracker power included [s]."""
    site = two_planes()
    weather = site_weather(site)
    choose(site, 1, WITHIN, weather)
    return {"choose_inverters_s": best_of(lambda: choose(site, 3, WITHIN, weather), 1)}
