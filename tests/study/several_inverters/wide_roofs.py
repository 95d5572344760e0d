"""Sites of several inverters under wide roofs, on a few days, and what may hang on them."""

import copy
from functools import cache

import yieldkit
from yieldkit.base.shipped import shipped
from yieldkit.config.site.files import site_from_mapping
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.study.several_inverters.inverter_rows import inverter_kinds, solved_kinds
from yieldkit.study.several_inverters.shared_side import shared_side
from yieldkit.study.several_inverters.space import space_of
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.weather import site_weather
from yieldkit.study.wiring_energies.energies import lit_steps

ASPECTS = ((100.0, 18.0), (280.0, 18.0), (190.0, 30.0))
"""Azimuth and tilt of the planes [deg]."""
LEAD = {
    "length_m": 30.0,
    "cross_section_mm2": 10.0,
    "installation_method": "C",
    "overcurrent_device_a": 63.0,
}
WITHIN = Constraints(shortest=6, longest=22)


def silent(*_told):
    """Hear what is told and never end the work."""
    return False


@cache
def example():
    """Return the content of the shipped site of two inverters."""
    site = yieldkit.load_site(shipped("site_configs", "two_inverters.yaml"))
    return site.model_dump(exclude={"folder"})


@cache
def days(first=121, count=4):
    """Return some days of that site's weather."""
    site = yieldkit.load_site(shipped("site_configs", "two_inverters.yaml"))
    return site_weather(site).isel(time=slice(24 * first, 24 * (first + count)))


def kind(name, watts, inputs, **keys):
    """Return a kind of inverter with equal inputs of two connectors and no limit but its power.

    Parameters
    ----------
    name : str
        Its name.
    watts : float
        Nominal power [W].
    inputs : int
        How many inputs.
    keys : dict
        Other keys of the type; those of "ac" and of every input ("mppts") one by one.
    """
    found = copy.deepcopy(example()["inverter_types"][0])
    own = {"connectors": 2, "max_power_w": None}
    own |= {"full_power_voltage_min_v": None, "full_power_voltage_max_v": None}
    own |= keys.pop("mppts", {})
    each = [{**found["mppts"][0], **own, "name": f"MPPT {place + 1}"} for place in range(inputs)]
    ac = {"nominal_power_w": watts, "max_apparent_power_va": watts, "max_current_a": None}
    ac = {**found["ac"], **ac, **keys.pop("ac", {})}
    limits = {"max_dc_power_w": None, "max_dc_power_pairs": (), "max_dc_short_circuit_a": None}
    return {**found, "name": name, "mppts": each, "ac": ac, **limits, **keys}


def roofs(modules, inverters, grid=None):
    """Return a site: planes of so many modules, and inverters behind one meter.

    Parameters
    ----------
    modules : sequence of int
        Modules of each plane.
    inverters : sequence of (dict, dict)
        For each its kind, and keys of the installed inverter.
    grid : dict, optional
        Keys of the connection point; nothing is shared if left out.
    """
    content = copy.deepcopy(example())
    plane = content["planes"][0]
    content["inverter_types"] = list({each["name"]: each for each, _ in inverters}.values())
    content["inverters"] = [
        {"name": f"inverter {place + 1}", "type": each["name"], **keys}
        for place, (each, keys) in enumerate(inverters)
    ]
    content["planes"] = [
        {
            **plane,
            "name": f"plane {place + 1}",
            "azimuth_deg": ASPECTS[place][0],
            "tilt_deg": ASPECTS[place][1],
            "modules": count,
            "layout": None,
        }
        for place, count in enumerate(modules)
    ]
    content["grid"] = grid or {}
    string = {"groups": [{"plane": "plane 1", "modules": 6}]}
    tracker = {"inverter": "inverter 1", "mppt": "MPPT 1", "strings": [string]}
    content["wirings"] = [{"name": "own", "trackers": [tracker]}]
    return site_from_mapping(content)


def side_of(site, weather, constraints=WITHIN):
    """Return a site's inverters with everything solved that may hang on them."""
    prepared = prepare(site, weather)
    kinds, kind_of = inverter_kinds(site, constraints, silent)
    lit = lit_steps(prepared)
    solved = solved_kinds(prepared, kinds, kind_of, constraints, lit, silent)
    return shared_side(prepared, solved, kind_of, lit)


def space_over(side, leave_at_most=0):
    """Return what is to be wired: all that isn't fixed."""
    left = [plane.modules for plane in side.prepared.site.planes]
    names = [plane.name for plane in side.prepared.site.planes]
    for own in side.kinds:
        for tracker in own.kind.fixed:
            for string in tracker.strings:
                for group in string.groups:
                    left[names.index(group.plane)] -= group.modules * len(own.kind.names)
    return space_of(side, left, leave_at_most)
