"""A site in the shade, and the same as if nothing stood in its light."""

import json

import pytest

from tests.design.shaded import CHIMNEY, CORNERS
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


def test_what_a_site_lacks_names_itself():
    demo = load_site()
    always = ("spectrum", "fluctuation within the step", "snow", "ageing")
    assert left_out() == ("far horizon", "near shade on single cell groups", *always)
    assert left_out(demo.variant(CORNERS)) == ("far horizon", *always)
    far = [{"azimuth_deg": 0.0, "elevation_deg": 5.0}]
    horizon = demo.variant({"planes.0.horizon": far})
    assert left_out(horizon) == ("near shade on single cell groups", *always)
    assert {step.name for step in BUDGET} >= set(STEPS)
