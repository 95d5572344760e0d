"""Names of 200 wide letters: no text leaves its picture, no two titles overlap."""

import numpy as np
import pytest
from matplotlib.text import Text

import yieldkit
from tests.report.pages import page_in_process, proposal_in_process
from tests.study.sites import demo_mapping, variant, weather
from yieldkit.report.figures import operating_points
from yieldkit.report.figures.picture import Picture

pytestmark = pytest.mark.slow

WIDE = "W" * 199


def with_wide_names():
    """Return the demonstration with names as wide as can be for planes, inputs and wirings."""
    content = demo_mapping()
    names = [each["name"] for each in [*content["planes"], *content["inverter"]["mppts"]]]
    new = {name: f"{number}{WIDE}" for number, name in enumerate(names)}

    def renamed(part):
        if isinstance(part, dict):
            return {key: renamed(each) for key, each in part.items()}
        if isinstance(part, list | tuple):
            return [renamed(each) for each in part]
        return new.get(part, part) if isinstance(part, str) else part

    wirings = [
        {**each, "name": f"{number}{WIDE}"} for number, each in enumerate(content["wirings"])
    ]
    inverter = renamed(content["inverter"])
    return variant(
        {"inverter": inverter}, wirings=renamed(wirings), planes=renamed(content["planes"])
    )


@pytest.fixture(scope="module")
def figures():
    """Return the figures of both reports of such a site, drawn."""
    days = weather().isel(time=slice(3600, 3800))
    site = with_wide_names()
    few = yieldkit.Constraints(shortest=7, longest=14)
    found = []

    def kept(self):
        self.png()
        found.append(self)
        return [b""]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Picture, "strips", kept)
        page_in_process(patch, yieldkit.compare(site, days))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Picture, "strips", kept)
        proposal_in_process(patch, yieldkit.propose(site, few, days), draws=4)
    return found


def test_no_text_leaves_its_picture(figures):
    assert len(figures) >= 20
    for picture in figures:
        frame, renderer = picture.figure.bbox, picture.figure.canvas.get_renderer()
        for text in picture.figure.findobj(lambda each: isinstance(each, Text)):
            # Figures at ticks beyond an axis's end exist and aren't drawn.
            if not text.get_visible() or not any(map(str.isalpha, text.get_text())):
                continue
            if text.axes is not None and not text.axes.get_visible():
                continue
            box = text.get_window_extent(renderer)
            told = (picture.caption[:40], text.get_text())
            assert box.x0 >= frame.x0 - 2.0, told
            assert box.x1 <= frame.x1 + 2.0, told


def test_titles_side_by_side_keep_apart(figures):
    for picture in figures:
        renderer = picture.figure.canvas.get_renderer()
        titles = [axes.title for axes in picture.figure.axes] + [
            axes._left_title for axes in picture.figure.axes
        ]
        boxes = [
            each.get_window_extent(renderer)
            for each in titles
            if each.get_text() and each.axes.get_visible()
        ]
        for number, box in enumerate(boxes):
            assert not any(box.overlaps(other) for other in boxes[number + 1 :]), picture.caption


def test_days_show_every_hour_with_power():
    times = weather().indexes["time"][:48]
    result = {"p_ac": weather()["ghi"][:48] * 0.0}
    result["p_ac"][[2, 44]] = 5.0
    days = (("one", np.arange(24)), ("other", np.arange(24, 48)))
    first, last = times[[2, 44]].hour
    assert operating_points._hours_with_power(result, times, days) == (
        min(first, last) - 0.5,
        max(first, last) + 1.5,
    )
    assert operating_points._hours_with_power(result, times, ()) == (5.5, 19.5)
