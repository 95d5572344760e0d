"""Names that hold markup, script, formulas or dollar signs stay text wherever they are shown."""

import csv
import io
import re

import pytest

from tests.report.browser import in_browser
from tests.report.hostile import HIT, PAYLOADS, chunks, hostile_site
from tests.report.pages import page_in_process, seen
from yieldkit.report.figures import budget as figures_budget
from yieldkit.report.figures import curves as figures_curves
from yieldkit.report.figures import operating_points as figures_points
from yieldkit.report.figures import voltages as figures_voltage
from yieldkit.report.figures.picture import Picture
from yieldkit.report.figures.string_diagram import strings_picture
from yieldkit.report.markup import escape
from yieldkit.report.tables.findings_terminal import findings_text
from yieldkit.report.tables.terminal import result_text
from yieldkit.report.tables.terminal_comparison import comparison_text
from yieldkit.study.comparison.compare import compare
from yieldkit.study.comparison.curves import moment_curves
from yieldkit.study.results.comparison import save_comparison

pytestmark = pytest.mark.slow

TAGS = re.compile(
    "html|head|meta|title|style|body|main|div|h[12]|p|a|b|ul|li|dl|dt|dd|table|caption|thead|tbody|"
    "tr|th|td|figure|figcaption|img|nav|footer|strong"
)
ATTRIBUTES = re.compile(
    "lang|charset|http-equiv|content|name|class|id|href|scope|alt|src|width|height|aria-label|"
    "tabindex|role|data-head"
)
NUMBERS = range(len(chunks()))


@pytest.fixture(scope="module")
def hostile(site, june):
    """Return a comparison for every bundle of hostile names."""
    weather = june.copy()
    found = []
    for name in chunks():
        weather.attrs.update({"title": name, "source": name, "attribution": name})
        found.append(compare(hostile_site(site, name), weather))
    return found


@pytest.fixture(scope="module")
def pages(hostile):
    """Return the report of every bundle; the pictures' points are left out, their words stay."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Picture, "strips", lambda self: [b""])
        return [page_in_process(patch, comparison) for comparison in hostile]


def test_thirty_payloads_are_tried_in_every_text():
    assert len(PAYLOADS) == len(set(PAYLOADS)) == 30
    assert "".join(chunks()) == "".join(PAYLOADS)


@pytest.mark.parametrize("number", NUMBERS)
def test_the_page_holds_only_our_own_markup(number, pages):
    parsed = seen(pages[number])
    tags = {tag for tag, _ in parsed.tags}
    attributes = {name for _, attrs in parsed.tags for name in attrs}
    assert {tag for tag in tags if not TAGS.fullmatch(tag)} == set()
    assert {name for name in attributes if not ATTRIBUTES.fullmatch(name)} == set()
    assert {attrs["href"][0] for attrs in parsed.all("a")} == {"#"}
    assert all(attrs["src"].startswith("data:image/png;base64,") for attrs in parsed.all("img"))
    assert len(parsed.all("h1")) == 1


@pytest.mark.parametrize("number", NUMBERS)
def test_the_names_are_shown_as_they_were_written(number, pages, hostile):
    parsed = seen(pages[number])
    text = "".join(parsed.texts)
    name = chunks()[number]
    assert f"Which wiring? {name}" in text
    for wiring in hostile[number].site.wirings:
        assert wiring.name in text
    assert any(name in attrs["alt"] for attrs in parsed.all("img"))


@pytest.mark.parametrize("number", NUMBERS)
def test_nothing_runs_in_a_browser_even_without_the_policy(number, pages):
    page = pages[number]
    bare = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    assert len(bare) < len(page)
    shown = in_browser(bare, "--dump-dom", "--virtual-time-budget=2000")
    assert "<title>Comparison of wirings</title>" in shown
    assert "<footer>" in shown


def test_the_browser_would_have_run_them():
    page = f"<!DOCTYPE html><title>calm</title><p>{PAYLOADS[1]}</p>"
    flags = ("--dump-dom", "--virtual-time-budget=2000")
    assert "<title>hit</title>" in in_browser(page, *flags)
    calm = page.replace(PAYLOADS[1], escape(PAYLOADS[1]))
    assert "<title>calm</title>" in in_browser(calm, *flags)
    assert HIT in calm.replace("&#x27;", "'")


@pytest.mark.parametrize("number", NUMBERS)
def test_figures_draw_names_as_text(number, hostile):
    comparison = hostile[number]
    wiring = comparison.site.wirings[1]
    step = {"noon": 12}
    curves = moment_curves(comparison.prepared, wiring, wiring.trackers[0].mppt, step)
    for picture in (
        strings_picture(comparison.site, wiring),
        figures_budget.monthly_picture(comparison),
        figures_points.operating_points_picture(comparison, wiring.name),
        figures_curves.curves_picture(comparison, wiring.name, curves),
        figures_voltage.voltages_picture(comparison),
    ):
        assert picture.png().startswith(b"\x89PNG")


@pytest.mark.parametrize("number", NUMBERS)
def test_saved_tables_hold_no_formula(number, hostile, tmp_path):
    for path in save_comparison(hostile[number], tmp_path):
        if path.suffix != ".csv":
            continue
        for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"))):
            for cell in row:
                plain_number = re.fullmatch(r"-?[\d.]+(e[-+]?\d+)?", cell)
                assert plain_number or not cell.lstrip().startswith(("=", "+", "-", "@")), cell


def test_text_for_a_terminal_is_plain(hostile):
    for comparison in hostile:
        shown = [
            comparison_text(comparison),
            result_text(comparison.results[0][1]),
            findings_text(dict(comparison.findings)),
        ]
        for text in shown:
            assert all(sign.isprintable() or sign == "\n" for sign in text)
