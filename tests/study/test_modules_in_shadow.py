"""Modules in shadow, one by one, through strings, inputs and the loss budget."""

import sys

import numpy as np
import pytest
from pvlib.shading import direct_martinez

from tests.design.shaded import CHIMNEY, TREE, shaded_site
from tests.study.sites import demo, weather
from yieldkit.design.equipment.modules import fit_module_type
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.physics.circuit.by_step import operating_point_by_step
from yieldkit.physics.circuit.levels import merged_levels
from yieldkit.physics.circuit.stepped_strings import SteppedString
from yieldkit.physics.irradiance.sky import incidence_modifiers
from yieldkit.study.comparison.curves import tracker_curves
from yieldkit.study.simulation import shaded_planes
from yieldkit.study.simulation.dc_side import direct_sides
from yieldkit.study.simulation.in_light import with_places
from yieldkit.study.simulation.plane_light import light_components
from yieldkit.study.simulation.planes import plane_cells
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate, simulate_prepared
from yieldkit.study.simulation.station import sun_place
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.simulation.under_sky import sky_over

pytestmark = pytest.mark.slow

ONE_PLANE = {
    "planes": [
        {
            "name": "roof",
            "tilt_deg": 35.0,
            "azimuth_deg": 190.0,
            "modules": 12,
            "layout": "portrait",
            "drawing": ["MMMMMM", "MMMMMM"],
            "corner_m": [0.0, 0.0, 3.0],
            "module_type": "Demo 430",
            "mounting": "roof-parallel",
        }
    ],
    "wirings": [],
}
POLE = {
    "name": "pole",
    "shape": "box",
    "foot_m": [1.0, -1.0, 0.0],
    "width_m": 0.4,
    "depth_m": 0.4,
    "height_m": 9.0,
}


def two_strings(left, right):
    """Return a wiring of one string on each of two inputs, of given columns."""

    def string(columns):
        places = [{"row": row, "column": column} for row in (0, 1) for column in columns]
        return {"groups": [{"plane": "roof", "modules": len(places), "places": places}]}

    return {
        "name": "two strings",
        "trackers": [
            {"mppt": "MPPT 1", "strings": [string(left)]},
            {"mppt": "MPPT 2", "strings": [string(right)]},
        ],
    }


def small(*obstacles, left=(0, 1, 2), right=(3, 4, 5), **changes):
    """Return a roof of twelve modules with a pole before its left side."""
    content = ONE_PLANE | {"obstacles": list(obstacles), "wirings": [two_strings(left, right)]}
    planes = [{**content["planes"][0], "module_type": demo().module_types[0].name, **changes}]
    return demo().variant(content | {"planes": planes})


@pytest.fixture(scope="module")
def ten_days():
    return weather().isel(time=slice(24 * 80, 24 * 90))


def budget(result):
    """Return the loss budget as a dict [kWh]."""
    return {
        str(k): float(v) for k, v in zip(result.loss_step.values, result.loss_budget, strict=True)
    }


@pytest.fixture(scope="module")
def bare_and_shaded(ten_days):
    return simulate(small(), weather=ten_days), simulate(small(POLE), weather=ten_days)


def test_what_lets_all_light_through_changes_nothing(ten_days, bare_and_shaded):
    clear = simulate(small(POLE | {"transmittance": 1.0}), weather=ten_days)
    bare = bare_and_shaded[0]
    assert clear.attrs["energy_kwh"] == pytest.approx(bare.attrs["energy_kwh"], rel=1e-12)
    for step, lost in budget(clear).items():
        assert lost == pytest.approx(budget(bare)[step], abs=1e-11 * bare.attrs["energy_kwh"]), step


def test_obstacle_steps_and_changes_of_the_others_are_the_difference(bare_and_shaded):
    bare, shaded = bare_and_shaded
    before, after = budget(bare), budget(shaded)
    assert before["obstacles: light missing"] == 0.0
    assert before["obstacles: darkest cell"] == 0.0
    assert after["obstacles: light missing"] > 0.02 * bare.attrs["energy_kwh"]
    assert after["obstacles: darkest cell"] > 0.005 * bare.attrs["energy_kwh"]
    assert after["series mismatch"] > before["series mismatch"] + 0.005 * bare.attrs["energy_kwh"]
    changed = sum(after[step] - before[step] for step in before)
    lacks = bare.attrs["energy_kwh"] - shaded.attrs["energy_kwh"]
    assert lacks == pytest.approx(changed, abs=1e-9)
    assert shaded.attrs["budget_closure"] < 1e-12
    first = list(before).index("obstacles: light missing")
    for step in list(before)[:first]:
        assert after[step] == before[step]


