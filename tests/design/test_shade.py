"""Winter shade in the checks: who lies without direct light in midwinter, and for how long."""

import re

import numpy as np
import pandas as pd
import pytest
from pvlib.solarposition import get_solarposition

from tests.design.shaded import CHIMNEY, PORCH, TREE, shaded_site
from yieldkit.config.site.files import load_site
from yieldkit.design.checks.limits import check
from yieldkit.design.checks.shade import CHECK, IDLE

CLEAR = {"transmittance": 1.0}


def found(site, name=CHECK):
    """Return the findings of one check by their subjects."""
    return {each.subject: each for each in check(site) if each.check == name}


def test_a_site_without_places_is_not_checked():
    only = found(load_site())
    assert list(only) == ["array"]
    assert only["array"].verdict == "NOT CHECKED"
    assert only["array"].advice.startswith("Where the planes lie (corner_m of each)")
    assert not only["array"].essential


def test_a_wall_behind_the_noon_sun_is_told_with_its_hours():
    # One module in a level plane; a wall so high and wide that it hides the sun while it stands
    # between two azimuths: an independent sum over the library's own sun.
    wall = {
        "name": "wall",
        "shape": "box",
        "foot_m": [0.55, -2.0, 4.0],
        "width_m": 3.0,
        "depth_m": 0.02,
        "height_m": 40.0,
    }
    site = shaded_site(
        wall,
        **{
            "planes.0.tilt_deg": 0,
            "planes.0.azimuth_deg": 180,
            "planes.0.corner_m": [0.0, 0.0, 4.0],
            "planes.1.corner_m": [0.0, 500.0, 4.0],
            "planes.2.corner_m": [0.0, 900.0, 4.0],
        },
    )
    said = found(site)["west roof"]
    assert said.verdict == "costs yield"
    place = site.site
    times = pd.date_range("2021-12-21", periods=1440, freq="min", tz="Etc/GMT-1")
    sun = get_solarposition(times, place.latitude, place.longitude, place.altitude_m)
    up = sun["apparent_elevation"].to_numpy() > 0.0
    turn = np.radians(sun["azimuth"].to_numpy())
    # The module's own first column: cells 0.09 m inside of its sides, 0.05 and 1.67 m deep.
    hidden = np.zeros(times.size, dtype=bool)
    for east in np.linspace(0.05, 1.08, 12):
        for north in (0.02, 1.70):
            across = east - 0.55 + np.tan(turn - np.pi) * (2.0 + north) * -1.0
            before = np.cos(turn) < 0.0
            hidden |= up & before & (np.abs(across) < 1.5)
    hours = float(re.search(r"row 0, column 0 for ([\d.]+) h", said.advice)[1])
    assert hours == pytest.approx(hidden.sum() / 60.0, abs=0.3)
    whole = float(re.search(r"before west roof for ([\d.]+) h;", said.advice)[1])
    assert whole == pytest.approx(up.sum() / 60.0, abs=0.1)


def test_planes_that_nothing_reaches_pass_and_idle_obstacles_are_named():
    shed = CHIMNEY | {"name": "shed", "foot_m": [0.0, -20.0, -3.0], "height_m": 2.0}
    site = shaded_site(shed, CHIMNEY)
    assert found(site)["dormer"].verdict == "passes"
    west = found(site)["west roof"]
    assert west.value >= 1.0
    assert west.advice.startswith("On 21 December the sun stands before west roof for ")
    assert "cells have less than half of its direct light in row 1, column" in west.advice
    assert west.advice.endswith("Wire them together, or leave them out.")
    assert re.search(r"for \d\.\d h \(\d\d:\d\d to \d\d:\d\d\)", west.advice)
    idle = found(site, IDLE)
    assert list(idle) == ["shed"]
    assert idle["shed"].verdict == "not applicable"
    assert "wholly below or behind every plane's modules" in idle["shed"].advice
    assert list(found(shaded_site(CHIMNEY | CLEAR), IDLE)) == ["chimney"]


def test_a_tree_counts_by_what_it_lets_through_in_december_and_a_horizon_first():
    def count(*obstacles, **changes):
        return found(shaded_site(*obstacles, **changes))["west roof"].value

    dark = TREE | {"transmittance_by_month": [0.1] * 12}
    bare = TREE | {"transmittance_by_month": [0.1] * 11 + [0.7]}
    assert count(dark) > count(bare) == count()
    high = [{"azimuth_deg": each, "elevation_deg": 60.0} for each in (0.0, 180.0)]
    hidden = found(shaded_site(dark, **{"planes.0.horizon": high}))["west roof"]
    assert hidden.verdict == "not applicable"


def test_midwinter_is_in_june_south_of_the_equator():
    # At 45 S the noon sun stands 21.6 degrees high in the north on 21 June, 68.4 on 21 December:
    # a wall 2 m north of the module and 1.6 m above it hides the one only.
    south = {"site.latitude": -45.0, "planes.0.tilt_deg": 0, "planes.0.azimuth_deg": 0}
    wall = {"name": "wall", "shape": "box", "foot_m": [0.0, 3.0, 4.0], "width_m": 20.0}
    wall |= {"depth_m": 0.02, "height_m": 1.6, "transmittance_by_month": [0.9] * 5 + [0.1] * 7}
    corners = {"planes.0.corner_m": [0.0, 0.0, 4.0], "planes.1.corner_m": [0.0, 500.0, 4.0]}
    site = shaded_site(wall, **south, **corners, **{"planes.2.corner_m": [0.0, 900.0, 4.0]})
    said = found(site)["west roof"]
    assert said.verdict == "costs yield"
    assert said.advice.startswith("On 21 June the sun stands before west roof for 8.")
    tree = wall | {"transmittance_by_month": [0.1] * 5 + [0.9] + [0.1] * 6}
    bare = shaded_site(tree, **south, **corners, **{"planes.2.corner_m": [0.0, 900.0, 4.0]})
    assert found(bare)["west roof"].verdict == "passes"


def test_a_plane_that_the_midwinter_sun_never_reaches_does_not_pass():
    polar = found(shaded_site(CHIMNEY, **{"site.latitude": 69.0}))["west roof"]
    assert polar.verdict == "not applicable"
    assert polar.advice == "On 21 December the sun stays behind west roof or below the horizon."


def test_shingled_modules_in_shade_are_not_modelled():
    said = found(shaded_site(PORCH, **{"module_types.0.cell_layout": "shingled"}))
    assert said["dormer"].verdict == "NOT CHECKED"
    assert said["dormer"].advice.startswith("Shingled modules in partial shade are NOT MODELLED")
    assert "in the shadow of porch" in said["dormer"].advice
    bare = found(shaded_site(**{"module_types.0.cell_layout": "shingled"}))
    assert bare["dormer"].verdict == "passes"
