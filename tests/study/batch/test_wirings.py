"""Which wirings a plan runs: those that pass every check, the best of the ranking, or by name."""

import pytest

from tests.config.dumped import dump_site
from tests.study.batch.plans import AT_WEATHER, SITE_TEXT, put_site, refusal, runs_in
from tests.study.sites import variant
from yieldkit.study.batch.run import site_of
from yieldkit.study.ranking.propose import propose

pytestmark = pytest.mark.slow


def test_permitted_are_the_sites_own_that_pass_every_check(tmp_path):
    # Twenty modules in series are too many volts in the cold for an input of 700 V.
    window = {"max_voltage_v": 700, "mpp_voltage_max_v": 650, "full_power_voltage_max_v": 650}
    changes = {f"inverter.mppts.MPPT 1.{key}": volts for key, volts in window.items()}
    put_site(tmp_path, dump_site(variant(changes)))
    text = "base: site.yaml\nwirings: %s\n"
    every = [run.wiring for run in runs_in(tmp_path, text % "all")]
    assert [run.wiring for run in runs_in(tmp_path, text % "permitted")] == [
        name for name in every if name != "lopsided"
    ]


def test_proposed_are_the_best_of_the_ranking_in_its_order(tmp_path):
    put_site(tmp_path, AT_WEATHER)
    told = []
    text = """\
        base: site.yaml
        axes:
          - {name: n, path: wirings.proposed 2.trackers.A.strings.0.cable.length_m, values: [5]}
        wirings: {proposed: 2}
        """
    said = refusal(tmp_path, text)
    assert "got a path through nothing; expected a path of keys." in said
    runs = runs_in(tmp_path, "base: site.yaml\nwirings: {proposed: 2}\n")
    ranking = propose(runs.bases[0].site, progress=lambda *given: told.append(given))
    assert told
    for rank, run in enumerate(runs):
        assert run.wiring == f"proposed {rank + 1}"
        (own,) = site_of(runs.bases, run).wirings
        assert own == ranking.wiring(rank)


def test_names_may_be_of_any_of_several_sites(tmp_path):
    put_site(tmp_path)
    bent = SITE_TEXT.replace("name: crossed", "name: bent")
    put_site(tmp_path, bent, "barn.yaml")
    text = "axes:\n  - {name: house, kind: site, files: [site.yaml, barn.yaml]}\nwirings: %s\n"
    found = [
        (dict(run.axes)["house"], run.wiring) for run in runs_in(tmp_path, text % "[plain, bent]")
    ]
    assert found == [("site", "plain"), ("barn", "plain"), ("barn", "bent")]
    assert refusal(tmp_path, text % "[bent]") == (
        "plan.yaml line 3, wirings: got no wiring of site.yaml; expected at least one of it: "
        "one of "
        "'plain', 'crossed'."
    )
    assert refusal(tmp_path, text % "[plain, bnt]") == (
        "plan.yaml line 3, wirings.1: got the wiring 'bnt'; expected one of 'plain', 'crossed', "
        "'bent'. Did you mean 'bent'?"
    )