def test_the_string_behind_the_pole_gives_less(bare_and_shaded, ten_days):
    bare, shaded = (result["tracker_energy"].to_numpy() for result in bare_and_shaded)
    assert bare[0] == pytest.approx(bare[1], rel=1e-9)
    assert shaded[0] < 0.9 * bare[0]
    assert shaded[1] > 1.02 * shaded[0]
    mirrored = simulate(small(POLE, left=(3, 4, 5), right=(0, 1, 2)), weather=ten_days)
    assert mirrored["tracker_energy"].to_numpy() == pytest.approx(shaded[::-1], rel=1e-9)


def test_strings_without_places_are_laid_by_the_tool(ten_days):
    wiring = two_strings((0, 1, 2), (3, 4, 5))
    for tracker in wiring["trackers"]:
        del tracker["strings"][0]["groups"][0]["places"]
    site = small(POLE).variant({"wirings": [wiring]})
    prepared = prepare(site, ten_days)
    laid = with_places(prepared, site.wirings[0])
    places = [tracker.strings[0].groups[0].places for tracker in laid.trackers]
    assert len({place for own in places for place in own}) == 12
    result = simulate_prepared(prepared, site.wirings[0], Solutions())
    said = simulate(site.variant({"wirings": [laid.model_dump()]}), weather=ten_days)
    assert result.attrs["energy_kwh"] == said.attrs["energy_kwh"]


def test_modules_add_up_to_the_groups_of_all_strings(ten_days):
    site = small(POLE)
    prepared = prepare(site, ten_days)
    (shaded,) = prepared.shaded
    (side,) = direct_sides(prepared, site.wirings[0], Solutions())
    groups = sum(prepared.total(state.groups) for state in side.states)
    share = prepared.step_hours / 1000.0
    assert shaded.at_darkest.sum() * share == pytest.approx(groups, rel=1e-12)
    assert (shaded.at_mean >= shaded.at_darkest).all()
    # The modules are half-cut, and a half in shadow keeps its own light.
    assert (shaded.partners >= 0).any()
    assert (shaded.at_darkest < prepared.module_stages[-1, 0] / share).all()
    assert prepared.total(shaded.power) == pytest.approx(groups, rel=1e-12)


def test_a_held_back_tracker_moves_along_the_curve_of_its_shaded_string(ten_days):
    site = small(POLE)
    prepared = prepare(site, ten_days)
    (side,) = direct_sides(prepared, site.wirings[0], Solutions())
    steps = np.flatnonzero(side.tracked[:, 0] > 300.0)
    assert steps.size > 20
    bound = np.column_stack([np.full(steps.size, 250.0), np.full(steps.size, np.inf)])
    moved = side.under(bound, steps)
    assert moved.p_dc[:, 0] == pytest.approx(250.0, rel=1e-9)
    assert (moved.v_dc[:, 0] > side.free.v_dc[steps, 0]).all()
    assert (moved.p_dc[:, 1] == side.free.p_dc[steps, 1]).all()


def test_curves_of_a_moment_reach_the_power_found_then(ten_days):
    site = small(POLE)
    prepared = prepare(site, ten_days)
    wiring = site.wirings[0]
    (side,) = direct_sides(prepared, wiring, Solutions())
    free = side.states[0].window
    step = int(np.nanargmax(free))
    curves = tracker_curves(prepared, wiring, "MPPT 1", step)
    bare = tracker_curves(prepare(small(), ten_days), wiring, "MPPT 1", step)
    limits = site.inputs()["MPPT 1"]
    inside = curves["voltage"] >= limits.mpp_voltage_min_v
    assert float(curves["p_dc"].where(inside).max()) == pytest.approx(free[step], rel=1e-3)
    assert float(bare["p_dc"].max()) > float(curves["p_dc"].max())
    assert tracker_curves(prepared, wiring, "MPPT 1", 0)["p_dc"].max() == 0.0


def test_a_site_in_the_shade_crosses_planes_and_strings_in_parallel(ten_days):
    site = shaded_site(CHIMNEY, TREE)
    result = simulate(site, weather=ten_days)
    bare = simulate(shaded_site(), weather=ten_days)
    steps = budget(result)
    assert result.attrs["unsolved_steps"] == 0
    assert result.attrs["budget_closure"] < 1e-12
    for step in ("obstacles: light missing", "obstacles: darkest cell", "series mismatch"):
        assert steps[step] > budget(bare)[step]


