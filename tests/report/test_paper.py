"""The report on paper: printed within a minute, with its words."""

import re
import subprocess
import time

import numpy as np
import pytest
from matplotlib.image import imread

import yieldkit
from tests.oracles import require
from tests.report.browser import print_pdf
from tests.report.pages import page_in_process, proposal_in_process

pytestmark = pytest.mark.slow

FOOT = 0.95
"""Share of a page above its numbers."""


@pytest.fixture(scope="module")
def printed(comparison, june, tmp_path_factory):
    """Return both reports on paper, and the seconds that printing the first took."""
    require("chromium")
    few = yieldkit.Constraints(shortest=7, longest=14)
    ranking = yieldkit.propose(comparison.site, few, june)
    folder = tmp_path_factory.mktemp("paper")
    with pytest.MonkeyPatch.context() as patch:
        (folder / "compare.html").write_text(page_in_process(patch, comparison), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        (folder / "propose.html").write_text(proposal_in_process(patch, ranking), encoding="utf-8")
    begun = time.monotonic()
    print_pdf(folder / "compare.html", folder / "compare.pdf")
    took = time.monotonic() - begun
    print_pdf(folder / "propose.html", folder / "propose.pdf")
    return folder, took


def pages_of(pdf):
    """Return the text of every page."""
    told = subprocess.run(
        [require("pdftotext"), "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    )
    return told.stdout.split("\f")[:-1]


def fill_of(pdf):
    """Return for every page the share of its height, margins aside, down to its lowest ink."""
    folder = pdf.with_suffix("")
    folder.mkdir()
    subprocess.run(
        [require("pdftoppm"), "-r", "40", "-gray", "-png", str(pdf), f"{folder}/page"], check=True
    )
    found = []
    for path in sorted(folder.glob("*.png")):
        drawn = imread(path)
        top, foot = round((1.0 - FOOT) * len(drawn)), round(FOOT * len(drawn))
        inked = np.flatnonzero((drawn[top:foot] < 0.9).any(axis=1))
        found.append((inked.max() + 1) / (foot - top))
    return found


def test_report_prints_within_a_minute_and_keeps_its_words(printed, comparison):
    folder, took = printed
    assert took < 60.0
    pages = pages_of(folder / "compare.pdf")
    assert f"'{comparison.best}' yields most" in pages[0]
    assert "Is it allowed?" in pages[0]
    text = " ".join(pages)
    assert "Live in daylight." in text
    assert 8 <= len(pages) <= 17
    assert re.search(r"Made by yieldkit on \d{4}-\d\d-\d\d", text)


@pytest.mark.parametrize("report", ["compare", "propose"])
def test_no_page_but_the_last_is_left_half_empty(printed, report):
    pdf = printed[0] / f"{report}.pdf"
    filled = fill_of(pdf)
    assert len(filled) >= 5
    assert min(filled[:-1]) >= 0.65, [f"{each:.2f}" for each in filled]
    # No heading stands alone at a page's foot.
    html = pdf.with_suffix(".html").read_text(encoding="utf-8")
    heads = re.findall(r"<h2[^>]*>(.*?)</h2>", html)
    for text in pages_of(pdf):
        last = [line.strip() for line in text.splitlines() if line.strip()][-2]
        assert last not in heads
