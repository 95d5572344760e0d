"""Colour and hatching mean a plane and nothing else, in every picture of both reports."""

from types import SimpleNamespace

import matplotlib.colors
import pytest
from matplotlib.collections import Collection
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.text import Text

import yieldkit
from tests.report.pages import page_in_process, proposal_in_process
from yieldkit.report.figures import budget as figures_budget
from yieldkit.report.figures import curves as figures_curves
from yieldkit.report.figures import operating_points as figures_points
from yieldkit.report.figures.picture import Picture, plane_looks
from yieldkit.study.comparison.curves import moment_curves, telling_moments

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def pictures(comparison, june):
    """Return every picture of the two reports of the demonstration, by its caption."""
    found = {}

    def kept(self):
        found[self.caption] = self.figure
        return [b""]

    few = yieldkit.Constraints(shortest=7, longest=14)
    ranking = yieldkit.propose(comparison.site, few, june)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Picture, "strips", kept)
        page_in_process(patch, comparison)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Picture, "strips", kept)
        proposal_in_process(patch, ranking)
    return found


def colours(artist):
    """Return what an artist is drawn with."""
    if isinstance(artist, Patch):
        return [artist.get_facecolor(), artist.get_edgecolor()]
    if isinstance(artist, Line2D):
        line = [] if artist.get_linestyle() == "None" else [artist.get_color()]
        marks = [artist.get_markerfacecolor(), artist.get_markeredgecolor()]
        return line + ([] if artist.get_marker() in ("None", "", None) else marks)
    if isinstance(artist, Text):
        return [artist.get_color()]
    if isinstance(artist, Collection):
        return [*artist.get_facecolor(), *artist.get_edgecolor()]
    return []


def is_coloured(colour):
    """Return whether a colour is none of black, greys and white."""
    red, green, blue, shown = matplotlib.colors.to_rgba(colour)
    return shown > 0.0 and max(red, green, blue) - min(red, green, blue) > 0.05


def test_what_has_a_colour_is_a_plane(pictures, site):
    looks = {
        (matplotlib.colors.to_hex(each["facecolor"]), each["hatch"])
        for each in plane_looks(site).values()
    }
    assert len(pictures) >= 20
    with_planes = set()
    for caption, figure in pictures.items():
        for artist in figure.findobj():
            if not any(map(is_coloured, colours(artist))):
                continue
            assert isinstance(artist, Patch), caption
            face = matplotlib.colors.to_hex(artist.get_facecolor())
            assert (face, artist.get_hatch() or "") in looks, caption
            with_planes.add(caption)
        for image in (each for axes in figure.axes for each in axes.images):
            assert image.get_cmap().name == "Greys", caption
    assert {caption.split(":")[0] for caption in with_planes} >= {"String layout"}
    assert any("The strings of" in each or "strings" in each for each in with_planes)
    assert len(with_planes) == len(site.wirings) + 2


def test_bars_of_wirings_have_numbers(comparison):
    names = [name for name, _ in comparison.results]
    keyed = [f"{number}  {name}" for number, name in enumerate(names, start=1)]
    budget = figures_budget.budget_picture(comparison).figure
    assert [text.get_text() for text in budget.legends[0].get_texts()] == keyed
    for number in (1, 2, 3, 4):
        assert any(text.get_text().endswith(f"({number})") for text in budget.axes[0].texts)
    months = figures_budget.monthly_picture(comparison).figure
    assert {"1", "2", "3", "4"} <= {text.get_text() for text in months.axes[0].texts}
    base = comparison.reference()
    apart = figures_budget.difference_picture(comparison).figure
    others = [each for each in keyed if not each.endswith(base)]
    assert [text.get_text() for text in apart.legends[0].get_texts()] == others


def test_lines_of_inputs_and_strings_differ_without_colour(comparison):
    wiring = comparison.site.wirings[0]
    step = telling_moments(comparison.prepared)["brightest"]
    own = moment_curves(comparison.prepared, wiring, "MPPT 1", {"brightest": step})
    curves = figures_curves.curves_picture(comparison, wiring.name, own)
    power = curves.figure.axes[1]
    assert [text.get_text() for text in power.texts] == ["1", "2"]
    days = comparison.details().days
    one_day = figures_points.days_picture(comparison, wiring.name, days).figure.axes[0]
    looks = [(line.get_marker(), line.get_linewidth()) for line in one_day.lines]
    assert len(set(looks)) == len(looks) == 4


def test_numbers_of_equal_strings_stand_side_by_side():
    axes = SimpleNamespace(told=[])
    axes.annotate = lambda text, at, off, **more: axes.told.append((text, off[0]))
    power = figures_curves.np.array([[0.0, 0.0, 0.0], [2.0, 2.0, 1.0]])
    figures_curves._numbers(axes, figures_curves.np.array([1.0, 2.0]), power)
    assert axes.told == [("1", 0), ("2", 7), ("3", 0)]
