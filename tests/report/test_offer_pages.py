"""The customer's pages: every number with its partner, in three languages, nothing unsaid."""

import base64
import json
import re

import matplotlib.pyplot as plt
import numpy as np
import pytest

from tests.design.shaded import CHIMNEY, shaded_site
from tests.report.offers import offered, page_of_offer, sections, sheets, words
from tests.report.pages import seen
from tests.study.estimates import small_estimate
from yieldkit.report.figures.picture import new_figure
from yieldkit.report.offer.annex import annex_light
from yieldkit.report.offer.first_page import offer_first_page
from yieldkit.report.offer.rests_on import rests_on
from yieldkit.report.offer.second_page import offer_second_page
from yieldkit.report.words.language import LANGUAGES, language_of
from yieldkit.study.estimate.result import Estimate
from yieldkit.study.simulation.module_shadows import (
    ShadedDay,
    ShadedModules,
    Shadows,
    plain_shadows,
)

pytestmark = pytest.mark.slow

AMOUNT = re.compile(r"\d[\u00a0\u202f ]?(?:kWh|kWp|kWc|EUR)\b|, (?:kWh|EUR)\b")
"""A number with a unit of energy or money, or a column of such numbers."""
STATED = ("kWp", "kWc")
"""Units of what is stated and not reckoned."""


@pytest.fixture(scope="module")
def found():
    return small_estimate()


@pytest.fixture(scope="module")
def pages(found):
    """Return the page in every language."""
    return {code: page_of_offer(offered(code), found) for code in LANGUAGES}


def alone(page, code):
    """Return headings of blocks in which energy or money stands without its cautious partner."""
    said = LANGUAGES[code]
    found = []
    for head, part in sections(page).items():
        text = words(part)
        amounts = [each for each in AMOUNT.findall(text) if not each.endswith(STATED)]
        if amounts and not (
            re.search(said["likely"][:8], text, re.I)
            and re.search(said["cautious"][:6], text, re.I)
        ):
            found.append(head)
    return found


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_energy_or_money_stands_without_its_cautious_partner(pages, code):
    assert len(sheets(pages[code])) == 2
    with_amounts = [h for h, part in sections(pages[code]).items() if AMOUNT.search(words(part))]
    assert len(with_amounts) >= 3
    assert alone(pages[code], code) == []


def test_a_planted_likely_year_alone_is_found(pages):
    cautious = '<p class="value">21,505'
    page = pages["en"]
    assert cautious in page
    begin = page.index("<div><p>Cautious year")
    planted = page[:begin] + page[page.index("</div></div>", begin) + 6 :]
    assert alone(planted, "en") == ["Energy in the first year"]


@pytest.mark.parametrize("code", LANGUAGES)
def test_both_years_are_the_estimate_s(pages, found, code):
    language = language_of(offered(code).offer)
    first = words(sections(pages[code])[language.say("years")])
    kwp = found.data.attrs["kwp"]
    for which, energy in (("likely", found.likely_kwh), ("cautious", found.cautious_kwh)):
        each = language.say("per kwp", energy=language.kwh(energy / kwp))
        assert (
            f"{language.say(f'{which} year')} {language.kwh(energy)} "
            f"{language.say(f'{which} means')} {each}"
        ) in first


def test_months_and_bars_are_the_estimate_s(pages, found):
    part = sections(pages["de"])["Monat für Monat"]
    text = words(part)
    may = found.months.loc["May"]
    german = language_of(offered("de").offer)
    likely, cautious, low, high = (
        german.number(may[key]) for key in ("likely", "cautious", "low", "high")
    )
    assert f"Mai {likely} {cautious} {low} bis {high}" in text
    assert f"Jahr {german.number(found.likely_kwh)} {german.number(found.cautious_kwh)}" in text
    bars = [float(each) for each in re.findall(r'height="7" width="([\d.]+)"', part)]
    longest = found.months[["likely", "high"]].to_numpy().max()
    assert np.allclose(bars, 100.0 * found.months["likely"] / longest, atol=0.01)
    marks = [float(each) for each in re.findall(r'bar-cautious" x1="([\d.]+)"', part)]
    assert np.allclose(marks, 100.0 * found.months["cautious"] / longest, atol=0.01)


