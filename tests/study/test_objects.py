"""What objects show of themselves fits a screen, and wrong questions are answered in a sentence."""

from datetime import UTC, datetime

import pytest
from IPython.core.interactiveshell import InteractiveShell
from IPython.utils.capture import capture_output

import yieldkit
from tests.study.sites import demo, demo_mapping, variant, weather
from yieldkit.base.errors import InputError
from yieldkit.design.checks.findings import Findings
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.study.handover.reading import Reading, Readings

pytestmark = pytest.mark.slow

LINES, COLUMNS = 24, 80
LONG = "<i>name</i> " + "x" * 150


@pytest.fixture(scope="module")
def days():
    """Return a few days of the demonstration's weather."""
    return weather().isel(time=slice(0, 72))


def meter_readings():
    """Return voltages of the demonstration's strings on a clear day in June."""
    moment = datetime(2026, 6, 21, 11, 10, tzinfo=UTC)
    volts = {"MPPT 1, string 1": 491.0, "MPPT 1, string 2": 456.0, "MPPT 3, string 1": 244.3}
    own = [Reading(name, "v_oc", value, moment, 790.0, 58.0) for name, value in volts.items()]
    return Readings(demo().wirings[0].name, tuple(own))


@pytest.fixture(scope="module")
def objects(days):
    comparison = yieldkit.compare(demo(), days)
    few = Constraints(shortest=7, longest=14)
    return {
        "site": demo(),
        "comparison": comparison,
        "ranking": yieldkit.propose(demo(), few, days),
        "findings": yieldkit.check(demo()),
        "verdict": yieldkit.verdict(demo(), meter_readings()),
    }


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("site", ("latitude", "degrees north", "4 wirings", "site.variant")),
        ("comparison", ("kWh", "; permitted", "% to the most", ".verdict")),
        ("ranking", ("wirings of", "rank 0", "MPPT 1", ".wiring(rank)")),
        ("findings", ("findings: ", "NOT CHECKED", "DataFrame")),
        ("verdict", ("fit the drawing", "as drawn; or", ".explanations")),
    ],
)
def test_an_object_fits_a_screen_in_text_and_in_a_notebook(objects, name, words):
    shown = objects[name]
    for text in (repr(shown), str(shown)):
        assert len(text.splitlines()) <= LINES
        assert max(map(len, text.splitlines())) <= COLUMNS
    page = shown._repr_html_()
    assert "<table>" in page
    assert len(page) < 6000
    for word in words[1:]:
        assert word in " ".join(repr(shown).split()), word
        assert word in page, word


def test_the_parts_of_a_site_fit_a_screen_and_say_only_what_was_said(objects):
    site = objects["site"]
    most = demo_mapping()["inverter"]["mppts"][0]
    more = [{**most, "name": f"input {n}"} for n in range(40)]
    many = variant({"inverter.mppts": [*demo_mapping()["inverter"]["mppts"], *more]})
    parts = [site.inverter, *site.wirings, *site.planes, site.weather, site.grid]
    for part in parts:
        assert len(repr(part)) < LINES * COLUMNS
        assert "=None" not in repr(part)
    for inverter in (site.inverter, many.inverter):
        text = repr(inverter)
        assert len(text.splitlines()) <= LINES
        assert max(map(len, text.splitlines())) <= COLUMNS
        assert str(inverter) == text
        assert "<table>" in inverter._repr_html_()
    assert "window 160 to 850 V" in repr(site.inverter)
    assert "and 40 more: window 160 to 850 V" in " ".join(repr(many.inverter).split())
    assert repr(objects["ranking"].wiring(0)).startswith("Wiring(name='proposed 1', trackers=(")


