"""Tables of the report: the numbers in them, and what a table must have."""

import math
import re
from dataclasses import replace

import pytest

from tests.report.pages import seen
from yieldkit.design.checks.cautions import CAUTIONS
from yieldkit.design.checks.findings import Finding
from yieldkit.report.tables import design as tables_design
from yieldkit.report.tables import energy as tables_energy
from yieldkit.report.tables import html as tables
from yieldkit.report.tables.findings_terminal import findings_text

pytestmark = pytest.mark.slow


def cells(shown):
    """Return a table's rows as lists of text."""
    rows = re.findall(r"<tr[^>]*>(.*?)</tr>", shown.text)
    return [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row) for row in rows]


def test_table_escapes_and_scopes():
    shown = tables.table(("a<b", "c"), [("<x>", 1), ("y", 2)], "c & d", numbers=(1,), marked=1)
    parsed = seen(shown.text)
    scopes = [attrs["scope"] for attrs in parsed.all("th")]
    assert scopes == ["col", "col", "row", "row"]
    assert cells(shown) == [["a&lt;b", "c"], ["&lt;x&gt;", "1"], ["y", "2"]]
    assert "<caption>c &amp; d</caption>" in shown.text
    assert shown.text.count('<tr class="marked">') == 1


def test_verdict_answers_four_questions_first(comparison):
    text = tables.verdict_box(comparison).text
    assert f"&#x27;{comparison.best}&#x27; yields most" in text
    for question in ("By how much?", "Is it allowed?", "Is the difference real?", "left out?"):
        assert question in text
    assert "Building and equipment are invented." in text
    for name, _ in comparison.results:
        assert name in text


def test_comparison_table_marks_the_best(comparison):
    shown = tables_energy.comparison_table(comparison)
    marked = re.search(r'<tr class="marked">(.*?)</tr>', shown.text)[1]
    assert comparison.best in marked
    energy = comparison.table.loc[comparison.best, "energy_kwh"]
    assert f">{energy:,.0f}<" in marked


def test_budget_columns_add_up(comparison):
    rows = cells(tables_energy.budget_table(comparison))[1:]
    numbers = [[float(cell.replace(",", "")) for cell in row[1:]] for row in rows]
    for column in range(len(numbers[0])):
        start, *steps, end = (row[column] for row in numbers)
        assert start - sum(steps) == pytest.approx(end, abs=0.05 * len(steps) + 1.0)


def test_budget_names_the_steps_without_loss(comparison):
    text = tables_energy.budget_table(comparison).text
    assert "No loss in any wiring:" in text
    assert "soiling" in text[: text.index("</caption>")]


def test_monthly_columns_add_up(comparison):
    rows = cells(tables_energy.months_table(comparison))
    energies = [f"{result.attrs['energy_kwh']:,.0f}" for _, result in comparison.results]
    assert rows[-1] == ["all", *energies]


def test_load_table_has_every_input_of_every_wiring(comparison):
    rows = cells(tables_energy.load_table(comparison))[1:]
    assert len(rows) == 11
    total = sum(float(row[2].replace(",", "")) for row in rows if row[0] == "lopsided")
    energy = float(comparison.result("lopsided")["tracker_energy"].sum())
    assert total == pytest.approx(energy, abs=2.0)


def test_findings_of_all_wirings_stand_together_and_none_is_lost(comparison):
    rows = cells(tables_design.open_findings_table(comparison))[1:]
    expected = {
        (finding.verdict, finding.check)
        for _, found in comparison.findings
        for finding in found
        if finding.verdict not in ("passes", "not applicable")
    }
    assert {(row[0], row[1]) for row in rows} == expected
    order = [("not permitted", "costs yield", "NOT CHECKED").index(row[0]) for row in rows]
    assert order == sorted(order)
    assert any(row[2].startswith("all wirings: ") for row in rows)


def test_the_span_of_alike_findings_goes_from_the_smallest_to_the_largest(comparison):
    said = Finding("voltage", "MPPT 1, string 1", "NOT CHECKED", unit="V", advice="No limit.")
    found = [replace(said, value=value) for value in (583.3, 632.0, 1145.8, math.nan)]
    alike = replace(comparison, findings=(("one plane per tracker", tuple(found)),))
    [row] = cells(tables_design.open_findings_table(alike))[1:]
    assert row[3:5] == ["583.3 to 1,146 V", "–"]
    single = replace(comparison, findings=(("one plane per tracker", tuple(found[:1])),))
    assert cells(tables_design.open_findings_table(single))[1][3] == "583.3 V"


def test_counts_add_up(comparison):
    for row in cells(tables_design.counts_table(comparison))[1:]:
        assert sum(map(int, row[1:-1])) == int(row[-1])


def test_details_begin_with_the_best(comparison):
    names = list(comparison.in_detail())
    assert names[0] == comparison.best
    assert sorted(names) == sorted(name for name, _ in comparison.results)


def test_cautions_are_all_there():
    text = tables.cautions_box().text
    assert text.count("<li>") == len(CAUTIONS)
    assert "Live in daylight." in text
    assert "not a certificate" in text


def test_provenance_names_weather_hash_and_versions(comparison):
    rows = dict(cells(tables.provenance_table(comparison))[1:])
    assert rows["weather file, SHA-256"] == comparison.weather.attrs["sha256"]
    assert re.search(r"yieldkit [\d.]+, pvlib [\d.]+", rows["versions"])


def test_where_nothing_is_held_back_that_is_said_in_place_of_an_empty_table(
    comparison, monkeypatch
):
    assert len(cells(tables_energy.limits_table(comparison))) > 1
    monkeypatch.setattr(tables_energy, "limited_time", lambda result: ())
    said = "No limit of an input, of the AC side or of the network holds any back."
    assert tables_energy.limits_table(comparison).text == f"<ul><li>{said}</li></ul>"


def test_own_weather_has_no_empty_row_of_attribution(comparison, monkeypatch):
    rows = dict(cells(tables.provenance_table(comparison))[1:])
    assert rows["attribution"]
    monkeypatch.setitem(comparison.results[0][1].attrs, "weather_attribution", "")
    own = dict(cells(tables.provenance_table(comparison))[1:])
    assert set(rows) - set(own) == {"attribution"}
    assert all(own.values())


def test_counts_have_no_unit_of_one(comparison):
    page = tables_design.open_findings_table(comparison).text
    told = findings_text(dict(comparison.findings), everything=True)
    counted = [each for _, found in comparison.findings for each in found if each.unit == "1"]
    assert any(each.verdict == "costs yield" for each in counted)
    assert "strings across planes" in page
    assert not re.search(r"\d 1</td>", page)
    assert "strings across planes" in told
    assert not re.search(r"against \d+ 1\b", told)
