"""The customer's pages on paper, on a telephone, and with names that would do harm."""

import html
import re
import subprocess
from collections import Counter

import numpy as np
import pytest
from matplotlib.image import imread

from tests.oracles import require
from tests.report.browser import in_browser
from tests.report.hostile import PAYLOADS, chunks, hostile_site
from tests.report.offers import (
    PRICED,
    offered,
    page_of_offer,
    priced,
    priced_estimate,
    sheets,
    words,
)
from tests.report.pages import seen
from tests.report.test_hostile_names import ATTRIBUTES, TAGS
from yieldkit.report.figures.picture import new_figure
from yieldkit.report.offer.style import SHEET_STYLE
from yieldkit.report.page.paper import print_page
from yieldkit.report.words.language import LANGUAGES
from yieldkit.study.estimate.money_result import FIGURES
from yieldkit.study.estimate.result import Estimate

pytestmark = pytest.mark.slow

A4_PT = (595.0, 842.0)
MARGIN_PT, FOOT_PT = 36.0, 14.0
"""Printers reach to 5 mm from the edge, 14 pt."""
ENGLISH_RETURNS = ("present value", "rate of return", "levelised", "payback")
LINE_OF_8_PT = 9.0
"""Lower than the box of any letter of 8 points: DejaVu Sans has 1.16 times its size."""
DRAWN = re.compile("article|section|header|span|h3|svg|rect|line|tfoot|h2")
SHAPES = re.compile(
    "viewbox|preserveaspectratio|aria-hidden|x|y|x1|x2|y1|y2|height|width|class|lang"
)


@pytest.fixture(scope="module")
def found():
    return priced_estimate()


@pytest.fixture(scope="module")
def pages(found):
    """Return the page in every language."""
    return {code: page_of_offer(priced(code), found) for code in LANGUAGES}


@pytest.fixture(scope="module")
def papers(pages, tmp_path_factory):
    """Return the PDF of every language."""
    require("chromium")
    folder = tmp_path_factory.mktemp("paper")
    for code, page in pages.items():
        (folder / f"{code}.html").write_text(page, encoding="utf-8")
        print_page(folder / f"{code}.html", folder / f"{code}.pdf")
    return {code: folder / f"{code}.pdf" for code in pages}