def test_a_check_stands_once_with_its_subjects_and_no_unit_of_one(objects):
    bare = variant({"module_types.0.max_system_voltage_v": None})
    found = yieldkit.check(bare, bare.wirings[0])
    told = [line for line in repr(found).splitlines() if "against module" in line]
    assert len(told) == 1
    assert told[0].endswith("against module, MPPT 1, string 1 and...")
    assert "MPPT 1, string 1 and 3 more" in found._repr_html_()
    mixed = repr(yieldkit.check(demo(), demo().wirings[3]))
    assert "strings across planes, array: 1 against 0\n" in mixed
    assert " against 0 1" not in mixed


def test_a_notebook_shows_the_sentence_and_not_the_way_to_it():
    shell = InteractiveShell()
    with capture_output() as shown:
        shell.run_cell("import yieldkit\nyieldkit.simulate('a.yaml')")
    assert shown.stdout.strip().splitlines() == [
        "InputError: site: got the text 'a.yaml'; expected a Site. Read the file first: "
        "yieldkit.load_site('a.yaml')."
    ]


def test_many_long_names_still_fit_and_are_escaped():
    content = demo_mapping()
    wirings = [{**content["wirings"][0], "name": f"{number} {LONG}"[:200]} for number in range(30)]
    site = variant({"site.name": LONG}, wirings=wirings)
    assert len(repr(site).splitlines()) <= LINES
    assert max(map(len, repr(site).splitlines())) <= COLUMNS
    assert "30 wirings:" in repr(site)
    assert "more" in repr(site)
    assert "<i>" not in site._repr_html_()


def test_findings_turn_into_a_table(objects):
    found = objects["findings"]
    assert isinstance(found, Findings)
    table = found.table()
    assert len(table) == len(found)
    assert list(table.columns[:6]) == ["check", "subject", "verdict", "value", "limit", "margin"]
    assert table["verdict"].tolist() == [each.verdict for each in found]
    first = next(each for each in found if each.margin == each.margin)
    row = table[(table["check"] == first.check) & (table["subject"] == first.subject)].iloc[0]
    assert row["margin"] == first.margin
    assert objects["comparison"].findings[0][1].table().shape == table.shape


@pytest.mark.parametrize(
    "asked", [yieldkit.simulate, yieldkit.compare, yieldkit.propose, yieldkit.check]
)
def test_a_file_name_in_place_of_a_site_is_answered_with_the_way(asked):
    with pytest.raises(InputError, match=r"Read the file first: yieldkit.load_site\('a.yaml'\)\."):
        asked("a.yaml")
    with pytest.raises(InputError, match="got an object of the type dict; expected a Site"):
        asked({})


def test_names_and_ranks_that_there_are_not_are_answered_in_a_sentence(objects):
    comparison, ranking = objects["comparison"], objects["ranking"]
    for asked in (comparison.difference, comparison.result, comparison.permission):
        with pytest.raises(InputError, match=r"wiring: got 'lopside'.*Did you mean 'lopsided'"):
            asked("lopside")
    with pytest.raises(InputError, match="wiring: got 7; expected one of"):
        comparison.difference("lopsided", 7)
    with pytest.raises(InputError, match=r"got the wiring '.*' itself; expected its name"):
        yieldkit.simulate(demo(), demo().wirings[0])
    last = ranking.order.size - 1
    with pytest.raises(
        InputError, match=f"got 100000; expected a rank from 0, the best, to {last}"
    ):
        ranking.wiring(100_000)


def test_a_difference_is_against_the_best_when_no_other_is_named(objects):
    comparison = objects["comparison"]
    against = comparison.difference("lopsided", comparison.best)
    assert comparison.difference("lopsided").equals(against)


def test_where_none_is_the_best_it_must_be_named(objects, days):
    cold = variant({"module_types.0.max_system_voltage_v": 200.0})
    comparison = yieldkit.compare(cold, days)
    assert comparison.best is None
    assert "none permitted" in repr(comparison)
    with pytest.raises(InputError, match="no wiring here is permitted, hence none best"):
        comparison.difference("lopsided")
