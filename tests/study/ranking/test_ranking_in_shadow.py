"""Ranked without obstacles, the best are simulated where their modules lie, and that is told."""

import numpy as np
import pytest

from tests.study.sites import demo, weather
from yieldkit.design.permitted.constraints import constraints_from
from yieldkit.study.ranking.in_shadow import order_in_minutes, order_sentence
from yieldkit.study.ranking.proposal import weigh
from yieldkit.study.ranking.propose import propose
from yieldkit.study.simulation.simulate import simulate
from yieldkit.study.uncertainty.draws import draw_energies

pytestmark = pytest.mark.slow

POLE = {
    "name": "pole",
    "shape": "box",
    "foot_m": [1.0, -1.0, 0.0],
    "width_m": 0.4,
    "depth_m": 0.4,
    "height_m": 9.0,
}


@pytest.fixture(scope="module")
def ranked():
    site = demo()
    plane = site.planes[1].model_dump() | {
        "name": "roof",
        "azimuth_deg": 190.0,
        "modules": 16,
        "layout": "portrait",
        "drawing": ["M" * 8, "M" * 8],
        "positions": (),
        "cable_exit": None,
        "corner_m": [0.0, 0.0, 3.0],
    }
    group = {"plane": "roof", "modules": 16}
    own = {"name": "one string", "trackers": [{"mppt": "MPPT 1", "strings": [{"groups": [group]}]}]}
    shaded = site.variant({"planes": [plane], "wirings": [own], "obstacles": [POLE]})
    week = weather().isel(time=slice(24 * 80, 24 * 87))
    asked = constraints_from(shaded, {"leave_out": 0})
    return shaded, week, propose(shaded, asked, weather=week)


def test_shown_energies_are_those_in_shadow_and_the_order_is_told(ranked):
    site, week, ranking = ranked
    proposal = weigh(ranking, top=3, draws=0)
    bare = propose(site.variant({"obstacles": []}), ranking.constraints, weather=week)
    assert ranking.energy_kwh == pytest.approx(bare.energy_kwh, rel=1e-12)
    own = float(proposal.table.set_index("name").loc["your one string", "energy_kwh"])
    alone = simulate(site, weather=week).attrs["energy_kwh"]
    assert own == pytest.approx(alone, rel=1e-12)
    best = proposal.best[0]
    named = site.variant({"wirings": [best.model_dump()]})
    again = simulate(named, weather=week).attrs["energy_kwh"]
    assert proposal.table["energy_kwh"][0] == pytest.approx(again, rel=1e-12)
    assert again < ranking.energy_kwh.max()
    assert "simulated in shadow, where their modules lie" in proposal.answer()
    assert len(proposal.table) == 4
    assert weigh(bare, top=3, draws=0).shadow == ""


def test_order_sentence_tells_who_was_first_without_obstacles():
    assert order_sentence([0, 3, 4], [9.0, 8.0, 7.0]).endswith(
        "Shadow leaves their order as it was."
    )
    changed = "Shadow changes the order: the best was number 4 without obstacles."
    assert order_sentence([0, 3, 4], [8.0, 9.0, 7.0]).endswith(changed)
    assert order_sentence([0, 3, 4], [9.0, 7.0, 8.0]).endswith("changes the order behind the best.")
    said = order_sentence([0, 3], [8.0, 9.0], shade=False, snow=True)
    assert said.startswith("Ranked without snow; of these the best 2 (at most")
    assert "were simulated in snow, where their modules lie" in said
    assert said.endswith("Snow changes the order: the best was number 4 without snow.")
    said = order_sentence([0, 3], [9.0, 8.0], snow=True)
    assert "in shadow and snow, where" in said
    assert said.endswith("Shadow and snow leave their order as it was.")


def test_draws_leave_each_wiring_what_obstacles_leave_it(ranked):
    site, _week, ranking = ranked
    wirings = [ranking.wiring(ranking.order.size - 1), site.wirings[0]]
    shaded = draw_energies(ranking.prepared, wirings, 2).energy_kwh
    bare = propose(site.variant({"obstacles": []}), ranking.constraints, weather=ranked[1]).prepared
    open_sky = draw_energies(bare, wirings, 2).energy_kwh
    share = shaded / open_sky
    assert (share < 0.98).all()
    assert np.ptp(share, axis=0) == pytest.approx(0.0, abs=1e-12)
    assert abs(share[0, 0] - share[0, 1]) > 1e-4


def test_order_in_minutes_tells_who_was_first_on_the_means():
    assert order_in_minutes([0, 3, 4], [9.0, 8.0, 7.0]).endswith("leaves their order as it was.")
    changed = "That changes the order: the best was number 4 on the means."
    assert order_in_minutes([0, 3, 4], [8.0, 9.0, 7.0]).endswith(changed)
    assert order_in_minutes([0, 3, 4], [9.0, 7.0, 8.0]).endswith("the order behind the best.")
    alone = order_in_minutes([0], [9.0])
    assert alone.startswith("All wirings were ranked on the steps' means; the best and the wirings")
    assert alone.endswith("their energies here are those.")
