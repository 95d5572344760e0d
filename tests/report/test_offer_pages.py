"""The customer's pages: every number with its partner, in three languages, nothing unsaid."""

import re

import numpy as np
import pytest

from tests.report.offers import offered, page_of_offer, sections, sheets, words
from tests.report.pages import seen
from tests.study.estimates import small_estimate
from yieldkit.report.offer.first_page import offer_first_page
from yieldkit.report.words.language import LANGUAGES, language_of

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
