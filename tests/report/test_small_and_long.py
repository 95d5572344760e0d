"""Long names, other scripts, a phone's width and paper: what report and pictures make of them."""

import html
import json
import re
import subprocess
from dataclasses import replace

import pytest
from matplotlib.patches import Rectangle

import yieldkit
from tests.oracles import require
from tests.report.browser import in_browser
from tests.report.pages import page_in_process, seen
from tests.study.sites import demo, demo_mapping, variant, weather
from yieldkit.base.files import safe_cell
from yieldkit.report.figures import fonts
from yieldkit.report.figures import string_diagram as diagram
from yieldkit.report.figures.picture import Picture, fitted, label, new_figure
from yieldkit.report.tables.html import verdict_box
from yieldkit.report.tables.ranking import answer_box
from yieldkit.study.ranking.proposal import weigh

pytestmark = pytest.mark.slow

LONG = "Westdachflaeche" * 13
KANJI = "\u5c4b\u6839"


def renamed(names):
    """Return the demonstration with its planes called so."""
    content = demo_mapping()
    old = [plane["name"] for plane in content["planes"]]
    new = dict(zip(old, names, strict=True))
    planes = [{**plane, "name": new[plane["name"]]} for plane in content["planes"]]

    def string(each):
        groups = [{**group, "plane": new[group["plane"]]} for group in each["groups"]]
        return {**each, "groups": groups}

    wirings = [
        {
            "name": f"{number}{LONG}"[:200],
            "trackers": [
                {**tracker, "strings": [string(each) for each in tracker["strings"]]}
                for tracker in wiring["trackers"]
            ],
        }
        for number, wiring in enumerate(content["wirings"])
    ]
    return variant({"site.name": "L" * 200}, wirings=wirings, planes=planes)


@pytest.fixture(scope="module")
def days():
    return weather().isel(time=slice(3600, 4200))


@pytest.fixture(scope="module")
def page(days):
    """Return the report of a site with long names; the pictures are left out."""
    site = renamed([f"{LONG}a"[-200:], f"{LONG}b"[-200:], KANJI])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Picture, "strips", lambda self: [b""])
        return page_in_process(patch, yieldkit.compare(site, days))


def measured(page, width):
    """Return a page's width in a window [px], the heads it shows, its narrowest picture [px]."""
    free = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    frame = (
        "<!DOCTYPE html><body style='margin:0'>"
        f"<iframe id=f width={width} height=800 style='border:0' srcdoc=\"{html.escape(free)}\">"
        "</iframe><script>onload=()=>{const d=document.getElementById('f').contentDocument;"
        "const heads=d.querySelectorAll('thead');document.title=d.documentElement.scrollWidth+' '+"
        "[...heads].filter(h=>getComputedStyle(h).display!='none').length+' '+"
        "Math.round(Math.min(...[...d.querySelectorAll('figure img')].map(i=>i.offsetWidth)))}"
        "</script>"
    )
    dumped = in_browser(frame, "--dump-dom", "--virtual-time-budget=6000")
    return tuple(map(int, re.search(r"<title>(\d+) (\d+) (\d+)</title>", dumped).groups()))


def test_a_phone_shows_rows_stacked_and_nothing_wider_than_itself(page):
    width, heads, picture = measured(page, 390)
    assert width <= 390
    # Pictures are 7.4 inches wide: their 7 point letters keep at least 10 dots.
    assert picture * 7.0 / 72.0 / 7.4 >= 10.0
    assert "Wider than the screen: move it sideways." in page
    assert heads == 0
    parsed = seen(page)
    assert len(parsed.all("td")) > 100
    assert all(attrs.get("data-head") for attrs in parsed.all("td"))


def test_long_names_dont_widen_the_page_on_a_desk(page):
    width, heads, _ = measured(page, 1200)
    assert width <= 1200
    assert heads >= 9


