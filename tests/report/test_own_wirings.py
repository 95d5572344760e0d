"""The wirings a person drew: called theirs, each weighed, and told where there is better."""

from types import SimpleNamespace

import pytest

import yieldkit
from tests.study.sites import demo, demo_mapping, string, variant, weather, wiring
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.roof.layout import string_layout
from yieldkit.report.figures import ranking as figures_propose
from yieldkit.report.figures import roof
from yieldkit.report.figures import string_diagram as diagram
from yieldkit.report.figures.picture import plane_looks
from yieldkit.report.tables.energy import comparison_table
from yieldkit.report.tables.html import verdict_box
from yieldkit.report.tables.ranking import best_table
from yieldkit.report.tables.terminal_comparison import comparison_text
from yieldkit.report.tables.terminal_ranking import proposal_text
from yieldkit.study.comparison.better import look_for_better
from yieldkit.study.ranking.proposal import weigh

pytestmark = pytest.mark.slow

OWN = [each.name for each in demo().wirings]


def one_line(text):
    return " ".join(text.split())


@pytest.fixture(scope="module")
def days():
    return weather().isel(time=slice(4000, 4120))


@pytest.fixture(scope="module")
def proposal(days):
    ranking = yieldkit.propose(demo(), Constraints(shortest=7, longest=20), days)
    return weigh(ranking, 2, draws=8)


@pytest.fixture(scope="module")
def comparison(days):
    return yieldkit.compare(demo(), days)


def test_the_wirings_a_person_drew_are_called_theirs(proposal):
    names = list(proposal.table["name"])
    assert names[-4:] == [f"your {name}" for name in OWN]
    assert list(proposal.table["own"]) == [name.startswith("your ") for name in names]
    assert "your lopsided" in proposal_text(proposal)
    assert "your lopsided" in best_table(proposal).text
    assert "yours: your one plane per tracker" in figures_propose.ranking_picture(proposal).alt


def test_each_of_them_is_weighed_against_the_best(proposal):
    weighed = [each.second for each in proposal.judgements]
    assert set(weighed) >= {f"your {name}" for name in OWN}
    assert {each.first for each in proposal.judgements} == {"proposed 1"}


def test_why_one_wiring_has_two_energies_stands_under_both_tables(proposal, comparison):
    of_roof = "Cables have the lengths that the strings&#x27; places on the roof need"
    of_file = "Cables have the lengths of the site file; `yieldkit propose` takes those"
    assert of_roof in best_table(proposal).text
    assert of_file in comparison_table(comparison).text
    assert of_roof.replace("&#x27;", "'") in one_line(proposal_text(proposal))
    assert of_file in one_line(comparison_text(comparison))
    # It is so: with the layout's cables the energy is another, by less than a tenth of a percent.
    as_laid = proposal.table.set_index("name")["energy_kwh"]["your one plane per tracker"]
    as_drawn = comparison.table["energy_kwh"]["one plane per tracker"]
    assert 0.0 < abs(as_laid / as_drawn - 1.0) < 1e-3
    nowhere = yieldkit.compare(variant(), comparison.prepared.weather)
    assert nowhere.cable_note() == "Cables have the lengths of the site file."


def test_compare_says_when_there_is_better(days):
    lopsided = variant(wirings=[demo_mapping()["wirings"][1]])
    comparison = yieldkit.compare(lopsided, days)
    better = comparison.better()
    assert better.looked_at > 100
    assert better.more_kwh > 0.05 * comparison.table["energy_kwh"]["lopsided"]
    # What is promised is what `simulate` gives.
    site = lopsided.variant(
        {"wirings": [better.wiring.model_copy(update={"name": "found"}).model_dump()]}
    )
    assert yieldkit.simulate(site, weather=days).attrs["energy_kwh"] == pytest.approx(
        better.energy_kwh, rel=1e-9
    )
    for told in (comparison_text(comparison, 80, better), verdict_box(comparison, better).text):
        assert "`yieldkit propose` finds better: of " in one_line(told)
        assert f"{better.more_kwh:,.0f} kWh (" in one_line(told)


def test_the_best_of_all_is_told_that_none_is_better(days):
    lopsided = variant(wirings=[demo_mapping()["wirings"][1]])
    found = yieldkit.compare(lopsided, days).better().wiring
    best = variant(wirings=[found.model_copy(update={"name": "found"}).model_dump()])
    better = yieldkit.compare(best, days).better()
    assert better.wiring is None
    assert "`yieldkit propose` finds " in better.sentence
    assert "more than 'found'." in better.sentence


def test_what_was_not_looked_at_is_said(days):
    shared = variant({"inverter.mppts.MPPT 1.max_operating_voltage_v": 900.0})
    assert "the inputs share a limit" in yieldkit.compare(shared, days).better().sentence
    many = SimpleNamespace(
        site=demo(),
        period=SimpleNamespace(is_year=False),
        weather=SimpleNamespace(sizes={"time": 10**9}),
    )
    table = yieldkit.compare(demo(), days).table
    better = look_for_better(many, "one plane per tracker", table)
    assert better.looked_at == 0
    assert (
        better.sentence == "Whether there is better was not looked at here: ask `yieldkit propose`."
    )
    low = {"module_types.0.max_system_voltage_v": 200.0}
    none = yieldkit.compare(variant(low), days).better()
    assert none.sentence == "`yieldkit propose` looks for wirings with nothing forbidden."


def faces(picture):
    """Return the looks of the modules drawn: colour and hatching."""
    return {
        (patch.get_facecolor()[:3], patch.get_hatch() or "")
        for patch in picture.figure.axes[0].patches
    }


def test_a_plane_has_one_look_in_every_picture_and_strings_have_numbers():
    site, name = demo(), demo().wirings[0].name
    layout = string_layout(site, site.wirings[0])
    picture = roof.roof_picture(site, layout, name)
    looks = plane_looks(site)
    assert len(faces(picture)) == len(site.planes)
    assert faces(picture) <= faces(diagram.strings_picture(site, site.wirings[0]))
    assert {hatch for _, hatch in faces(picture)} == {each["hatch"] for each in looks.values()}
    written = [text.get_text() for text in picture.figure.axes[0].texts]
    assert [written.count(number) for number in ("1", "2", "3", "4")] == [14, 13, 14, 7]


def test_the_roof_shows_ridge_and_eaves_and_both_ends_of_every_string():
    site = demo()
    layout = string_layout(site, site.wirings[0])
    picture = roof.roof_picture(site, layout, "one")
    written = [text.get_text() for text in picture.figure.axes[0].texts]
    assert written.count("+") == written.count("−") == 4
    assert written.count("eaves") == 3
    assert "west roof: ridge" in written
    assert "west roof: ridge above, eaves below" in picture.alt
    # Over two planes: each end once, and where it goes on.
    over_two = roof.roof_picture(site, string_layout(site, site.wirings[3]), "two")
    signs = [text.get_text() for text in over_two.figure.axes[0].texts]
    assert (signs.count("+"), signs.count("−"), signs.count("~")) == (3, 3, 2)


def test_a_flat_roof_has_edges_and_no_ridge():
    flat = demo().model_dump()["planes"][1] | {"mounting": "flat-roof-rack", "tilt_deg": 10.0}
    site = variant(None, [wiring("w", MPPT_1=[string(("east roof", 14))])], [flat])
    picture = roof.roof_picture(site, string_layout(site, site.wirings[0]), "w")
    assert "upper edge above, lower edge below" in picture.alt
