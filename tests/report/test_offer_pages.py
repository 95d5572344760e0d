"""The customer's pages: every number with its partner, in three languages, nothing unsaid."""

import base64
import json
import re

import matplotlib.pyplot as plt
import numpy as np
import pytest

from tests.design.shaded import CHIMNEY, shaded_site
from tests.report.offers import (
    offered,
    page_of_offer,
    priced,
    priced_estimate,
    sections,
    sheets,
    without_prices,
    words,
)
from tests.report.pages import seen
from yieldkit.config.models.grid import Load
from yieldkit.config.models.offer import TariffPeriod
from yieldkit.report.figures.picture import new_figure
from yieldkit.report.offer.annex import annex_light
from yieldkit.report.offer.first_page import offer_first_page
from yieldkit.report.offer.house import house_block
from yieldkit.report.offer.money import money_block
from yieldkit.report.offer.prices import price_rows
from yieldkit.report.offer.rests_on import rests_on
from yieldkit.report.offer.second_page import offer_second_page
from yieldkit.report.offer.tariff_hours import when_told
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
def full():
    return priced_estimate()


@pytest.fixture(scope="module")
def found(full):
    return without_prices(full)


@pytest.fixture(scope="module")
def pages(found):
    """Return the page in every language, of a site without load and prices."""
    return {code: page_of_offer(offered(code), found) for code in LANGUAGES}


@pytest.fixture(scope="module")
def full_pages(full):
    """Return the page in every language, of a site with a load and prices."""
    return {code: page_of_offer(priced(code), full) for code in LANGUAGES}


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
def test_no_energy_or_money_stands_without_its_cautious_partner(pages, full_pages, code):
    for page, most in ((pages[code], 3), (full_pages[code], 5)):
        assert len(sheets(page)) == 2
        with_amounts = [h for h, part in sections(page).items() if AMOUNT.search(words(part))]
        assert len(with_amounts) >= most
        assert alone(page, code) == []
        rest = re.sub(r"<section.*?</section>", "", "".join(sheets(page)), flags=re.S)
        assert AMOUNT.findall(words(rest)) == []


def test_a_planted_likely_year_alone_is_found(pages):
    page = pages["en"]
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
            f"{language.say(f'{which} year')} {language.kwh(energy)} {each} "
            f"{language.say(f'{which} means')}"
        ) in first


def test_months_and_bars_are_the_estimate_s(pages, found):
    part = sections(pages["de"])["Monat für Monat"]
    text = words(part)
    may = found.months.loc["May"]
    german = language_of(offered("de").offer)
    likely, cautious, low, high = (
        german.number(may[key]) for key in ("likely", "cautious", "low", "high")
    )
    heads = "Monat wahrscheinlich, kWh vorsichtig, kWh dieser Monat allein, kWh"
    assert text.startswith(f"Monat für Monat {heads}")
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


@pytest.mark.parametrize("code", LANGUAGES)
def test_the_house_is_the_estimate_s_and_its_bound_is_called_one(full_pages, full, code):
    language = language_of(priced(code).offer)
    text = words(sections(full_pages[code])[language.say("house")])
    lines = {
        "self use": ("self-use", "at most"),
        "export": ("export", "at least"),
        "import": ("import", "at least"),
        "covered": ("share of the load", "at most"),
    }
    assert full.data.attrs["self_use_upper_bound"]
    for name, (row, at) in lines.items():
        unit = full.house.loc[row, "unit"]
        told = [
            language.say(at, value=language.amount(full.house.loc[row, which], unit))
            for which in ("likely", "cautious")
        ]
        assert f"{language.say(name)} {told[0]} {told[1]}" in text
    for said in ("house said", "upper bound", "invented load"):
        assert language.say(said) in text
    assert language.kwh(6200.0) in text
    assert language.say("not promised use") in full_pages[code]


def test_a_measured_load_in_short_steps_has_no_bound(full):
    measured = {"kind": "series", "file": "load.csv"}
    site = priced("en")
    load = Load.model_construct(**measured)
    own = site.model_copy(update={"grid": site.grid.model_copy(update={"load": load})})
    exact = Estimate(full.data.assign_attrs(self_use_upper_bound=""))
    text = words(str(house_block(exact, own, language_of(site.offer))))
    for word in ("at most", "at least", "assumed", "most it can be"):
        assert word not in text
    assert f"Used in the building {full.house.loc['self-use', 'likely']:,.0f}\u00a0kWh" in text


