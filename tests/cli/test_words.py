"""Labels and keys in plain words of our own, and what became of earlier ones."""

import re

import numpy as np
import pytest

import yieldkit
from tests.house.layers import ROOT
from tests.study.sites import demo, variant, weather
from yieldkit.base.errors import InputError
from yieldkit.cli.main import main
from yieldkit.config.site.files import new_site_text, read_site_text
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.report.tables.energy import budget_table
from yieldkit.report.tables.ranking import best_table, strings_table
from yieldkit.report.tables.terminal import result_text
from yieldkit.report.tables.terminal_ranking import proposal_text
from yieldkit.study.ranking.proposal import weigh
from yieldkit.study.simulation.prepare import prepare

pytestmark = pytest.mark.slow

OLD = re.compile(r"frugal|unbeaten|STC efficiency|module.quality", re.IGNORECASE)


@pytest.fixture(scope="module")
def days():
    return weather().isel(time=slice(4000, 4072))


def test_the_budget_begins_with_the_energy_at_rated_efficiency(days):
    comparison = yieldkit.compare(demo(), days)
    result = comparison.results[0][1]
    told = result_text(result)
    nameplate = float(result["potential"][0])
    assert re.search(rf"energy if always at rated efficiency +{nameplate:,.0f} kWh", told)
    page = budget_table(comparison).text
    assert "energy if always at rated efficiency" in page
    assert not OLD.search(told + page)


def test_a_power_deviation_takes_power_when_it_is_negative(days):
    stages = {}
    for percent in (-2.0, 0.0, 3.0):
        site = variant({"planes.0.power_deviation_percent": percent})
        stages[percent] = prepare(site, days).module_stages
    rated = stages[0.0]
    changed = {each: (stages[each] != rated).any() for each in stages}
    assert changed == {-2.0: True, 0.0: False, 3.0: True}
    # The last stage is the module's power with its deviation.
    last = {each: float(np.sum(stages[each][-1])) for each in stages}
    assert last[-2.0] < last[0.0] < last[3.0]


def test_the_key_of_earlier_versions_is_refused_with_the_new_one():
    text = new_site_text().replace(
        "# power_deviation_percent: -1", "module_quality_loss_percent: 1 "
    )
    with pytest.raises(
        InputError,
        match=r"line \d+.*the unknown key 'module_quality_loss_percent'.* It is called "
        r"power_deviation_percent now, with the sign turned: for a loss of 1 % write "
        r"power_deviation_percent: -1\.",
    ):
        read_site_text(text)
    ours = new_site_text().replace("# power_deviation_percent: -1", "power_deviation_percent: -1 ")
    assert read_site_text(ours).planes[0].power_deviation_percent == -1.0


def test_a_proposal_speaks_of_alternatives_and_of_what_is_worth_choosing(days):
    ranking = yieldkit.propose(demo(), Constraints(leave_at_most=8, shortest=7, longest=20), days)
    proposal = weigh(ranking, 3, draws=0)
    page = best_table(proposal).text + strings_table(proposal).text
    assert "alternative 1" in page
    assert "worth choosing" in page
    assert "Worth choosing: no other here is at least as good" in page
    assert not OLD.search(page + proposal_text(proposal))


def test_the_guides_and_starters_use_the_new_words():
    for name in (
        "README.md",
        "site_configs/starter.yaml",
        "site_configs/demo.yaml",
    ):
        assert not OLD.search((ROOT / name).read_text(encoding="utf-8")), name


def test_help_promises_only_exit_codes_that_there_are(capsys):
    with pytest.raises(SystemExit, match="0"):
        main(["--help"])
    told = " ".join(capsys.readouterr().out.split())
    codes = told[told.index("Exit codes:") :]
    assert codes.startswith("Exit codes: 0 done, 1 ")
    assert "3 sweep: some runs failed" in codes