def test_the_second_page_tells_means_of_years_and_the_largest_unknowns(pages, found):
    parts = sections(pages["en"])
    ten = found.bands.loc["mean of 10 years"]
    assert f"Mean of the first 10 years {ten['P50']:,.0f} {ten['P90']:,.0f}" in words(
        parts["Over the years"]
    )
    moved = words(parts["What moves the figure"])
    names = [name for name, share in found.contributions["total_order"].head(5).items()]
    shares = 100.0 * found.contributions["total_order"].head(5)
    for name, share in zip(names, shares, strict=True):
        assert f"{LANGUAGES['en'][f'cause {name}']} {share:.0f}\u00a0%" in moved


@pytest.mark.parametrize("code", ["de", "fr"])
def test_decimals_are_commas_where_the_language_wants_them(pages, code):
    text = " ".join(words(sheet) for sheet in sheets(pages[code]))
    assert re.search(r"\d,\d{2}\u00a0kW[pc]", text)
    # Dots stand before three figures, behind a day, or in the weather's title.
    rest = text.replace("Typical year 45.0 N 8.0 E", "")
    assert re.findall(r"\d\.\d{1,2}(?!\d)", rest) == []


@pytest.mark.parametrize("code", LANGUAGES)
def test_without_prices_nothing_is_said_of_money(pages, code):
    said = LANGUAGES[code]
    assert words(sections(pages[code])[said["money"]]) == f"{said['money']} {said['no money']}"
    assert not re.search("EUR|€", "".join(sheets(pages[code])))


@pytest.mark.parametrize("code", LANGUAGES)
def test_the_page_speaks_its_language_and_the_annex_english(pages, code):
    page = pages[code]
    assert '<html lang="en">' in page
    assert page.count(f'<article class="sheet" lang="{code}">') == 2
    assert f'<title lang="{code}">{LANGUAGES[code]["title"]}</title>' in page
    assert len(seen(page).all("h1")) == 1
    assert "<nav" not in page
    annex = words(page[page.index('class="annex"') :])
    for part in (
        "Annex for engineers: Shed (invented)",
        "Wiring: 'plain', which yields most",
        "Nothing forbidden found; 56 limits not checked",
        "NOT CHECKED: cold open-circuit voltage against module",
        "PR'_STC",
        "all modules at rated efficiency",
        "From the nominal year, as the site file stands, to the likely one",
        "Nothing that the site file describes shades any module",
        "every step has even light",
        "Live in daylight.",
        "site, SHA-256 of its content",
        "draws 64",
        "seed of the draws 1",
        "whole runs 64",
    ):
        assert part in annex


def test_names_days_and_number_stand_where_they_are_stated(pages, found):
    first = words(sheets(pages["fr"])[0])
    for part in (
        "Example Roofs (invented) 1 Example Street 00000 Nowhere",
        "Client A. Nobody (invented) 2 Example Lane 00000 Nowhere",
        "Installation Shed (invented)",
        "Offre n° 2026-001",
        "Date 1er mars 2026",
        "Valable jusqu’au 15 avril 2026",
    ):
        assert part in first
    bare = words(offer_first_page(found, offered("en").variant({"offer": None}))._repr_html_())
    assert bare.startswith("What your solar plant yields Plant Shed (invented) Energy in")
    assert "Customer Company Place, date" in bare


@pytest.fixture
def logo(tmp_path):
    """Return a site whose offer names a small picture, and the picture's file."""
    path = tmp_path / "logo.png"
    new_figure(0.3).savefig(path, dpi=30)
    site = offered("en", logo_file=str(path))
    return site, path


def test_a_logo_is_put_into_the_page_as_it_is(found, logo):
    site, path = logo
    (image,) = seen(offer_first_page(found, site)._repr_html_()).all("img")
    kind, data = image["src"].split(";base64,")
    assert kind == "data:image/png"
    assert base64.b64decode(data) == path.read_bytes()
    assert image["alt"] == "Example Roofs (invented)"


@pytest.mark.parametrize(
    "content", [b"<svg onload=alert(1)>", b"\x89PNG\r\n\x1a\n" + bytes(1_100_000)]
)
def test_a_logo_that_became_something_else_is_left_out(found, logo, content):
    site, path = logo
    path.write_bytes(content)
    assert seen(offer_first_page(found, site)._repr_html_()).all("img") == []


def rests(found, site):
    return dict(rests_on(found, site, language_of(site.offer)))


