"""Plants whose yield is estimated: the demonstration site, one that clips, one in the shade."""

from functools import cache

import numpy as np
import pandas as pd

from tests.amounts import amount
from tests.study.sites import (
    NO_LOSSES_BEHIND,
    ac_held_at,
    demo,
    demo_mapping,
    variant,
    weather,
)
from yieldkit.base.progress import silent
from yieldkit.config.site.files import site_from_mapping
from yieldkit.study.estimate.estimate import drawing_of
from yieldkit.study.estimate.plant import plant_from_runs
from yieldkit.study.estimate.runs import Subject
from yieldkit.study.simulation.prepare import prepare

STATED = {"spread_percent": 3.9, "source": "Thevenard and Pelland (2013), abstract read"}
"""Year to year at Toronto, published (Solar Energy 91, 432)."""


def stated(site):
    """Return a site that states how much years differ."""
    return site.variant({"estimate.year_to_year": STATED})


def at_ratio(ratio):
    """Return the demonstration site with an AC limit so many times below its modules' power."""
    types = {module.name: module for module in demo().module_types}
    watts = sum(plane.modules * types[plane.module_type].p_max_w for plane in demo().planes)
    return variant(NO_LOSSES_BEHIND | ac_held_at(watts / ratio), demo_mapping()["wirings"])


@cache
def in_the_shade():
    """Return four modules behind a chimney and beside a tree, on one input."""
    content = demo().model_dump(exclude={"folder"})
    plane = dict(content["planes"][0])
    plane |= {
        "modules": 8,
        "positions": (),
        "drawing": ("MMMM", "MMMM"),
        "cable_exit": None,
        "corner_m": (0.0, 0.0, 3.0),
        "layout": "portrait",
        "azimuth_deg": 170.0,
        "tilt_deg": 32.0,
    }
    obstacles = [
        {
            "name": "flue",
            "shape": "box",
            "foot_m": (5.0, -0.7, 1.0),
            "width_m": 0.6,
            "depth_m": 0.5,
            "height_m": 4.2,
            "azimuth_deg": 150.0,
        },
        {
            "name": "tree",
            "shape": "cylinder",
            "foot_m": (-3.5, -6.0, 0.0),
            "diameter_m": 4.5,
            "height_m": 9.5,
        },
    ]
    content["planes"] = [plane]
    content["obstacles"] = obstacles
    strings = [{"groups": [{"plane": plane["name"], "modules": 8}]}]
    content["wirings"] = [
        {"name": "one string", "trackers": [{"mppt": "MPPT 1", "strings": strings}]}
    ]
    return site_from_mapping(content)


SITES = {
    "demonstration": (demo, None),
    "ratio 1.5": (lambda: at_ratio(1.5), None),
    "shade": (in_the_shade, amount(40, 365)),
}
"""Sites by name, and on how many days they are looked at; all of the year if left open."""


@cache
def known_plant(name):
    """Return what is drawn of a site that states how much years differ, and its plant."""
    site, days = SITES[name]
    drawing = drawn(stated(site()), 512, days=days)
    return drawing, plant_from_runs(drawing, np.ones(12), np.zeros(12), (), silent)


def drawn(site, draws=64, seed=1, days=None):
    """Return what is drawn of a site's first wiring on the shared weather.

    With few days those of every third month's beginning, ten each.
    """
    year = weather()
    if days == 40:
        local = year["time"].to_index() + pd.Timedelta(hours=1)
        year = year.isel(time=np.flatnonzero((local.day <= 10) & (local.month % 3 == 0)))
    return drawing_of(Subject(prepare(site, year), site.wirings[0]), draws, seed)