def boxes(pdf):
    """Return the size of each page, and its words with their boxes [pt]."""
    told = subprocess.run(
        [require("pdftotext"), "-bbox", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    found = []
    for size, body in re.findall(r"<page ([^>]*)>(.*?)</page>", told, re.S):
        places = re.findall(
            r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>',
            body,
        )
        wide, high = map(float, re.findall(r'"([\d.]+)"', size))
        found.append(
            ((wide, high), [(*map(float, each[:4]), html.unescape(each[4])) for each in places])
        )
    return found


@pytest.mark.parametrize("code", LANGUAGES)
def test_two_pages_of_a4_stand_before_the_annex(papers, code):
    printed = boxes(papers[code])
    assert all(size == pytest.approx(A4_PT, abs=1.0) for size, _ in printed)
    text = [" ".join(word[4] for word in own) for _, own in printed]
    assert ["Annex for engineers:" in each for each in text[:3]] == [False, False, True]
    assert 4 <= len(text) <= 9
    assert text[0].split()[-3:] == ["1", "/", str(len(text))]
    # Nothing of the second page, such as the dots of a capital, stands under the signatures.
    first = printed[0][1]
    foot = min(top for _, top, _, _, word in first if word == "/")
    last = max(bottom for *_, bottom, _ in first if bottom < foot)
    said = [LANGUAGES[code][f"signed {who}"] for who in ("customer", "company", "place")]
    assert " ".join(word for *_, bottom, word in first if bottom == last) == " ".join(said)


def test_long_addresses_and_all_that_may_be_said_still_leave_two_pages(found, tmp_path):
    new_figure(0.5).savefig(tmp_path / "logo.png")
    lines = [f"{number} Example Street, back yard" for number in range(1, 6)]
    site = priced(
        "fr",
        logo_file=str(tmp_path / "logo.png"),
        company={"name": "Example Roofs (invented)", "lines": lines},
        customer={"name": "A. Nobody (invented)", "lines": lines[:4]},
    ).variant({"grid.availability_percent": 99, "estimate.outages_percent_by_month": [0.5] * 12})
    years = {"year_to_year": "measured years", "year_to_year_percent": 3.9, "years_averaged": 3}
    page = page_of_offer(site, Estimate(found.data.assign_attrs(years)))
    (tmp_path / "page.html").write_text(page, encoding="utf-8")
    print_page(tmp_path / "page.html", tmp_path / "page.pdf")
    third = " ".join(word[4] for word in boxes(tmp_path / "page.pdf")[2][1])
    assert third.startswith("Annex for engineers:")


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_word_is_lost_cut_or_smaller_than_8_points(papers, pages, code):
    printed = boxes(papers[code])
    on_paper = Counter("".join(word[4] for _, own in printed[:2] for word in own).replace(" ", ""))
    for (wide, high), own in printed:
        for left, top, right, bottom, word in own:
            assert left >= MARGIN_PT, word
            assert right <= wide - MARGIN_PT, word
            assert top >= FOOT_PT, word
            assert bottom <= high - FOOT_PT, word
    for _, own in printed[:2]:
        assert min(bottom - top for _, top, _, bottom, _ in own) >= LINE_OF_8_PT
    shown = re.sub(r"\s", "", "".join(words(sheet) for sheet in sheets(pages[code])))
    # Every sign of the page is on paper, beside what the browser puts at the foot of each page.
    assert not Counter(shown) - on_paper


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_word_of_return_stands_on_a_page_without_its_prices(papers, code):
    said = LANGUAGES[code]
    returns = [said[key] for key in FIGURES]
    rests = [said["prices"], said["outlay"], said["purchase"], said["feed in"], said["discount"]]
    told = 0
    for _, own in boxes(papers[code]):
        text = " ".join(word[4] for word in own)
        if any(each in text for each in [*returns, *ENGLISH_RETURNS, "EUR"]):
            told += 1
            assert all(each in text for each in rests)
    assert told == 1


@pytest.mark.parametrize("code", ["de"])
def test_in_grey_nothing_is_lost(papers, code, tmp_path):
    command = [require("pdftoppm"), "-r", "40", "-l", "2", "-png", str(papers[code])]
    subprocess.run([*command, str(tmp_path / "page")], check=True)
    for path in sorted(tmp_path.glob("*.png")):
        drawn = imread(path)[:, :, :3]
        assert float(np.ptp(drawn, axis=2).max()) < 0.05


def luminance(colour):
    """Return the relative luminance of a colour (WCAG 2.1, 1.4.3; from memory)."""
    parts = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.03928 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_letters_and_bars_stand_out(pages):
    colours = dict(re.findall(r"--(\w+): (#\w{6})", pages["en"]))
    assert min(contrast(colours[name], colours["wash"]) for name in ("ink", "soft")) >= 7.0
    bars = dict(re.findall(r"\.(bar-\w+)[^{]*{ (?:fill|stroke): (#\w{6})", SHEET_STYLE))
    assert contrast(bars["bar-likely"], "#ffffff") >= 1.5
    assert contrast(bars["bar-cautious"], bars["bar-likely"]) >= 7.0
    assert contrast(bars["bar-alone"], bars["bar-likely"]) >= 4.5
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


def in_frames(pages, width, ask):
    """Open pages in frames of a browser, their policies taken off; return what a script finds."""
    bare = [re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", p) for p in pages]
    assert all(len(b) < len(p) for b, p in zip(bare, pages, strict=True))
    frames = "".join(
        f'<iframe width={width} height=900 style="border:0" srcdoc="{html.escape(page)}"></iframe>'
        for page in bare
    )
    script = (
        "onload=()=>{document.body.dataset.found=[...document.querySelectorAll('iframe')]"
        f".map(f=>({ask})(f.contentDocument)).join('|')}}"
    )
    head = "<!DOCTYPE html><title>calm</title><body style='margin:0'>"
    frame = f"{head}{frames}<script>{script}</script>"
    shown = in_browser(frame, "--dump-dom", "--virtual-time-budget=4000")
    return shown, re.search(r'data-found="([^"]*)"', shown)[1].split("|")


def test_a_telephone_shows_all_without_moving_sideways(pages):
    wide = pages["de"].replace("</h1>", "<p style='width:400px'>x</p></h1>", 1)
    ask = "d=>d.documentElement.scrollWidth-d.documentElement.clientWidth"
    _, over = in_frames([*pages.values(), wide], 390, ask)
    assert [int(each) for each in over[:-1]] == [0] * len(LANGUAGES)
    assert int(over[-1]) > 0


@pytest.fixture(scope="module")
def hostile(found):
    """Return pages of every bundle of payloads in every language, with it in every name."""
    pages = {}
    for code in LANGUAGES:
        for name in chunks():
            party = {"name": name, "lines": [name]}
            periods = [
                own | {"name": f"{name} {number}"}
                for number, own in enumerate(PRICED["feed_in"]["periods"])
            ]
            named = PRICED | {
                "company": party,
                "customer": party,
                "number": name,
                "feed_in": {"periods": periods},
                "replacements": [{"what": name, "after_year": 9, "cost": 2600}],
            }
            site = offered(code, hostile_site(priced(code), name), **named)
            keys = ("chosen", "weather_title", "weather_source", "weather_attribution")
            attrs = dict.fromkeys((*keys, "not_checked", "weather_cautions", "site"), name)
            data = found.data.assign_attrs(attrs, wiring=site.wirings[0].name)
            pages[code, name] = page_of_offer(site, Estimate(data))
    return pages


def test_thirty_payloads_stay_text_in_every_language(hostile):
    assert len(PAYLOADS) == 30
    for (_, name), page in hostile.items():
        parsed = seen(page)
        tags = {tag for tag, _ in parsed.tags if not TAGS.fullmatch(tag)}
        assert {tag for tag in tags if not DRAWN.fullmatch(tag)} == set()
        keys = {key for _, attrs in parsed.tags for key in attrs if not ATTRIBUTES.fullmatch(key)}
        assert {key for key in keys if not SHAPES.fullmatch(key)} == set()
        assert "".join(parsed.texts).count(name) >= 10


def test_no_payload_runs_in_a_browser_even_without_the_policy(hostile, pages):
    """One that is planted in a page runs in the same frames."""
    planted = pages["en"].replace("</h1>", f"</h1>{PAYLOADS[1]}", 1)
    shown, titles = in_frames([*hostile.values(), planted], 800, "d=>d.title")
    assert titles == [*(LANGUAGES[code]["title"] for code, _ in hostile), "hit"]
    assert "<title>calm</title>" in shown
