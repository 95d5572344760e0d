"""Wirings over several inverters: the best hundred of 4e11, and every choice of inverters.

The kinds are sizes of the invented one in the example with two inverters. Times are of the whole
search with its tables of tracker power, weather and light beforehand. What plain enumeration would
take is the time of one exact solution times the number of wirings.
"""

import copy
import time
from collections.abc import Sequence
from typing import Any

import yieldkit
from benchmarks.timing import best_of
from yieldkit.base.progress import silent
from yieldkit.base.shipped import shipped
from yieldkit.config.site.files import site_from_mapping
from yieldkit.config.site.site import Site
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.study.several_inverters.choice import choose
from yieldkit.study.several_inverters.inverter_rows import inverter_kinds, solved_kinds
from yieldkit.study.several_inverters.search import search
from yieldkit.study.several_inverters.shared_side import SharedSide, shared_side
from yieldkit.study.several_inverters.solved_wirings import Wanted, each_wiring, every_wiring
from yieldkit.study.several_inverters.space import space_of
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.weather import site_weather
from yieldkit.study.wiring_energies.energies import lit_steps

WITHIN = Constraints(shortest=6, longest=22)
WIRINGS = 377_113_891_020
"""Wirings of sixty modules on each of three planes over two equal inverters of three inputs."""
ASPECTS = ((100.0, 18.0), (280.0, 18.0), (190.0, 30.0))
"""Azimuth and tilt of the planes [deg]."""
NOTHING_SHARED = {
    "load": None,
    "lead": None,
    "network_resistance_ohm": 0.0,
    "network_reactance_ohm": 0.0,
}
KILOWATTS, MODULES, MOST = (5, 6, 8, 10, 12), 24, 3


def kind(like: dict[str, Any], kilowatts: float, inputs: int) -> dict[str, Any]:
    """Return a kind of inverter with equal inputs of two strings and no limit but its power."""
    mppt = like["mppts"][0] | {"connectors": 2, "max_power_w": None}
    watts = 1000.0 * kilowatts
    ac = {"nominal_power_w": watts, "max_apparent_power_va": watts, "max_current_a": None}
    return copy.deepcopy(like) | {
        "name": f"{kilowatts} kW (invented)",
        "max_dc_power_w": None,
        "max_dc_short_circuit_a": None,
        "mppts": [mppt | {"name": f"MPPT {place + 1}"} for place in range(inputs)],
        "ac": like["ac"] | ac,
    }


def roofs(
    planes: int, modules: int, inputs: int, kilowatts: Sequence[float], grid: dict[str, Any]
) -> Site:
    """Return a site of equal roofs, and inverters of some sizes.

    Parameters
    ----------
    planes, modules : int
        How many, and how many modules on each.
    inputs : int
        Of each inverter.
    kilowatts : sequence of float
        Nominal power of each inverter [kW].
    grid : dict
        Keys of the connection point that differ from the example's.
    """
    example = yieldkit.load_site(shipped("site_configs", "two_inverters.yaml"))
    content = example.model_dump(exclude={"folder"})
    sizes = tuple(dict.fromkeys(kilowatts))
    kinds = {size: kind(content["inverter_types"][0], size, inputs) for size in sizes}
    content["inverter_types"] = list(kinds.values())
    first = content["inverters"][0]
    content["inverters"] = [
        first | {"name": f"inverter {place + 1}", "type": kinds[size]["name"], "lead": None}
        for place, size in enumerate(kilowatts)
    ]
    roof = content["planes"][0] | {"modules": modules, "layout": None}
    content["planes"] = [
        roof | {"name": f"plane {place + 1}", "azimuth_deg": azimuth, "tilt_deg": tilt}
        for place, (azimuth, tilt) in enumerate(ASPECTS[:planes])
    ]
    content["grid"] |= grid
    string = {"groups": [{"plane": "plane 1", "modules": modules // 5}]}
    tracker = {"inverter": "inverter 1", "mppt": "MPPT 1", "strings": [string]}
    content["wirings"] = [{"name": "one string", "trackers": [tracker]}]
    return site_from_mapping(content)


def solved_side(prepared: Prepared) -> SharedSide:
    """Return a site's inverters with everything solved that may hang on them."""
    kinds, kind_of = inverter_kinds(prepared.site, WITHIN, silent)
    lit = lit_steps(prepared)
    return shared_side(
        prepared, solved_kinds(prepared, kinds, kind_of, WITHIN, lit, silent), kind_of, lit
    )


def best_hundred() -> tuple[float, float]:
    """Return the time of finding the best hundred, and of solving one of them exactly [s]."""
    site = roofs(3, 60, 3, (25, 25), NOTHING_SHARED | {"export_limit_w": 45_000.0})
    prepared = prepare(site, site_weather(site))
    begun = time.perf_counter()
    side = solved_side(prepared)
    space = space_of(side, [plane.modules for plane in site.planes], 0)
    found = search(space, Wanted(100, each_wiring, every_wiring), silent)
    whole = time.perf_counter() - begun
    wired, _ = found.best[0]
    return whole, best_of(lambda: side.delivered(wired), 5)


def choices() -> float:
    """Return the time of every choice of up to three of five kinds, each with its best wiring."""
    site = roofs(2, MODULES, 2, KILOWATTS, {"load": None, "export_limit_w": None})
    weather = site_weather(site)
    choose(site, 1, WITHIN, weather)
    return best_of(lambda: choose(site, MOST, WITHIN, weather), 1)


def run() -> dict[str, float]:
    """Return the times of both searches, and how much less than enumeration the first takes."""
    best_hundred()
    hundred, one = best_hundred()
    return {
        "best_100_of_4e11_s": hundred,
        "best_100_vs_enumeration_speedup": one * WIRINGS / hundred,
        "choose_inverters_s": choices(),
    }
