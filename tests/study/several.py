"""Sites of several inverters for the studies' tests, made of the demonstration's parts."""

import copy

from tests.study.sites import demo_mapping
from yieldkit.config.site.files import site_from_mapping

NAMES = ("north", "south")
LEAD = {
    "length_m": 20,
    "cross_section_mm2": 16,
    "installation_method": "C",
    "overcurrent_device_a": 63,
}


def twice(grid=None, planes=("", " too"), types=None, **installed):
    """Return the demonstration's inverter twice, each with its own copy of all planes.

    Parameters
    ----------
    grid : dict
        Keys of the connection point to replace.
    planes : tuple of str
        What is added to the planes' names for each inverter.
    types : list of dict, optional
        Kinds of inverters, one for each; the demonstration's for both if left out.
    installed : dict
        Keys of each installed inverter by its name.
    """
    content = copy.deepcopy(demo_mapping())
    kind = content.pop("inverter")
    place = content.pop("inverter_place")
    place.pop("wall")
    kinds = [kind] if types is None else types
    lead = content["grid"].pop("lead")
    content |= {
        "schema_version": 2,
        "inverter_types": kinds,
        "inverters": [
            {
                "name": name,
                "type": kinds[min(at, len(kinds) - 1)]["name"],
                "place": place,
                "lead": lead,
                **installed.get(name, {}),
            }
            for at, name in enumerate(NAMES)
        ],
        "planes": [
            {**plane, "name": plane["name"] + more}
            for more in planes
            for plane in content["planes"]
        ],
        "wirings": [
            {
                "name": wiring["name"],
                "trackers": [
                    _moved(tracker, name, more)
                    for name, more in zip(NAMES, planes, strict=True)
                    for tracker in wiring["trackers"]
                ],
            }
            for wiring in content["wirings"]
        ],
    }
    content["grid"] |= grid or {}
    return site_from_mapping(content)


def _moved(tracker, inverter, more):
    strings = [
        {
            **string,
            "groups": [{**group, "plane": group["plane"] + more} for group in string["groups"]],
        }
        for string in tracker["strings"]
    ]
    return {"inverter": inverter, "mppt": tracker["mppt"], "strings": strings}
