"""The page round a notebook: self-contained, with a policy, readable and printable."""

import re

import nbformat
import pytest

from tests.report.pages import page_in_process, seen
from yieldkit.report.figures.picture import (
    HATCHES,
    LINES,
    MARKERS,
    WIDTH,
    Picture,
    label,
    new_figure,
    plane_look,
)
from yieldkit.report.markup import escape, visible
from yieldkit.report.page.page import POLICY, page_of

pytestmark = pytest.mark.slow


def cell(*outputs, source="secret = 1"):
    return nbformat.v4.new_code_cell(source, outputs=list(outputs))


def shown(data):
    return nbformat.v4.new_output("display_data", data)


@pytest.fixture(scope="module")
def page(comparison):
    with pytest.MonkeyPatch.context() as patch:
        return page_in_process(patch, comparison)


def test_page_carries_the_policy_before_anything_else_could_load(page):
    head = page[: page.index("<title>")]
    assert f'http-equiv="Content-Security-Policy" content="{POLICY}"' in head
    assert POLICY.startswith("default-src 'none'; img-src data:; style-src 'unsafe-inline'")


def test_page_loads_nothing_and_runs_nothing(page):
    words = re.sub(r"data:image/png;base64,[A-Za-z0-9+/=]+", "", page)
    assert not re.search(r"https?://|url\(|@import|<script|javascript:", words, re.IGNORECASE)
    assert len(page) < 4_000_000


def test_page_has_a_language_one_heading_and_sections_in_order(page):
    parsed = seen(page)
    assert parsed.all("html") == [{"lang": "en"}]
    assert len(parsed.all("h1")) == 1
    ids = [attrs["id"] for attrs in parsed.all("h2")]
    assert ids == [attrs["href"][1:] for attrs in parsed.all("a")]
    assert len(ids) == 13
    assert page.index("<h1>") < page.index('class="verdict"') < page.index("<h2")


def test_every_picture_says_its_numbers(page):
    # The lower strips of a tall picture have no words of their own.
    pictures = [attrs for attrs in seen(page).all("img") if attrs["alt"]]
    assert len(pictures) >= 20
    for attrs in pictures:
        assert len(attrs["alt"]) > 40
        assert re.search(r"\d", attrs["alt"]), attrs["alt"]
        assert "description" not in attrs["alt"].lower()
        assert int(attrs["width"]) > int(attrs["height"]) * 0.5
    assert page.count("<figcaption>") == len(pictures)


def test_every_table_has_a_caption_and_heads_with_a_scope(page):
    parsed = seen(page)
    heads = parsed.all("th")
    assert len(heads) > 60
    assert {attrs.get("scope") for attrs in heads} == {"col", "row"}
    assert len(parsed.all("caption")) == len(parsed.all("table")) >= 9


def test_page_is_made_for_paper(page):
    assert "@media print" in page
    assert "@page { margin" in page
    assert not re.search(r"[\s;{]size:", page)  # A4 or Letter, as the printer has it
    assert "break-inside: avoid" in page


def test_code_is_left_out_and_the_error_stream_too():
    noise = nbformat.v4.new_output("stream", name="stderr", text="a warning about sockets")
    told = nbformat.v4.new_output("stream", name="stdout", text="said <b>aloud</b>")
    page = page_of(nbformat.v4.new_notebook(cells=[cell(noise, told)]), "T", "run-1")
    assert "secret" not in page
    assert "sockets" not in page
    assert "said &lt;b&gt;aloud&lt;/b&gt;" in page


def test_outputs_that_want_a_script_are_left_out():
    page = page_of(
        nbformat.v4.new_notebook(
            cells=[
                cell(
                    shown({"application/javascript": "alert(1)", "text/plain": "plain <i>"}),
                    shown({"image/svg+xml": "<svg onload='x()'/>"}),
                    shown({"text/html": "<p>kept</p>", "text/plain": "not this"}),
                )
            ]
        ),
        "T",
        "run-1",
    )
    assert "alert(1)" not in page
    assert "<svg" not in page
    assert "plain &lt;i&gt;" in page
    assert "<p>kept</p>" in page
    assert "not this" not in page


def test_the_title_is_escaped_and_the_notebook_left_as_it_was():
    notebook = nbformat.v4.new_notebook(
        cells=[cell(nbformat.v4.new_output("stream", name="stderr", text="x"))]
    )
    page = page_of(notebook, "</title><script>", "run-1")
    assert "<title>&lt;/title&gt;&lt;script&gt;</title>" in page
    assert '<meta name="run" content="run-1">' in page
    assert ", run run-1. A design aid" in page
    assert len(notebook.cells[0].outputs) == 1


def test_escape_and_visible():
    assert escape("<a b=\"x\" c='y'>&") == "&lt;a b=&quot;x&quot; c=&#x27;y&#x27;&gt;&amp;"
    assert visible("a\u202eb\x1b[1mc\u00a0d\te\nf") == "ab[1mc d e f"


@pytest.mark.parametrize(
    "text", ["a $x_{ b$", "$$", "\\$a$", "a\\", "_^{}", "$\\frac{1}{$", "屋根"]
)
def test_labels_are_drawn_as_they_are(text):
    figure = new_figure(1.0)
    axes = figure.subplots()
    axes.set_title(label(text))
    assert Picture(figure, "alt", "caption").png().startswith(b"\x89PNG")


def test_long_labels_are_cut():
    assert label("x" * 50, 10) == "x" * 9 + "…"


def test_planes_and_lines_differ_without_colour():
    looks = [plane_look(index) for index in range(64)]
    assert len({each["hatch"] for each in looks[:8]}) == len(HATCHES) == 8
    assert len({(each["facecolor"], each["hatch"]) for each in looks}) == 64
    assert len(set(MARKERS)) == 8
    assert len(set(LINES)) == 4


def test_a_picture_shows_itself_with_its_words():
    text = Picture(new_figure(2.0), 'two "bars" < 3', "a <caption>")._repr_html_()
    assert 'alt="two &quot;bars&quot; &lt; 3"' in text
    assert "<figcaption>a &lt;caption&gt;</figcaption>" in text
    assert f'width="{round(96 * WIDTH)}" height="192"' in text