@pytest.mark.parametrize("code", LANGUAGES)
def test_money_is_the_estimate_s_with_the_prices_it_rests_on(full_pages, full, code):
    language = language_of(priced(code).offer)
    say = language.say
    text = words(sections(full_pages[code])[say("money")])
    figures = full.money.figures
    shown = {
        "net present value": lambda value: language.amount(value, "EUR"),
        "internal rate of return": lambda value: language.percent(value, 1),
        "levelised cost of energy": lambda value: language.amount(value, "EUR", 3),
        "simple payback": lambda value: say("years value", value=language.number(value, 1)),
        "discounted payback": lambda value: say("years value", value=language.number(value, 1)),
    }
    for name, write in shown.items():
        likely, cautious = (write(figures.loc[name, which]) for which in ("likely", "cautious"))
        assert f"{say(name)} {likely} {cautious}" in text
    for key in ("money said", "real money", "bound money", "prices", "not promised prices"):
        assert say(key) in words("".join(sheets(full_pages[code])))
    assert say("no own use") not in text
    alone_sold = Estimate(full.data.assign_attrs(has_load=0))
    assert say("no own use") in words(str(money_block(alone_sold, priced(code), language)))
    likely, cautious = full.money.curtailing.loc["first year"]
    saved = {"likely": language.amount(likely, "EUR"), "cautious": language.amount(cautious, "EUR")}
    assert say("curtailing", **saved) in text


def test_prices_are_told_as_the_offer_states_them():
    rows = price_rows(priced("en"), language_of(priced("en").offer), True)
    assert [f"{what}: {said}".replace("\u00a0", " ") for what, said in rows] == [
        "Price of the plant: 24,000 EUR, paid before the first year",
        "Power bought: 0.32 EUR/kWh in the first year, then +2 % a year",
        "Power fed in: noon (11:00–14:00): −0.01 EUR/kWh; other hours (0:00–11:00, 14:00–24:00): "
        "0.079 EUR/kWh in every year",
        "Hours of the prices: Europe/Rome",
        "Running costs: 240 EUR in the first year, then +1.5 % a year",
        "Replacement: inverter after year 13: 2,600 EUR at the first year's prices, then changing "
        "like running costs",
        "Discount rate: 3 % a year, real, beside inflation of 2 %",
        "Tax: 25 % of what is fed in, after costs and the plant's price written off over 20 years; "
        "a loss is credited",
        "Life: 25 years, money counted at the end of each",
    ]
    plain = priced(
        "en",
        feed_in={"price_per_kwh": 0.07865},
        zone=None,
        growth={"feed_in_percent": -1},
        discount={"rate_percent": 4, "kind": "nominal"},
        tax={"rate_percent": 25, "written_off_over_years": 20, "on_self_use": True},
    )
    said = dict(price_rows(plain, language_of(plain.offer), False))
    assert "Power bought" not in said
    assert "Hours of the prices" not in said
    assert said["Power fed in"] == "0.07865\u00a0EUR/kWh in the first year, then −1\u00a0% a year"
    assert said["Discount rate"] == "4\u00a0% a year, nominal"
    assert said["Tax"].startswith("25\u00a0% of what is fed in and used, after costs")
    untaxed = plain.variant({"offer.tax": None, "offer.outlay": 29900.5})
    whole = price_rows(untaxed, language_of(plain.offer), False)[0]
    assert whole == ("Price of the plant", "29,900.50\u00a0EUR, paid before the first year")
    assert dict(price_rows(untaxed, language_of(plain.offer), False))["Tax"] == "None is reckoned."


def test_when_a_price_holds_is_told_by_months_days_and_hours():
    german = language_of(priced("de").offer)
    often = TariffPeriod(
        name="day",
        price_per_kwh=0.3,
        months=(9, 4, 5, 6, 12),
        days=("mon", "tue", "wed", "fri", "sat"),
        hours=((6, 12), (14, 22)),
    )
    assert when_told(often, german) == (
        "April–Juni, September, Dezember, Mo–Mi, Fr, Sa, 6:00–12:00, 14:00–22:00"
    )
    assert when_told(TariffPeriod(name="all", price_per_kwh=0.3), german) == ""


def told_of_money(data):
    site = priced("en")
    return words(str(money_block(Estimate(data), site, language_of(site.offer))))


def test_what_has_no_number_is_said_in_words(full):
    data = full.data
    late = data.assign(payback_years=data["payback_years"] * np.inf)
    assert "Paid back after not within 25 years not within 25 years" in told_of_money(late)
    name = "Return a year (internal rate)"
    for sign, word in ((-np.inf, "a loss"), (np.inf, "a gain")):
        endless = data.assign(internal_rate=data["internal_rate"] * 0.0 + sign)
        assert f"{name} none: {word} at any rate none: {word} at any rate" in told_of_money(endless)
    several = data.assign_attrs(several_rates_percent=40.0)
    assert f"{name} several: none is told several: none is told" in told_of_money(several)
    dark = data.assign(levelised_cost=data["levelised_cost"] * np.inf)
    assert "over its life none: no energy none: no energy" in told_of_money(dark)
    assert "nan" not in told_of_money(data).lower()