def test_light_from_round_the_sun_goes_with_the_beam(ten_days):
    site = small(POLE)
    plane, module = site.planes[0], site.module_types[0]
    sky = sky_over(sun_place(site, ten_days), ten_days)
    cells = plane_cells(site, plane, fit_module_type(module), 3, sky.weather, sky.lit)
    parts = light_components(site, plane, sky.lit, cells.on_plane, cells.soiled)
    assert sum(parts) == pytest.approx(cells.light[-1], rel=1e-12)
    passes = incidence_modifiers(cells.on_plane[1].aoi, plane.tilt_deg, site.models.incidence)
    beam = cells.on_plane[1].poa_direct * passes.beam
    assert (parts.direct >= beam).all()
    assert parts.direct.sum() > 1.05 * beam.sum()
    wall = [{"azimuth_deg": azimuth, "elevation_deg": 89.0} for azimuth in (0.0, 359.0)]
    walled = small(POLE, horizon=wall)
    hidden = plane_cells(walled, walled.planes[0], fit_module_type(module), 3, sky.weather, sky.lit)
    light = hidden.on_plane, hidden.soiled
    behind = light_components(walled, walled.planes[0], sky.lit, *light)
    assert (behind.direct == 0.0).all()


def test_without_any_beam_modules_see_different_parts_of_the_sky(ten_days):
    grey = ten_days.assign(dni=0.0 * ten_days["dni"], ghi=ten_days["dhi"])
    (shaded,) = prepare(small(POLE), grey).shaded
    # The first column stands before the pole, the last far to its right.
    near, far = shaded.at_mean[0], shaded.at_mean[5]
    assert near < 0.99 * far


def test_merging_lights_moves_the_energy_by_less_than_two_in_ten_thousand(ten_days, monkeypatch):
    merged = simulate(small(POLE), weather=ten_days).attrs["energy_kwh"]

    def single(light, warmth, tolerance):
        return merged_levels(light, warmth, 0.0 * tolerance, 0.0, 0.0)

    monkeypatch.setattr(shaded_planes, "merged_levels", single)
    apart = simulate(small(POLE), weather=ten_days).attrs["energy_kwh"]
    assert merged != apart
    assert merged == pytest.approx(apart, rel=2e-4)


def test_light_is_said_to_be_uneven_where_it_is(ten_days):
    said = " ".join(prepare(small(POLE), ten_days).assumptions)
    assert "a cell group carries its darkest cell's" in said
    assert "evenly lit" not in said
    assert "half-cut cells; used where modules stand in shadow." in said
    assert "evenly lit" in " ".join(prepare(demo(), ten_days).assumptions)


def brightest(tilted):
    """Return the cell groups of the demonstration site's dormer in its brightest hour."""
    prepared = prepare(demo(), weather())
    plane = prepared.plane_index(tilted)
    at = int(np.nanargmax(prepared.planes["effective_irradiance"].to_numpy()[:, plane]))
    return [float(part[at, plane]) for part in prepared.conditions]


def lost(one, runs):
    """Return what shares of light cost a string: runs of (share, partner's share, groups) [%]."""
    shares = [1.0] + [share for own in runs for share in own[:2]]
    il, i0, rs, rsh, a = one
    shares = np.array(shares)
    full = np.ones(shares.size)
    lights = CellConditions(il * shares, i0 * full, rs * full, rsh / shares, a * full)
    groups = sum(count for *_, count in runs)
    # A half's light stands twice where both are lit alike: one run of whole groups.
    made = [
        (1 + 2 * at, -1 if own[0] == own[1] else 2 + 2 * at, own[2]) for at, own in enumerate(runs)
    ]
    power = [
        operating_point_by_step(lights, (SteppedString(np.array([0, len(each)]), np.array(each)),))
        for each in ([(0, -1, groups)], made)
    ]
    return 100.0 * (1.0 - float(power[1].p_dc[0]) / float(power[0].p_dc[0]))


def block_factor(direct, fraction, blocks):
    """Return what the library's factor on whole blocks says that shade costs [%]; not asserted."""
    return 100.0 * float(direct_martinez(1.0, direct, fraction, blocks, 30))


def test_a_dark_cell_costs_what_its_group_costs_and_not_its_share():
    one = brightest("dormer")
    circuit = lost(one, [(0.5, 0.5, 1), (1.0, 1.0, 29)])
    blocks = block_factor(0.5, 1.0 / 600.0, 1)
    sys.stdout.write(f"a cell at half light: circuit {circuit:.2f} %, blocks {blocks:.2f} %\n")
    assert circuit == pytest.approx(3.49, abs=0.1)
    # A group of 20 cells with one at half light has 0.975 of it on average.
    assert lost(one, [(0.975, 0.975, 1), (1.0, 1.0, 29)]) == pytest.approx(0.12, abs=0.1)


def test_lower_halves_in_the_shade_cost_half_cut_modules_half_as_much():
    one = brightest("dormer")
    half_cut, whole = lost(one, [(0.2, 1.0, 30)]), lost(one, [(0.2, 0.2, 30)])
    blocks = block_factor(0.8, 0.5, 30)
    sys.stdout.write(
        f"lower halves: circuit {half_cut:.1f} and {whole:.1f} %, blocks {blocks:.2f} %\n"
    )
    assert half_cut == pytest.approx(40.5, abs=0.1)
    assert whole == pytest.approx(80.7, abs=0.1)