def test_what_figures_rest_on_is_said_as_the_site_and_its_weather_have_it(found):
    usual = rests(found, offered("en"))
    assert usual["Rated power"] == "19.44\u00a0kWp in 36 modules"
    assert usual["Weather"] == "Typical year 45.0 N 8.0 E, 2005-2023"
    assert usual["Between years"] == LANGUAGES["en"]["blocks of days"]
    assert usual["Ageing"] == (
        "The modules lose 0.5\u00a0% of their power a year; 25 years are reckoned."
    )
    assert usual["Outages"] == LANGUAGES["en"]["no outages"]
    assert usual["Inverter"] == "Inverter (invented)"


def test_years_measured_or_stated_modules_left_out_and_standstill_are_said(found):
    attrs = {"year_to_year": "measured years", "year_to_year_percent": 3.94, "years_averaged": 3}
    data = found.data.assign_attrs(attrs)
    site = offered("de").variant(
        {
            "grid.availability_percent": 98.5,
            "estimate.outages_percent_by_month": [1.2] * 6 + [0.0] * 6,
            "planes.0.modules": 26,
        }
    )
    told = rests(Estimate(data), site)
    assert told["Jahr zu Jahr"] == (
        "Die vorliegenden Jahre unterscheiden sich um 3,9\u00a0% an Sonnenlicht "
        "(Standardabweichung). So wenige Jahre sagen kaum, wie sehr sich Jahre unterscheiden."
    )
    assert told["Wetter"] == "Typical year 45.0 N 8.0 E, 2005-2023 (3 Jahre)"
    assert told["Nennleistung"] == "19,44\u00a0kWp aus 38 Modulen, davon 36 angeschlossen"
    assert told["Ausfälle"] == (
        "Angenommen ist, dass die Anlage 98,5\u00a0% der Zeit läuft. Stillstand ist Monat für "
        "Monat eingerechnet, im Mittel 0,6\u00a0%."
    )
    stated = data.assign_attrs(year_to_year="stated", years_averaged=1)
    assert rests(Estimate(stated), site)["Jahr zu Jahr"] == (
        "Angenommen ist, dass sich Jahre um 3,9\u00a0% an Sonnenlicht unterscheiden "
        "(Standardabweichung)."
    )
    many = data.assign_attrs(years_averaged=12)
    assert "So wenige" not in rests(Estimate(many), site)["Jahr zu Jahr"]


def test_what_is_not_promised_says_what_is_open(found):
    shown = words(offer_second_page(found, offered("en"))._repr_html_())
    assert LANGUAGES["en"]["not checked"] in shown
    assert LANGUAGES["en"]["weather remarks"] in shown
    attrs = {"not_checked": "", "weather_remarks": "", "weather_cautions": "", "invented": 0}
    clear = Estimate(found.data.assign_attrs(attrs))
    shown = words(offer_second_page(clear, offered("en"))._repr_html_())
    assert LANGUAGES["en"]["not checked"] not in shown
    assert LANGUAGES["en"]["weather remarks"] not in shown
    assert LANGUAGES["en"]["invented"] not in words(
        offer_first_page(clear, offered("en"))._repr_html_()
    )


def test_the_annex_has_the_shade_plan_and_what_minutes_do(found):
    site = shaded_site(CHIMNEY)
    plane, wiring = site.planes[0], site.wirings[0].name
    worst = ShadedModules(plane.name, (9.25, *[0.5] * (plane.modules - 1)), 600.0)
    days = (ShadedDay("2018-12-21", 1.5, "09:00", "11:00"),)
    hours = (*[0.0] * 9, sum(worst.lost_kwh), *[0.0] * 14)
    own = Shadows((worst,), days, hours, ((wiring, ((3,) * plane.modules,)),))
    attrs = {"wiring": wiring, "even_light_kwh": 23500.0, "all_or_nothing_kwh": 22100.0}
    data = found.data.assign(shadows=((), json.dumps(plain_shadows(own)), {"units": "1"}))
    plan, table, said = annex_light(Estimate(data.assign_attrs(attrs)), site)
    assert re.search(r"most row \d+ column \d+ 9.2 kWh", plan.alt)
    assert f"strings of {wiring}" in plan.alt
    assert "2018-12-21 09:00 to 11:00 1.5" in words(table.text)
    assert (
        f"Nominal year. What the weather's steps hide, on '{wiring}': {found.nominal_kwh:,.0f} kWh "
        "with minutes drawn; 23,500 kWh with even light in every step, 22,100 kWh with the sun"
    ) in words(said.text)
    plt.close("all")
