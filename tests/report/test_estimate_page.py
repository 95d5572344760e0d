"""The page of an estimate: the answer first, every number that of the estimate, nothing unsaid."""

import html
import json
import re

import matplotlib.pyplot as plt
import numpy as np
import pytest

from tests.report.pages import estimate_in_process, seen
from tests.report.test_tables import cells
from tests.study.estimates import small_estimate, small_site
from yieldkit.report.figures import estimate as figures
from yieldkit.report.tables import estimate as tables
from yieldkit.study.estimate.result import Estimate

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def page():
    with pytest.MonkeyPatch.context() as patch:
        return estimate_in_process(patch, small_site(), small_estimate())


@pytest.fixture(autouse=True)
def closed():
    yield
    plt.close("all")


def text_of(shown):
    return html.unescape(re.sub(r"<[^>]+>", " ", shown.text))


def test_the_answer_stands_first(page):
    found = small_estimate()
    first = page.split("</h1>", 1)[1].split("<h2", 1)[0]
    assert first.index(f"{found.likely_kwh:,.0f} kWh in the likely first year") < first.index(
        f"{found.cautious_kwh:,.0f} kWh in the cautious one"
    )
    for question in (
        "Of which wiring?",
        "Is it allowed?",
        "What is NOT CHECKED?",
        "Why not the nominal year?",
        "How much do years differ?",
        "Whose building?",
    ):
        assert question in first
    assert "What does it yield? Shed (invented)" in page


def test_every_chapter_is_there_and_pictures_have_words(page):
    parsed = seen(page)
    titles = re.findall(r"<h2[^>]*>(.*?)</h2>", page)
    assert [re.sub(r"<[^>]+>|¶", "", html.unescape(title)) for title in titles] == [
        "Month by month",
        "From the nominal to the likely year",
        "What makes it unsure",
        "Over the plant's life",
        "The nominal year: where the energy goes",
        "On what it rests",
        "Provenance",
    ]
    words = [image["alt"] for image in parsed.all("img") if image["alt"]]
    assert len(words) == 4
    assert all(re.search(r"\d", each) for each in words)


def test_no_energy_stands_on_the_page_without_its_band(page):
    """The likely figure never without the cautious one in the same box, table or picture."""
    found = small_estimate()
    likely, cautious = f"{found.likely_kwh:,.0f}", f"{found.cautious_kwh:,.0f}"
    parts = re.findall(
        r"<table.*?</table>|<figure.*?</figure>|<div class=\"verdict\".*?</div>", page, re.S
    )
    with_likely = [part for part in parts if likely in part]
    assert len(with_likely) >= 5
    way = [part for part in with_likely if cautious not in part]
    assert len(way) == 1
    assert "arriving at, kWh" in way[0]


def test_tables_hold_the_estimate_s_numbers():
    found = small_estimate()
    bands = cells(tables.bands_table(found))
    assert bands[0] == ["kWh a year", "P50 likely", "P75", "P90 cautious", "P95", "P99"]
    assert bands[2][1:] == [f"{value:,.0f}" for value in found.bands.loc["mean of 5 years"]]
    kwp = found.data.attrs["kwp"]
    assert bands[-1][3] == f"{found.cautious_kwh / kwp:,.0f}"
    months = cells(tables.estimate_months_table(found))
    assert months[-1] == [
        "all",
        f"{found.likely_kwh:,.0f}",
        f"{found.cautious_kwh:,.0f}",
        "",
        "",
        f"{found.nominal_kwh:,.0f}",
    ]
    way = cells(tables.way_table(found))
    assert way[1][1:] == [f"{found.nominal_kwh:,.0f}"] * 2
    assert way[-1][2] == f"{found.likely_kwh:,.0f}"
    losses = cells(tables.losses_table(found))
    assert losses[-1][:2] == ["delivered", f"{found.nominal_kwh:,.0f}"]
    assert "No loss in the nominal year: " in text_of(tables.no_losses(found))
    yields = {row[0]: row[2] for row in cells(tables.yields_table(found))}
    assert yields["PR"] == f"{found.yields['PR']:.3f}"
    assert yields["Y_f"] == f"{found.yields['Y_f']:,.0f} h"
    life = cells(tables.life_table(found))
    assert life[1][1] == f"{found.likely_kwh:,.0f}"
    assert len(life) == 26


def test_nothing_is_shown_as_less_than_nothing():
    rows = cells(tables.doubts_table(small_estimate()))
    assert not {"-0.0", "-0"} & {cell for row in rows for cell in row}
    assert rows[1][0] == small_estimate().contributions.index[0]


def test_what_it_rests_on_names_sources_and_assumptions():
    said = text_of(tables.estimate_rests_on(small_estimate()))
    for part in ("median of 64 draws", "Jordan and Kurtz 2013", "Cell temperature, open-rack"):
        assert part in said
    assert "A design aid, not a certificate." in said
    data = small_estimate().data
    remark = json.loads(data.attrs["assumptions"])[0]
    assert remark in small_estimate().sentences
    assert said.count(remark) == 1
    origin = text_of(tables.estimate_origin(small_estimate()))
    assert "typical-year-45n-8e.csv" in origin
    assert "weather file, SHA-256" in origin


def test_pictures_tell_the_same_numbers():
    found = small_estimate()
    assert f"first year: likely {found.likely_kwh:,.0f} kWh" in figures.bands_picture(found).alt
    may = found.months.loc["May"]
    assert f"May {may['likely']:,.0f} kWh ({may['low']:,.0f} to {may['high']:,.0f})" in (
        figures.estimate_months_picture(found).alt
    )
    last = found.by_year.iloc[-1]
    assert f"to {last['P50']:,.0f} kWh in year 25" in figures.life_picture(found).alt
    cause = found.contributions.iloc[0]
    assert f"{found.contributions.index[0]} {100.0 * cause['total_order']:.1f} %" in (
        figures.doubts_picture(found).alt
    )


def test_remarks_on_the_weather_are_asked_and_answered():
    data = small_estimate().data
    told = Estimate(data.assign_attrs(weather_remarks="Two years.", weather_cautions="A gap."))
    said = text_of(tables.estimate_box(told))
    assert "What weather? Two years. How sure is the weather? A gap." in " ".join(said.split())
    silent = Estimate(data.assign_attrs(not_checked="", weather_remarks="", invented=0))
    said = text_of(tables.estimate_box(silent))
    assert "NOT CHECKED" not in said.replace("not checked", "")
    assert "Whose building?" not in said


def test_a_missing_value_is_called_so():
    data = small_estimate().data.copy(deep=True)
    data["months_of_year"][0, 0] = np.nan
    assert "missing" in cells(tables.estimate_months_table(Estimate(data)))[1]