def test_paper_has_numbered_pages_with_a_short_title(page, tmp_path):
    out = tmp_path / "page.pdf"
    in_browser(page, f"--print-to-pdf={out}", "--no-pdf-header-footer")
    told = subprocess.run(
        [require("pdftotext"), "-layout", str(out), "-"],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    ).stdout.split("\f")[:-1]
    assert len(told) >= 3
    for number, text in enumerate(told, start=1):
        assert f"{number} of {len(told)}" in text
        assert "Comparison of wirings" in text


@pytest.mark.parametrize(
    "names", [(LONG, f"{LONG}2", f"{LONG}3"), (KANJI * 60, f"{KANJI}a" * 30, "\u043a" * 90)]
)
def test_no_name_overprints_the_modules_or_leaves_the_picture(names):
    site = renamed(names)
    for wiring in site.wirings:
        figure = diagram.strings_picture(site, wiring).figure
        Picture(figure, "", "").png()
        axes = figure.axes[0]
        renderer = figure.canvas.get_renderer()
        modules = [patch for patch in axes.patches if isinstance(patch, Rectangle)]
        left = min(p.get_window_extent(renderer).x0 for p in modules if p.get_x() > 1.6)
        for text in axes.texts:
            box = text.get_window_extent(renderer)
            assert box.x1 <= figure.bbox.x1 + 1.0, text.get_text()
            if re.match(r"\d+ ", text.get_text()):
                assert box.x1 <= left, text.get_text()


def test_a_text_is_cut_to_the_room_there_is():
    assert fitted("short", 2.0) == "short"
    cut = fitted("x" * 200, 1.0)
    assert cut.endswith("…")
    assert fonts.inches(cut, 7.0) <= 1.0 < fonts.inches("x" * 200, 7.0)
    assert fitted("a $x", 2.0) == r"a \$x"


def test_signs_that_no_font_has_are_said_and_those_of_another_font_drawn_with_it(monkeypatch):
    assert label("крыша") == "крыша"
    known = {"\u5c4b": None, "\u6839": "Invented Sans"}
    real = fonts.family_with
    monkeypatch.setattr(fonts, "family_with", lambda sign: known.get(sign, real(sign)))
    assert label(f"{KANJI} 1") == "U+5C4B \u6839 1"
    assert fonts.families("a\u6839") == [fonts.OURS, "Invented Sans"]


def test_every_text_of_a_picture_gets_the_fonts_it_needs(monkeypatch):
    figure = new_figure(1.0)
    axes = figure.add_subplot()
    axes.set_title("plain")
    monkeypatch.setattr(
        "yieldkit.report.figures.picture.families", lambda text: [fonts.OURS, "DejaVu Serif"]
    )
    Picture(figure, "", "").png()
    assert axes.title.get_fontfamily() == [fonts.OURS, "DejaVu Serif"]


@pytest.mark.parametrize("sign", ["\uff1d", "\uff0b", "\uff0d", "\uff20", "=", "@"])
def test_signs_that_begin_formulas_are_quoted_also_in_full_width(sign):
    assert safe_cell(f"{sign}1+1") == f"'{sign}1+1"
    assert safe_cell(f" {sign}A1").startswith("'")


def test_what_is_not_checked_stands_in_the_first_box(days):
    quality = json.loads(days.attrs["quality"]) | {"cautions": ["Half is assumed.", "A < B."]}
    told = days.assign_attrs(quality=json.dumps(quality))
    comparison = yieldkit.compare(demo(), told)
    box = verdict_box(comparison).text
    ranking = yieldkit.propose(demo(), yieldkit.Constraints(shortest=7, longest=20), told)
    known = "How sure is the weather?"
    for text in (box, answer_box(weigh(ranking, 2, draws=0)).text):
        assert "What is NOT CHECKED?" in text
        assert "residual current device; bonding conductor; surge protective device" in text
        assert f"{known} Half is assumed. A &lt; B." in " ".join(
            re.sub(r"<[^>]*>", " ", text).split()
        )
    assert known not in verdict_box(replace(comparison, weather=days)).text
