"""Answers on a terminal: short, grouped, and within its columns."""

import pytest

from tests.study.sites import demo, string, variant, weather, wiring
from yieldkit.design.checks.cautions import cautions
from yieldkit.design.checks.findings import NOT_APPLICABLE, NOT_CHECKED, PASSES
from yieldkit.design.checks.limits import check
from yieldkit.report.tables.energy import comparison_table
from yieldkit.report.tables.findings import findings_json
from yieldkit.report.tables.findings_terminal import findings_text
from yieldkit.report.tables.terminal import result_text
from yieldkit.report.tables.terminal_comparison import comparison_text
from yieldkit.study.comparison.compare import compare

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def found():
    """Return the findings of the demonstration's four wirings."""
    return {each.name: check(demo(), each) for each in demo().wirings}


@pytest.fixture(scope="module")
def bare():
    """Return the findings of a wiring of which little is known, and of one that is forbidden."""
    site = variant(
        {
            "planes.0.modules": 40,
            "site.design_temperatures.lowest_ambient_c": None,
            "module_types.0.max_ocpr_a": None,
        },
        [
            wiring("short", MPPT_1=[string(("west roof", 9)), string(("west roof", 9))]),
            wiring("long", MPPT_1=[string(("west roof", 40))]),
        ],
    )
    return {each.name: check(site, each) for each in site.wirings}


def one_line(text):
    """Return text without its line breaks."""
    return " ".join(text.split())


@pytest.mark.parametrize("width", [60, 80])
@pytest.mark.parametrize("everything", [False, True])
def test_no_line_is_wider_than_the_terminal(found, bare, width, everything):
    for each in (found, bare):
        lines = findings_text(each, everything=everything, width=width).splitlines()
        assert max(map(len, lines)) <= width


def test_the_demonstration_takes_two_screens_and_not_870_lines(found):
    assert len(findings_text(found, width=80).splitlines()) < 100


def test_every_check_stands_once_with_all_its_subjects(bare):
    text = one_line(findings_text(bare, width=80))
    name = "cold open-circuit voltage against the input: "
    assert text.count(name) == 2  # Forbidden in one wiring, not checked in the other.
    assert f"{name}MPPT 1, string 1 in 'long'" in text
    assert f"{name}MPPT 1, strings 1 and 2 in 'short'" in text
    assert text.index("NOT PERMITTED") < text.index("NOT CHECKED - cold")
    assert "1,602.7 against 1,000 V. So much already at 25 degC" in text.replace("1,603", "1,602.7")


def test_what_is_to_be_done_is_told_with_whom_it_is_for(found):
    text = one_line(findings_text(found, width=80))
    unlike = "modules work at one voltage; make them equal or give each its own input."
    assert f"MPPT 2 in 'lopsided': Strings of 7 and 14 {unlike}" in text
    own = "MPPT 1 in 'one plane per tracker', 'dormer in series with east'"
    assert f"{own}: Strings of 13 and 14 {unlike}" in text
    assert text.count("The input can't take its full power;") == 1


def test_each_wiring_is_called_what_it_may_be_and_what_passes_is_counted(found, bare):
    text = one_line(findings_text(found, width=80))
    for name, own in found.items():
        passed = sum(each.verdict == PASSES for each in own)
        assert f"Wiring '{name}': permitted; " in text
        assert f"{passed} passed (--all)" in text
    said = one_line(findings_text(bare, width=80))
    assert "Wiring 'long': not permitted: cold open-circuit voltage against the input" in said
    assert "Wiring 'short': nothing forbidden found; " in said


def test_the_tolerance_and_the_ambient_that_count_are_told(found, bare):
    assert "lowest ambient -14 degC" in one_line(findings_text(found, width=80))
    assert "Voc tolerance 3 %." in one_line(findings_text(found, width=80))
    assert "by IEC 62548:2016: lowest ambient not stated; Voc tolerance 3 %." in one_line(
        findings_text(bare, width=80)
    )


def test_cautions_stand_once_however_many_wirings(found):
    text = one_line(findings_text(found, width=80))
    for sentence in cautions():
        assert text.count(one_line(sentence)) == 1


def test_all_shows_what_passes_and_what_does_not_apply(found):
    text = one_line(findings_text(found, everything=True, width=80))
    assert "PASSES - " in text
    assert "NOT APPLICABLE - " in text
    assert "(--all)" not in text
    hidden = one_line(findings_text(found, width=80))
    for own in found.values():
        for each in own:
            if each.verdict in (PASSES, NOT_APPLICABLE):
                assert f"- {each.check}: " in text
            if each.verdict == NOT_CHECKED:
                assert f"- {each.check}: " in hidden


def test_json_says_what_each_wiring_may_be_called(found):
    said = findings_json(found)["permission"]
    assert {each["word"] for each in said.values()} == {"permitted"}
    assert all(each["sentence"].startswith("permitted; ") for each in said.values())


@pytest.mark.parametrize("width", [60, 80, 100])
def test_the_comparison_fits_and_every_wiring_has_its_numbers(comparison, width):
    text = comparison_text(comparison, width)
    assert max(map(len, text.splitlines())) <= width
    for name, row in comparison.table.iterrows():
        assert name in one_line(text)
        assert f"{row['energy_kwh']:,.0f}" in text
    assert "permitted; " in text


def test_a_years_energy_is_called_nominal_and_days_are_not():
    said = "Nominal energy: the site file as it stands, nothing drawn. The likely year, and what"
    site = variant(None, demo().model_dump()["wirings"][:1])
    june = weather().isel(time=slice(151 * 24, 153 * 24))
    year, days = (compare(site, given) for given in (weather(), june))
    for text, page in (
        (comparison_text(year), str(comparison_table(year))),
        (result_text(year.results[0][1]), str(comparison_table(year))),
    ):
        assert said in one_line(text)
        assert said in one_line(page)
    for text in (
        comparison_text(days),
        result_text(days.results[0][1]),
        str(comparison_table(days)),
    ):
        assert "Nominal energy" not in one_line(text)
