"""The notebook that teaches the public names runs as it stands and shows what they give."""

import html
import re

import nbformat
import pytest

import yieldkit
from tests.house.layers import ROOT
from tests.study.sites import demo

pytestmark = pytest.mark.slow

PATH = ROOT / "notebooks" / "first_steps.ipynb"


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """Return what a person reads after running all cells."""
    path = yieldkit.run_report("first_steps.ipynb", {}, tmp_path_factory.mktemp("steps"))
    text = re.sub(r"<style>.*?</style>|<[^>]*>", " ", path.read_text(encoding="utf-8"))
    return " ".join(html.unescape(text).split())


def test_it_has_fifteen_cells_with_words_before_each():
    cells = nbformat.read(PATH, as_version=4).cells
    kinds = [cell.cell_type for cell in cells]
    assert kinds == ["markdown", "code"] * 15


def test_it_shows_what_the_names_give(page):
    site = demo()
    result = yieldkit.simulate(site)
    assert f"{result.attrs['energy_kwh']:,.0f} kWh a year" in page
    losses = result["loss_budget"].to_series()
    assert f"{losses['conversion']:.1f}" in page
    assert yieldkit.compare(site).verdict in page
    turned = site.variant({"planes.west roof.azimuth_deg": site.planes[0].azimuth_deg + 10.0})
    assert yieldkit.compare(turned).verdict in page
    few = yieldkit.Constraints(shortest=7, longest=14)
    assert f"{len(yieldkit.propose(turned, few).possible.candidates):,} wirings of" in page


def test_it_refuses_brings_back_and_ends_with_the_cautions(page):
    assert "tilt_deg: got 400" in page
    assert "True A design aid and not a certificate" in page or "True" in page
    assert page.index("Live in daylight.") > page.index("Keep it, and mind the cautions")
