"""A site in the shade, and the same as if nothing stood in its light."""

import json

import pytest

from tests.design.shaded import CHIMNEY, CORNERS
from yieldkit.base.shipped import shipped
from yieldkit.cli.main import main
from yieldkit.config.site.files import load_site
from yieldkit.study.simulation.budget_steps import BUDGET, STEPS, left_out

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def site_file(tmp_path_factory):
    """Return a site file of the demonstration site with a chimney, wired simply."""
    demo = load_site()
    site = demo.variant(CORNERS | {"obstacles": [CHIMNEY]})
    two = site.wirings[0].model_copy(update={"trackers": site.wirings[0].trackers[1:]})
    site = site.variant({"wirings": [two.model_dump()]})
    content = site.model_dump(mode="json", exclude={"folder"}, exclude_defaults=True)
    path = tmp_path_factory.mktemp("shaded") / "site.yaml"
    path.write_text(json.dumps(content), encoding="utf-8")
    return path


def test_simulate_tells_what_obstacles_cost_and_leaves_them_out_when_asked(site_file, capsys):
    assert main(["simulate", str(site_file)]) == 0
    shaded = capsys.readouterr()
    assert main(["simulate", str(site_file), "--without-obstacles"]) == 0
    bare = capsys.readouterr()
    assert "obstacles: light missing" in shaded.out
    assert "obstacles: darkest cell" in shaded.out
    assert "obstacles:" not in bare.out
    said = "Without obstacles: every module is taken to have the light of its plane."
    assert said in bare.err
    assert said not in shaded.err
    assert "near shade on single cell groups" not in shaded.out
    assert "near shade on single cell groups" in bare.out


def test_an_obstacle_that_shades_nothing_is_named_with_its_line(tmp_path, capsys):
    shed = """
obstacles:
  - {name: chimney, shape: box, foot_m: [-0.3, 5, 5], width_m: 0.8, depth_m: 0.6, height_m: 3.2}
  - {name: shed, shape: box, foot_m: [2, -9, 0], width_m: 3, depth_m: 3, height_m: 2}
"""
    text = shipped("site_configs", "demo.yaml").read_text(encoding="utf-8") + shed
    for at, corner in enumerate(CORNERS.values()):
        key = f"name: {load_site().planes[at].name}\n"
        text = text.replace(key, f"{key}    corner_m: {corner}\n", 1)
    path = tmp_path / "site.yaml"
    path.write_text(text, encoding="utf-8")
    line = 1 + text[: text.index("- {name: shed")].count("\n")
    main(["check", str(path)])
    said = " ".join(capsys.readouterr().err.split())
    assert f"Caution: site.yaml line {line}, obstacles.1: obstacle 'shed' shades nothing." in said
    assert "wholly below or behind every plane's modules: a slip in its place or height" in said
    assert "'chimney' shades nothing" not in said


def test_what_a_site_lacks_names_itself():
    demo = load_site()
    always = ("snow", "fluctuation within the step", "spectrum", "ageing")
    assert left_out(demo) == ("far horizon", "near shade on single cell groups", *always)
    assert left_out(demo.variant(CORNERS)) == ("far horizon", *always)
    far = [{"azimuth_deg": 0.0, "elevation_deg": 5.0}]
    horizon = demo.variant({"planes.0.horizon": far})
    assert left_out(horizon) == ("near shade on single cell groups", *always)
    assert left_out(horizon, demo.variant(CORNERS)) == left_out(demo)
    snow = {"site.snow": {"kind": "from-snowfall"}}
    assert left_out(horizon.variant(snow)) == ("near shade on single cell groups", *always[1:])
    asked = demo.variant({"weather.within_hour": {}})
    assert "fluctuation within the step" not in left_out(asked)
    assert left_out(asked, demo) == left_out(demo)
    assert {step.name for step in BUDGET} >= set(STEPS)
